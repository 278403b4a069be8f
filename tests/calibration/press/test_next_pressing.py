"""Choosing the next pressing: always within the limits, from the supplier's figure to the centre."""

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as some

from dyecast_calibration.press.learning import LearnedBlank, SupplierClaim, TriedBlank, learned_blank
from dyecast_calibration.press.next_pressing import (
    SMALL_STEPS,
    USUAL_STEPS,
    Goal,
    NextPressing,
    expected_lost,
    next_pressing,
    robustly_good,
)
from dyecast_calibration.press.press_window import (
    PressLimits,
    PressWindow,
    considered_temperatures,
    considered_times,
    press_window,
    usual_limits,
)
from dyecast_calibration.press.tried_pressing import GRADES, TriedPressing
from dyecast_shared.units import celsius_to_kelvin, fahrenheit_to_kelvin, kelvin_to_fahrenheit
from stacks import USUAL

GLASS = USUAL["glass"]
SUPPLIER = SupplierClaim(fahrenheit_to_kelvin(380.0), 70.0)
LIMITS = usual_limits(SUPPLIER)


def advised(
    tried: tuple[TriedPressing, ...] = (), limits: PressLimits = LIMITS, *, small: bool = False
) -> tuple[NextPressing, PressWindow]:
    window = press_window(learned_blank(TriedBlank(GLASS, SUPPLIER, tried)), GLASS, SUPPLIER, limits)
    return next_pressing(window, SUPPLIER, limits, tried, SMALL_STEPS if small else USUAL_STEPS), window


def at(seconds: float, grade: str, fraction: float | None = None) -> TriedPressing:
    return TriedPressing(
        SUPPLIER.platen_temperature, seconds, (grade,), fraction, 0.04, graded_by_photo=fraction is not None
    )


some_pressings = some.lists(
    some.builds(
        TriedPressing,
        some.floats(420.0, 500.0),
        some.floats(5.0, 900.0),
        some.sampled_from(GRADES).map(lambda grade: (grade,)),
    ),
    max_size=3,
)


@settings(max_examples=25)
@given(
    some.floats(-30.0, 30.0),
    some.floats(0.0, 40.0),
    some.floats(5.0, 300.0),
    some.floats(1.0, 4.0),
    some_pressings,
    some.booleans(),
)
def test_nothing_is_ever_advised_beyond_the_limits(  # noqa: PLR0917 (one argument a strategy)
    lowest: float, span: float, shortest: float, longer: float, tried: list[TriedPressing], small: bool
) -> None:
    lowest = SUPPLIER.platen_temperature + lowest
    limits = PressLimits(lowest, lowest + span, shortest, shortest * longer)
    found, _ = advised(tuple(tried), limits, small=small)
    assert limits.allow(found.temperature, found.time)


@given(some.floats(440.0, 490.0), some.floats(0.0, 60.0))
def test_considered_temperatures_lie_within_the_limits_and_are_some(lowest: float, span: float) -> None:
    limits = PressLimits(lowest, lowest + span, 10.0, 100.0)
    found = considered_temperatures(SUPPLIER.platen_temperature, limits)
    assert len(found) > 0
    assert found.min() >= lowest
    assert found.max() <= lowest + span


@given(some.floats(1.0, 1000.0), some.floats(1.0, 6.0))
def test_considered_times_lie_within_the_limits_and_are_some(shortest: float, longer: float) -> None:
    limits = PressLimits(440.0, 480.0, shortest, shortest * longer)
    found = considered_times(70.0, limits)
    assert len(found) > 0
    assert found.min() >= limits.shortest_time
    assert found.max() <= limits.longest_time


def test_temperatures_are_whole_degrees_of_the_suppliers_unit() -> None:
    by_fahrenheit = considered_temperatures(fahrenheit_to_kelvin(380.0), usual_limits(SUPPLIER))
    degrees = [kelvin_to_fahrenheit(kelvin) for kelvin in by_fahrenheit]
    assert degrees == pytest.approx([365.0, 370.0, 375.0, 380.0])
    metric = SupplierClaim(celsius_to_kelvin(200.0), 60.0)
    by_celsius = considered_temperatures(metric.platen_temperature, usual_limits(metric))
    assert by_celsius - 273.15 == pytest.approx([191.0, 194.0, 197.0, 200.0])


def test_limits_that_leave_nothing_are_refused() -> None:
    with pytest.raises(ValueError, match="between these limits"):
        PressLimits(470.0, 460.0, 10.0, 20.0)


