"""How pressing changes a picture: densities add, fractions scale them, white coating stays white."""

import colour
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dyecast_calibration.pressing_model import (
    BANDS_TO_XYZ,
    DYE_ABSORPTION,
    Pressing,
    bands_from_xyz,
    dye_amounts,
    pressed_bands,
    xyz_from_bands,
)
from dyecast_shared.cielab import D50_WHITE

WHOLE = Pressing(cyan=1.0, magenta=1.0, yellow=1.0, yellowing=0.0)

amounts = st.tuples(*[st.floats(0.0, 1.0)] * 3)
lights = st.tuples(*[st.floats(0.01, 1.0)] * 3)


def test_the_bands_are_the_primaries_of_bt_2020_seen_under_d50() -> None:
    """Recommendation ITU-R BT.2020-2 as colour-science holds it, adapted by Bradford's matrix."""
    published = colour.RGB_COLOURSPACES["ITU-R BT.2020"]
    white = colour.xy_to_XYZ(published.whitepoint)
    adaptation = colour.adaptation.matrix_chromatic_adaptation_VonKries(
        white, np.array([0.96422, 1.0, 0.82521]), transform="Bradford"
    )
    assert np.allclose(BANDS_TO_XYZ, adaptation @ published.matrix_RGB_to_XYZ, atol=5e-4)


def test_white_is_one_in_every_band() -> None:
    assert np.allclose(bands_from_xyz(D50_WHITE), 1.0, atol=1e-3)


@given(lights)
def test_bands_and_xyz_turn_into_each_other_and_back(light: tuple[float, float, float]) -> None:
    assert np.allclose(bands_from_xyz(xyz_from_bands(light)), light, atol=1e-5)


@given(lights)
def test_a_whole_transfer_gives_the_artwork_back(light: tuple[float, float, float]) -> None:
    assert np.allclose(pressed_bands(dye_amounts(light), WHOLE), light, atol=1e-4)


@given(amounts)
def test_twice_the_dye_is_twice_the_density(amount: tuple[float, float, float]) -> None:
    """Beer and Lambert's law."""
    once = -np.log10(pressed_bands(amount, WHOLE))
    twice = -np.log10(pressed_bands(2.0 * np.array(amount), WHOLE))
    assert np.allclose(twice, 2.0 * once, atol=1e-4)


@given(amounts, amounts)
def test_light_through_two_prints_is_the_product_of_both(
    first: tuple[float, float, float], second: tuple[float, float, float]
) -> None:
    together = pressed_bands(np.add(first, second), WHOLE)
    assert np.allclose(together, pressed_bands(first, WHOLE) * pressed_bands(second, WHOLE), rtol=1e-3)


@given(amounts, st.floats(0.2, 1.0))
def test_the_transferred_fraction_scales_the_density(
    amount: tuple[float, float, float], fraction: float
) -> None:
    part = Pressing(fraction, fraction, fraction, 0.0)
    whole = -np.log10(pressed_bands(amount, WHOLE))
    assert np.allclose(-np.log10(pressed_bands(amount, part)), fraction * whole, atol=1e-4)


@pytest.mark.parametrize("fraction", [0.3, 1.0])
def test_bare_coating_stays_white_however_it_is_pressed(fraction: float) -> None:
    bare = pressed_bands([0.0, 0.0, 0.0], Pressing(fraction, fraction, fraction, 0.0))
    assert np.allclose(bare, 1.0)


def test_yellowing_takes_most_from_the_short_band_and_least_from_the_long_one() -> None:
    long_band, middle_band, short_band = pressed_bands([0.0, 0.0, 0.0], Pressing(1.0, 1.0, 1.0, 0.1))
    assert short_band < middle_band < long_band < 1.0
    assert -np.log10(short_band) == pytest.approx(0.05, abs=1e-4)


def test_half_of_the_yellowing_lies_in_the_coating_and_half_comes_with_the_ink() -> None:
    """At a picture's mean ink, 1.2 units of dye, the density in the short band is the one stated."""
    ink = np.array([0.4, 0.4, 0.4])
    scorched = pressed_bands(ink, Pressing(1.0, 1.0, 1.0, 0.1))
    assert np.log10(pressed_bands(ink, WHOLE) / scorched)[2] == pytest.approx(0.1, abs=1e-4)


def test_each_dye_absorbs_most_in_its_own_band() -> None:
    assert (DYE_ABSORPTION.argmax(axis=0) == [0, 1, 2]).all()
    assert (pressed_bands(np.eye(3), WHOLE).argmin(axis=1) == [0, 1, 2]).all()


def test_black_without_any_light_asks_for_a_finite_amount_of_dye() -> None:
    """Density 3 is the most that a print is taken to reach."""
    density = dye_amounts([0.0, 0.0, 0.0]) @ DYE_ABSORPTION.T
    assert np.allclose(density, 3.0, atol=1e-3)
