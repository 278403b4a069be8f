"""Dye that diffuses into a coating, against the solutions in Crank's book."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dyecast_calibration.press.dye_uptake import EARLY, dye_uptake
from dyecast_calibration.press.materials import Material
from dyecast_calibration.press.press_stack import BONDED
from stacks import wall, warmed

exposures = st.floats(0.0, 20.0)


def series(exposure: float) -> float:
    """Return the uptake by 2000 terms; Crank 1975, 4.18, with the sheet's half thickness as length."""
    odd = 2.0 * np.arange(2000) + 1.0
    terms = 8.0 / (np.pi * odd) ** 2 * np.exp(-((np.pi * odd / 2.0) ** 2) * exposure)
    return 1.0 - float(np.sum(terms))


def test_half_is_taken_up_at_the_time_crank_gives() -> None:
    """Crank 1975, 10.13 and 10.14: D t / thickness² = 0.04919 for a sheet open on both sides, which is one
    of half the thickness open on one side."""
    assert dye_uptake(4 * 0.04919) == pytest.approx(0.5, abs=1e-4)


@pytest.mark.parametrize("exposure", [1e-3, 0.01, 0.05, 0.19, 0.2, 0.21, 0.5, 1.0, 3.0])
def test_uptake_follows_the_series_of_the_plane_sheet(exposure: float) -> None:
    assert dye_uptake(exposure) == pytest.approx(series(exposure), abs=1e-6)


@given(st.floats(1e-12, 0.19))
def test_at_first_uptake_rises_with_the_square_root_of_time(exposure: float) -> None:
    """Crank 1975, 4.20, first term: 2 √(D t / π) / thickness, good to 1 % up to nearly half."""
    assert dye_uptake(exposure) == pytest.approx(2.0 * np.sqrt(exposure / np.pi), rel=0.01)


@given(exposures, exposures)
def test_more_exposure_means_more_dye(one: float, other: float) -> None:
    less, more = sorted((one, other))
    assert 0.0 <= dye_uptake(less) <= dye_uptake(more) + 1e-9 <= 1.0 + 1e-9


def test_uptake_begins_at_nothing_and_ends_at_saturation() -> None:
    assert dye_uptake(0.0) == 0.0
    assert dye_uptake(50.0) == pytest.approx(1.0, abs=1e-12)


def test_the_two_solutions_meet() -> None:
    around = EARLY + np.array([-1e-9, 1e-9])
    assert np.diff(dye_uptake(around)) == pytest.approx(0.0, abs=2e-8)


def test_a_shape_is_kept_and_what_is_not_a_number_stays_so() -> None:
    assert dye_uptake(np.ones((3, 2))).shape == (3, 2)
    assert np.isnan(dye_uptake(np.nan))


def test_finite_differences_find_the_same_uptake() -> None:
    """Diffusion and conduction share their equation: a sheet with unit properties whose face is held."""
    sheet = Material("sheet", conductivity=1.0, density=1.0, heat_capacity=1.0)
    for exposure in (0.05, 0.2, 0.5, 1.0):
        _, history = warmed(wall(sheet, 1.0, BONDED, 80), np.full(2000, exposure / 2000))
        assert history.heat_in[0] == pytest.approx(float(dye_uptake(exposure)), abs=1e-3)
