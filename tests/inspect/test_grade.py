"""From signs to a grade: enough ink, not too much heat, and honest about what is near a limit."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dyecast_calibration.grading_limits import grading_limits
from dyecast_inspect.grade import Grade, grade_by_limits, heat_index
from dyecast_inspect.inspection import Estimate, Verdict

LIMITS = grading_limits()
UNDER, GOOD, OVER = (verdict.value for verdict in list(Verdict)[:3])

fractions = st.floats(0.3, 1.1)
yellowings = st.floats(-0.02, 0.15)
bleeds = st.floats(0.0, 0.3)
steps = st.floats(0.0, 0.3)


def graded(fraction: float, yellowing: float = 0.0, bleed: float = 0.0, *, unsure: float = 1.0) -> Grade:
    return grade_by_limits(
        Estimate(fraction, 0.03 * unsure),
        Estimate(yellowing, 0.006 * unsure),
        Estimate(bleed, 0.006 * unsure),
        LIMITS,
    )


def test_all_ink_and_a_clear_coating_are_good() -> None:
    grade = graded(1.0)
    assert grade.verdict is Verdict.GOOD
    assert not grade.near_limit


def test_half_the_ink_is_under_pressed() -> None:
    assert graded(0.5).verdict is Verdict.UNDER_PRESSED


def test_all_ink_on_a_yellow_coating_with_soft_edges_is_over_pressed() -> None:
    grade = graded(1.0, 3 * LIMITS.most_yellowing, 3 * LIMITS.most_bleed)
    assert grade.verdict is Verdict.OVER_PRESSED


def test_faded_but_yellow_is_over_pressed_not_under_pressed() -> None:
    """Dyes fade in too much heat: less ink alone does not mean too little heat."""
    between = (LIMITS.least_faded_fraction + LIMITS.least_transferred_fraction) / 2
    assert graded(between).verdict is Verdict.UNDER_PRESSED
    assert graded(between, 0.1, 0.1).verdict is Verdict.OVER_PRESSED


def test_a_yellow_piece_with_hardly_any_ink_never_had_it() -> None:
    assert graded(0.4, 0.1, 0.1).verdict is Verdict.UNDER_PRESSED


@given(fractions, yellowings, bleeds)
def test_probabilities_add_up_to_one_and_the_verdict_is_the_likeliest(
    fraction: float, yellowing: float, bleed: float
) -> None:
    grade = graded(fraction, yellowing, bleed)
    assert set(grade.probabilities) == {UNDER, GOOD, OVER}
    assert all(0.0 <= share <= 1.0 for share in grade.probabilities.values())
    assert sum(grade.probabilities.values()) == pytest.approx(1.0)
    assert grade.confidence == max(grade.probabilities.values()) == grade.probabilities[grade.verdict.value]


@given(fractions, steps, yellowings, bleeds)
def test_more_ink_never_makes_a_piece_likelier_under_pressed(
    fraction: float, more: float, yellowing: float, bleed: float
) -> None:
    less_ink, more_ink = graded(fraction, yellowing, bleed), graded(fraction + more, yellowing, bleed)
    assert more_ink.probabilities[UNDER] <= less_ink.probabilities[UNDER] + 1e-12


@given(fractions, yellowings, steps, bleeds)
def test_more_yellowing_never_makes_a_piece_less_likely_over_pressed(
    fraction: float, yellowing: float, more: float, bleed: float
) -> None:
    clear, yellow = graded(fraction, yellowing, bleed), graded(fraction, yellowing + more, bleed)
    assert yellow.probabilities[OVER] >= clear.probabilities[OVER] - 1e-12


def test_a_piece_at_the_limit_is_said_to_be_near_it() -> None:
    assert graded(LIMITS.least_transferred_fraction).near_limit


def test_near_the_limit_means_that_another_grade_is_well_possible() -> None:
    for fraction in (0.5, 0.8, 0.85, 0.89, 0.93, 1.0):
        grade = graded(fraction)
        assert grade.near_limit == (grade.confidence < LIMITS.near_limit_confidence)


def test_a_less_certain_measurement_gives_a_less_certain_grade() -> None:
    assert graded(0.8, unsure=3.0).confidence < graded(0.8).confidence


def test_no_sign_of_heat_is_zero_and_both_signs_at_their_limit_are_one() -> None:
    none = heat_index(Estimate(0.0, 0.01), Estimate(0.0, 0.01), LIMITS)
    limit = heat_index(Estimate(LIMITS.most_yellowing, 0.01), Estimate(LIMITS.most_bleed, 0.02), LIMITS)
    assert none.value == 0.0
    assert limit.value == pytest.approx(1.0)


def test_the_surer_sign_of_heat_has_the_greater_say() -> None:
    blurred_guess = heat_index(Estimate(0.0, 0.002), Estimate(2 * LIMITS.most_bleed, 0.1), LIMITS)
    yellow_guess = heat_index(Estimate(0.0, 0.1), Estimate(2 * LIMITS.most_bleed, 0.002), LIMITS)
    assert blurred_guess.value < 0.5 < yellow_guess.value
