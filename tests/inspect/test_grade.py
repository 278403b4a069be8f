"""From signs to a grade: ink decides under-pressed, heat decides over-pressed, doubt is told."""

import json
from dataclasses import fields
from importlib.resources import files

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dyecast_calibration.grading_limits import GradingLimits, grading_limits
from dyecast_inspect.explain import HOT_PRESS, advice_for, reasons_for
from dyecast_inspect.grade import Grade, grade_by_limits, heat_index
from dyecast_inspect.inspection import Estimate, PressFeatures, Verdict

LIMITS = grading_limits()
CLEAR, YELLOW = Estimate(0.0, 0.02), Estimate(0.12, 0.02)
SHARP, SOFT = Estimate(0.0, 0.01), Estimate(0.1, 0.02)

fractions = st.floats(0.3, 1.1)
densities = st.floats(-0.02, 0.2)


def grade(fraction: float, yellowing: Estimate = CLEAR, bleed: Estimate = SHARP) -> Grade:
    return grade_by_limits(Estimate(fraction, 0.04), yellowing, bleed, LIMITS)


def signs(fraction: float, unevenness: float = 0.0) -> PressFeatures:
    none = Estimate(0.0, 0.01)
    return PressFeatures(Estimate(fraction, 0.04), {}, {}, none, none, none, none, unevenness)


def test_ink_and_heat_make_the_four_plain_cases() -> None:
    assert grade(0.6).verdict is Verdict.UNDER_PRESSED
    assert grade(1.0).verdict is Verdict.GOOD
    assert grade(1.0, YELLOW, SOFT).verdict is Verdict.OVER_PRESSED
    assert grade(0.4, YELLOW, SHARP).verdict is Verdict.UNDER_PRESSED


def test_a_faded_piece_with_a_yellow_coating_and_soft_edges_is_over_pressed_not_pale() -> None:
    assert grade(0.84).verdict is Verdict.UNDER_PRESSED
    assert grade(0.84, YELLOW, SOFT).verdict is Verdict.OVER_PRESSED


def test_at_the_limit_the_piece_is_said_to_be_near_it() -> None:
    assert grade(LIMITS.least_transferred_fraction).near_limit
    assert not grade(0.5).near_limit


@given(low=fractions, high=fractions, density=densities)
def test_more_ink_never_makes_under_pressed_likelier(low: float, high: float, density: float) -> None:
    low, high = sorted((low, high))
    yellowing = Estimate(density, 0.03)
    less, more = grade(low, yellowing).probabilities, grade(high, yellowing).probabilities
    assert more["under-pressed"] <= less["under-pressed"] + 1e-12
    assert sum(less.values()) == pytest.approx(1.0)


@given(fraction=st.floats(0.9, 1.1), low=densities, high=densities)
def test_more_yellow_never_makes_over_pressed_less_likely(fraction: float, low: float, high: float) -> None:
    low, high = sorted((low, high))
    less = grade(fraction, Estimate(low, 0.03)).probabilities["over-pressed"]
    assert grade(fraction, Estimate(high, 0.03)).probabilities["over-pressed"] >= less - 1e-12


def test_of_two_signs_of_heat_the_surer_one_weighs_more() -> None:
    vague, sure = Estimate(0.12, 0.5), Estimate(0.0, 0.001)
    assert heat_index(vague, sure, LIMITS).value < 0.2
    assert heat_index(Estimate(0.12, 0.001), Estimate(0.0, 0.5), LIMITS).value > 3.0


def test_every_limit_has_its_unit_reason_and_source_and_is_used() -> None:
    text = files("dyecast_calibration").joinpath("grading_limits.json").read_text(encoding="utf-8")
    limits = json.loads(text)["limits"]
    assert set(limits) == {field.name for field in fields(GradingLimits)}
    assert all(entry["unit"] and entry["reason"] and entry["source"] for entry in limits.values())


@pytest.mark.parametrize("verdict", ["under", "good", "over"])
def test_advice_to_press_carries_the_caution_and_never_a_time_or_temperature(verdict: str) -> None:
    graded = {"under": grade(0.6), "good": grade(1.0), "over": grade(1.0, YELLOW, SOFT)}[verdict]
    for advice in advice_for(graded, signs(1.0), mirrored=False):
        assert not any(character.isdigit() for character in advice.sentence + advice.because)
        if advice.code.startswith("press"):
            assert advice.caution == HOT_PRESS


def test_only_a_pale_piece_is_pressed_again_and_only_while_its_paper_is_taped() -> None:
    """Common practice, no published source: paper that was pulled off cannot be lined up again."""
    pale = [advice.code for advice in advice_for(grade(0.6), signs(0.6), mirrored=False)]
    hot = [advice.code for advice in advice_for(grade(1.0, YELLOW, SOFT), signs(1.0), mirrored=False)]
    assert pale[0] == "press-again-if-taped"
    assert "press-again-if-taped" not in hot
    again = advice_for(grade(0.6), signs(0.6), mirrored=False)[0]
    assert "still taped" in again.sentence
    assert "cannot be lined up again" in again.because


def test_the_weightiest_reason_comes_first_and_the_runner_up_is_named_near_a_limit() -> None:
    reasons = reasons_for(grade(0.6), signs(0.6), CLEAR, LIMITS, mirrored=False)
    assert reasons[0].code == "too-little-ink"
    near = grade(0.9)
    told = reasons_for(near, signs(0.9, unevenness=0.2), CLEAR, LIMITS, mirrored=True)
    assert {"near-limit", "uneven", "mirrored-print"} <= {reason.code for reason in told}
