"""Pressing a pale piece again: cooling costs seconds, what is missing decides, and the risk is told."""

import numpy as np
import pytest

from dyecast_calibration.press.extra_time import ExtraTime, OpenedPress, extra_time
from dyecast_calibration.press.learning import TriedBlank, learned_blank
from dyecast_calibration.press.press_again import CoolingPlace
from dyecast_calibration.press.tried_pressing import TriedPressing
from stacks import USUAL

KELVIN = 466.5


def extra(
    fraction: float, cooling: float, place: CoolingPlace = CoolingPlace.ON_THE_PAD, seconds: float = 70.0
) -> ExtraTime:
    seen = TriedPressing(KELVIN, seconds, ("under-pressed",), fraction, 0.03, graded_by_photo=True)
    learned = learned_blank(TriedBlank(USUAL["glass"], tried=(seen,)))
    opened = OpenedPress(KELVIN, seconds, cooling, place)
    return extra_time(learned, USUAL["glass"], opened, 300.0)


def test_a_piece_that_lacks_more_needs_longer() -> None:
    little, much = extra(0.8, 60.0), extra(0.5, 60.0)
    assert little.latest < much.latest


def test_a_piece_that_cooled_longer_needs_longer_and_warms_up_longer() -> None:
    quick, slow = extra(0.7, 20.0), extra(0.7, 600.0)
    assert quick.coating_temperature > slow.coating_temperature
    assert quick.reheating < slow.reheating
    assert quick.latest < slow.latest


def test_a_board_cools_more_than_the_warm_pad() -> None:
    pad, board = extra(0.7, 120.0), extra(0.7, 120.0, CoolingPlace.ON_A_BOARD)
    assert board.coating_temperature < pad.coating_temperature


def test_the_chances_are_told_and_most_pieces_can_be_saved() -> None:
    found = extra(0.7, 60.0)
    together = found.chances.pale + found.chances.good + found.chances.over
    assert together == pytest.approx(np.ones(1))
    assert found.chances.good[0] > 0.8
    assert 0.0 < found.earliest <= found.latest <= found.seconds <= 300.0


def test_what_the_limits_leave_too_short_is_told_as_never() -> None:
    seen = TriedPressing(KELVIN, 30.0, ("under-pressed",), 0.2, 0.03, graded_by_photo=True)
    learned = learned_blank(TriedBlank(USUAL["glass"], tried=(seen,)))
    found = extra_time(
        learned, USUAL["glass"], OpenedPress(KELVIN, 30.0, 600.0, CoolingPlace.ON_A_BOARD), 20.0
    )
    assert np.isinf(found.latest)
    assert found.chances.pale[0] > 0.9
