"""Since when, how far, and in which manner a process has moved."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from dyecast_calibration.batch.change_point import Pattern, change_point

STEADY_20 = np.zeros(20)
UNIT = np.ones(40)
STEP = np.repeat([0.0, 1.0], 20)
SLIDE = np.concatenate([STEADY_20, np.arange(1, 21) / 20])


def test_a_clean_step_is_found_where_it_happened_with_its_size() -> None:
    change = change_point(2.0 * STEP, UNIT)
    assert (change.index, change.pattern) == (20, Pattern.STEP)
    assert change.size == pytest.approx(2.0)
    assert change.standard_uncertainty == pytest.approx(1 / 20**0.5)


def test_a_clean_slide_is_found_where_it_began_with_the_distance_reached() -> None:
    change = change_point(-4.0 * SLIDE, UNIT)
    assert (change.index, change.pattern) == (20, Pattern.TREND)
    assert change.size == pytest.approx(-4.0)


def test_one_piece_alone_cannot_tell_a_step_from_a_slide() -> None:
    change = change_point(np.concatenate([STEADY_20, [5.0]]), UNIT[:21])
    assert (change.index, change.pattern, change.size) == (20, Pattern.UNCLEAR, 5.0)


def test_a_step_in_noise_is_found_near_its_place_and_its_uncertainty_is_honest() -> None:
    generator = np.random.default_rng(1998)
    places, scores = [], []
    for _ in range(300):
        change = change_point(generator.normal(0, 1, 40) + 3.0 * STEP, UNIT)
        places.append(change.index)
        if change.pattern is Pattern.STEP:
            scores.append((change.size - 3.0) / change.standard_uncertainty)
    assert np.mean(np.abs(np.array(places) - 20) <= 2) > 0.9
    assert len(scores) > 250
    assert np.std(scores) == pytest.approx(1, abs=0.15)


@pytest.mark.parametrize(
    ("shape", "size"), [(STEP, 1.0), (STEP, 2.0), (STEP, 3.0), (SLIDE, 3.0), (SLIDE, 6.0)]
)
def test_the_interval_of_pieces_holds_the_true_one_as_often_as_it_says(
    shape: NDArray[np.float64], size: float
) -> None:
    generator = np.random.default_rng(2006)
    changes = [change_point(generator.normal(0, 1, 40) + size * shape, UNIT) for _ in range(300)]
    held = np.mean([change.earliest_index <= 20 <= change.latest_index for change in changes])
    assert held == pytest.approx(0.97, abs=0.03)


def test_a_well_measured_piece_counts_more() -> None:
    deviations, uncertainties = np.array([1.0, 3.0, 1.0, 3.0]), np.array([0.1, 10.0, 0.1, 10.0])
    assert change_point(deviations, uncertainties).size == pytest.approx(1.0, abs=0.01)


@given(st.lists(st.floats(-5, 5), min_size=1, max_size=25))
def test_up_and_down_are_treated_alike(values: list[float]) -> None:
    up = change_point(np.array(values), np.ones(len(values)))
    down = change_point(-np.array(values), np.ones(len(values)))
    assert (down.index, down.pattern, down.size) == (up.index, up.pattern, -up.size)


@pytest.mark.parametrize("shapes", [((0,), (0,)), ((2,), (3,)), ((2, 2), (2, 2))])
def test_arrays_of_wrong_shape_are_a_mistake_of_the_program(shapes: tuple[tuple[int, ...], ...]) -> None:
    with pytest.raises(ValueError, match="shape"):
        change_point(*(np.ones(shape) for shape in shapes))
