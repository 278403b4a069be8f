"""From signs to a grade: enough ink, not too much heat, and honest about what is near a limit."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dyecast_calibration.grader_model import GRADES, trained_grader
from dyecast_inspect.grade import Grade, check_heat_told, grade_by_signs
from dyecast_inspect.inspection import Verdict
from dyecast_shared.errors import HeatUnclear
from signs_of_pieces import signs_with

UNDER, GOOD, OVER = GRADES

fractions = st.floats(0.3, 1.1)
yellowings = st.floats(-0.02, 0.2)
bleeds = st.floats(-0.01, 0.3)


def graded(fraction: float, yellowing: float = 0.0, bleed: float = 0.0) -> Grade:
    return grade_by_signs(signs_with(fraction, yellowing, bleed), trained_grader())


def test_all_ink_and_a_clear_coating_are_good() -> None:
    grade = graded(1.0)
    assert grade.verdict is Verdict.GOOD
    assert not grade.near_limit


def test_half_the_ink_is_under_pressed() -> None:
    assert graded(0.5).verdict is Verdict.UNDER_PRESSED


def test_all_ink_on_a_yellow_coating_with_soft_edges_is_over_pressed() -> None:
    assert graded(0.98, 0.12, 0.1).verdict is Verdict.OVER_PRESSED


def test_faded_but_yellow_is_over_pressed_not_under_pressed() -> None:
    """Dyes fade in too much heat: less ink alone does not mean too little heat."""
    assert graded(0.82).verdict is Verdict.UNDER_PRESSED
    assert graded(0.82, 0.12, 0.1).verdict is Verdict.OVER_PRESSED


def test_dyes_further_apart_than_a_pressing_can_bring_them_make_every_sign_less_sure() -> None:
    """Under a violet-pumped LED a pale piece may look a third too yellow: that is the light, not heat."""
    pale, astray = signs_with(0.92, 0.15), replace(signs_with(0.92, 0.15), yellow_lag=-0.32)
    assert astray.named()["yellowing_deviations"] < 0.6 * pale.named()["yellowing_deviations"]
    assert astray.named()["ink_uncertainty"] == pytest.approx(((0.32 - 0.1) ** 2 / 9 + 0.03**2) ** 0.5)
    lagging = replace(signs_with(0.92, 0.15), yellow_lag=-0.1, cyan_lag=0.1)
    assert lagging.named()["yellowing_uncertainty"] == pale.named()["yellowing_uncertainty"]


@given(fractions, yellowings, bleeds)
def test_probabilities_add_up_to_one_and_the_verdict_is_the_likeliest(
    fraction: float, yellowing: float, bleed: float
) -> None:
    grade = graded(fraction, yellowing, bleed)
    assert list(grade.probabilities) == [UNDER, GOOD, OVER]
    assert sum(grade.probabilities.values()) == pytest.approx(1.0)
    assert grade.confidence == max(grade.probabilities.values()) == grade.probabilities[grade.verdict.value]


@given(st.floats(0.3, 0.95), st.floats(0.01, 0.1))
def test_more_ink_never_makes_a_pale_piece_likelier_under_pressed(fraction: float, more: float) -> None:
    assert graded(fraction + more).probabilities[UNDER] <= graded(fraction).probabilities[UNDER] + 1e-9


@given(fractions, st.floats(0.0, 0.1), st.floats(0.01, 0.1))
def test_more_yellowing_makes_a_piece_likelier_over_pressed(
    fraction: float, yellowing: float, more: float
) -> None:
    clear, yellow = graded(fraction, yellowing), graded(fraction, yellowing + more)
    assert yellow.probabilities[OVER] >= clear.probabilities[OVER] - 1e-9


def test_a_piece_between_pale_and_good_is_said_to_be_near_the_limit() -> None:
    between = min((0.80 + 0.005 * step for step in range(40)), key=lambda each: graded(each).confidence)
    assert graded(between).near_limit
    assert 0.82 < between < 0.95


def test_near_the_limit_means_that_not_exactly_one_grade_is_possible() -> None:
    grader = trained_grader()
    for fraction in (0.5, 0.8, 0.85, 0.89, 0.93, 1.0):
        grade = graded(fraction)
        possible = [name for name, share in grade.probabilities.items() if share >= grader.least_probability]
        assert grade.near_limit == (len(possible) != 1)


def test_a_less_certain_measurement_gives_a_less_certain_grade() -> None:
    sure = signs_with(0.8)
    unsure = replace(sure, ink_uncertainty=0.15, yellowing_uncertainty=0.09, bleed_uncertainty=0.06)
    assert (
        grade_by_signs(unsure, trained_grader()).confidence
        < grade_by_signs(sure, trained_grader()).confidence
    )


def test_common_practice_a_small_glass_magnet_is_pale_after_60_seconds_and_good_after_90() -> None:
    """Common practice, no published source: at 380 °F. What 60 s leave in the paper by the square root law of
    early uptake (Crank 1975) is 1 - sqrt(60 / 90) = 18 %."""
    assert graded((60.0 / 90.0) ** 0.5).verdict is Verdict.UNDER_PRESSED
    assert graded(1.0).verdict is Verdict.GOOD


def test_a_photo_that_tells_pale_from_faded_poorly_is_sent_back() -> None:
    """What to do about the two is opposite: more heat would ruin a piece that heat has faded."""
    doubtful = {"under-pressed": 0.6, "good": 0.2, "over-pressed": 0.2}
    with pytest.raises(HeatUnclear) as caught:
        check_heat_told(Verdict.UNDER_PRESSED, doubtful, most_opposite=0.15)
    assert caught.value.code == "heat-unclear"
    assert "other light" in caught.value.advice


@pytest.mark.parametrize(
    ("verdict", "probabilities"),
    [
        (Verdict.UNDER_PRESSED, {"under-pressed": 0.6, "good": 0.3, "over-pressed": 0.1}),
        (Verdict.GOOD, {"under-pressed": 0.3, "good": 0.4, "over-pressed": 0.3}),
    ],
)
def test_doubt_about_a_neighbouring_grade_sends_no_photo_back(
    verdict: Verdict, probabilities: dict[str, float]
) -> None:
    check_heat_told(verdict, probabilities, most_opposite=0.15)