def test_the_first_pressing_lies_near_the_suppliers_figure_and_most_likely_is_good() -> None:
    found, window = advised()
    assert found.goal is Goal.FIRST_GOOD
    assert found.good >= window.good.max() - 0.1
    assert abs(found.temperature - SUPPLIER.platen_temperature) <= USUAL_STEPS.temperature
    assert found.time <= SUPPLIER.time * USUAL_STEPS.time
    assert found.pale + found.good + found.over == pytest.approx(1.0)


def test_after_a_pale_piece_more_heat_is_advised_and_after_an_over_pressed_one_less() -> None:
    first, _ = advised()
    pale, _ = advised((at(first.time, "under-pressed", 0.7),))
    over, _ = advised((at(first.time, "over-pressed"), at(first.time, "over-pressed")))
    assert pale.time > first.time or pale.temperature > first.temperature
    assert over.time < first.time or over.temperature < first.temperature


def test_one_over_pressed_piece_never_leads_to_more_heat_unless_another_contradicts_it() -> None:
    over = at(120.0, "over-pressed", 0.95)
    found, _ = advised((over,))
    assert found.time <= 120.5 or found.temperature < SUPPLIER.platen_temperature - 0.5
    found, _ = advised((over, at(130.0, "under-pressed", 0.6), at(140.0, "under-pressed", 0.65)))
    assert found.time > 140.0 or found.temperature > SUPPLIER.platen_temperature


def test_after_a_good_piece_the_goal_is_the_centre_and_the_good_setting_is_not_left_for_nothing() -> None:
    found, window = advised((at(150.0, "good", 0.97),))
    assert found.goal is Goal.CENTRE
    assert found.good >= window.good.max() - 0.05
    assert abs(np.log(found.time / 150.0)) < 0.3


def test_a_grade_that_was_taken_back_by_a_later_one_does_not_count_as_a_good_piece() -> None:
    doubted = TriedPressing(SUPPLIER.platen_temperature, 90.0, ("good", "under-pressed"))
    assert advised((doubted,))[0].goal is Goal.FIRST_GOOD


def test_dear_blanks_get_small_steps_and_little_risk_of_heat() -> None:
    found, _ = advised(small=True)
    assert abs(found.temperature - SUPPLIER.platen_temperature) <= SMALL_STEPS.temperature
    assert SUPPLIER.time / SMALL_STEPS.time <= found.time <= SUPPLIER.time * SMALL_STEPS.time
    assert found.over <= SMALL_STEPS.over


def certain_window(good: np.ndarray) -> PressWindow:
    """A window of two kinds of member: good (members, 1, times), else pale."""
    transferred = np.where(good, 1.05, 0.5)[:, None, :]
    return PressWindow(
        np.array([466.0]), np.arange(1.0, 1 + good.shape[1]), transferred, np.zeros_like(transferred)
    )


def test_a_setting_that_is_good_for_every_member_loses_only_what_the_grader_gets_wrong() -> None:
    """Two in a hundred clear pieces, `LAPSE` less the third of it that is right; a few more after them."""
    window = certain_window(np.ones((50, 3), bool))
    assert expected_lost(window) == pytest.approx(np.full((1, 3), 0.022), abs=0.005)


def test_a_sure_loss_that_tells_everything_costs_one_blank() -> None:
    """Members are good at the second or at the third setting, and pale at the first: it tells nothing. At the
    second, half are good; where it is pale the third is known to be good: half a blank, and a little for the
    grader's errors."""
    good = np.zeros((100, 3), bool)
    good[:50, 1] = good[50:, 2] = True
    lost = expected_lost(certain_window(good))[0]
    assert lost[1] == pytest.approx(0.5, abs=0.05)
    assert lost[0] == pytest.approx(2.0, abs=0.05)  # itself, and one of two after it


def test_the_middle_of_a_window_is_more_robust_than_its_edge() -> None:
    good = np.zeros((10, 7), bool)
    good[:, 2:5] = True
    assert int(np.argmax(robustly_good(certain_window(good))[0])) == 3


@settings(max_examples=15)
@given(some_pressings)
def test_chances_lie_between_nothing_and_one_and_make_one(tried: list[TriedPressing]) -> None:
    assume(tried)
    learned: LearnedBlank = learned_blank(TriedBlank(GLASS, SUPPLIER, tuple(tried)))
    window = press_window(learned, GLASS, SUPPLIER, LIMITS)
    for chance in (window.pale, window.good, window.over):
        assert chance.min() >= -1e-12
        assert chance.max() <= 1.0 + 1e-12
    lost = expected_lost(window)
    assert np.isfinite(lost).all()
    assert lost.min() >= -1e-6
