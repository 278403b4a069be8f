"""A piece pressed again with its paper still in place: cooling and reheating count."""

import numpy as np
import pytest

from dyecast_calibration.press.press_again import (
    CoolingPlace,
    before_pressing,
    continue_pressing,
    cooled,
    pressed,
)
from dyecast_calibration.press.press_model import ROOM_TEMPERATURE, expected_pressing
from dyecast_calibration.press.press_priors import drawn_parameters, typical_parameters
from dyecast_shared.units import fahrenheit_to_kelvin
from stacks import USUAL

GLASS, TYPICAL = USUAL["glass"], typical_parameters()
PLATEN = fahrenheit_to_kelvin(380.0)
START = before_pressing(GLASS, TYPICAL)
PALE = pressed(START, GLASS, PLATEN, 60.0, TYPICAL)


def seconds_until_good(cooling: float, place: CoolingPlace = CoolingPlace.ON_A_BOARD) -> float:
    times = np.linspace(0.0, 200.0, 401)
    state = cooled(PALE, GLASS, cooling, TYPICAL, place)
    again = continue_pressing(state, GLASS, PLATEN, times, TYPICAL)
    return float(times[np.argmax(again.transferred[0] >= 0.89)])


def test_from_the_start_it_is_a_pressing_like_any_other() -> None:
    times = [0.0, 30.0, 60.0, 90.0]
    by_state = continue_pressing(START, GLASS, PLATEN, times, TYPICAL)
    expected = expected_pressing(GLASS, PLATEN, times, TYPICAL)
    assert by_state.transferred == pytest.approx(expected.transferred, abs=1e-9)
    assert by_state.damage == pytest.approx(expected.damage, abs=1e-9)
    assert by_state.coating_temperature == pytest.approx(expected.coating_temperature, abs=1e-6)


def test_without_a_pause_two_pressings_are_one() -> None:
    again = continue_pressing(PALE, GLASS, PLATEN, [0.0, 30.0], TYPICAL)
    once = expected_pressing(GLASS, PLATEN, [60.0, 90.0], TYPICAL)
    assert again.transferred == pytest.approx(once.transferred, abs=1e-3)
    assert again.damage == pytest.approx(once.damage, rel=5e-3)


def test_a_pause_of_no_length_changes_nothing() -> None:
    same = cooled(PALE, GLASS, 0.0, TYPICAL)
    assert np.array_equal(same.temperatures, PALE.temperatures)
    assert np.array_equal(same.exposure, PALE.exposure)


def test_the_longer_the_pause_the_longer_the_second_pressing() -> None:
    needed = [seconds_until_good(pause) for pause in (0.0, 20.0, 60.0, 300.0, 1800.0)]
    assert needed == sorted(needed)
    assert needed[0] < 40.0 < needed[-1]


def test_a_cold_piece_needs_its_heat_up_again_but_not_its_dye() -> None:
    times = np.linspace(0.0, 200.0, 401)
    anew = expected_pressing(GLASS, PLATEN, times, TYPICAL).transferred[0]
    from_the_start = float(times[np.argmax(anew >= 0.89)])
    assert 30.0 < seconds_until_good(3600.0) < from_the_start


def test_under_the_open_press_a_piece_keeps_its_heat_longer() -> None:
    assert seconds_until_good(120.0, CoolingPlace.ON_THE_PAD) < seconds_until_good(120.0)


def test_while_it_is_hot_dye_moves_on_after_the_press_has_opened() -> None:
    soon, later = (cooled(PALE, GLASS, pause, TYPICAL) for pause in (5.0, 600.0))
    assert PALE.exposure[0] < soon.exposure[0] < later.exposure[0]
    assert PALE.damage[0] < soon.damage[0] < later.damage[0]


def test_what_lies_long_enough_is_at_room_temperature() -> None:
    cold = cooled(PALE, GLASS, 50_000.0, TYPICAL)
    assert cold.temperatures == pytest.approx(ROOM_TEMPERATURE, abs=0.01)


def test_an_ensemble_is_pressed_again_at_once() -> None:
    drawn = drawn_parameters(20, np.random.default_rng(4))
    state = pressed(before_pressing(GLASS, drawn), GLASS, PLATEN, 60.0, drawn)
    state = cooled(state, GLASS, 60.0, drawn)
    again = continue_pressing(state, GLASS, PLATEN, [0.0, 45.0, 90.0], drawn)
    assert again.transferred.shape == (20, 3)
    assert np.all(again.transferred[:, 1] > again.transferred[:, 0])
    assert np.all(np.diff(again.damage) > 0.0)
