"""The line along which the paper is folded back, from places that speak for and against the picture."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from dyecast_inspect.fold_line import beyond_fold


@given(st.integers(0, 71), st.floats(-12.0, 12.0))
def test_a_straight_fold_is_found_exactly_in_any_direction(step: int, place: float) -> None:
    down, across = np.mgrid[0:40, 0:50] - np.array([19.5, 24.5]).reshape(2, 1, 1)
    angle = step * 2.0 * np.pi / 72
    open_part = np.cos(angle) * across + np.sin(angle) * down > place + 1e-3
    found, evidence = beyond_fold(np.where(open_part, 1.0, -1.0))
    assert (found != open_part).mean() < 0.002
    assert evidence >= open_part.sum() - 4


def test_scattered_wrong_places_do_not_move_the_fold() -> None:
    random = np.random.default_rng(1)
    open_part = np.add.outer(np.arange(40), np.arange(40)) > 45
    evidence = np.where(open_part, 1.0, -1.0) * np.where(random.random((40, 40)) < 0.15, -1.0, 1.0)
    assert (beyond_fold(evidence)[0] != open_part).mean() < 0.02


def test_nothing_speaks_for_the_picture_and_nothing_is_found() -> None:
    found, evidence = beyond_fold(np.full((10, 10), -1.0))
    assert not found.any()
    assert evidence == 0.0


def test_a_picture_that_shows_everywhere_has_no_fold() -> None:
    assert beyond_fold(np.ones((10, 12)))[0].all()
