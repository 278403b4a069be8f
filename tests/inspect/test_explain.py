"""What dyecast says: plain reasons, advice with its caution, and never a time or temperature to press at."""

import re
from dataclasses import replace

import pytest

from dyecast_calibration.card_values import Trust
from dyecast_calibration.grader_model import trained_grader
from dyecast_calibration.grading_limits import grading_limits
from dyecast_inspect.explain import advice_for, reasons_for, retake_advice
from dyecast_inspect.explain_faults import HOT_PRESS
from dyecast_inspect.grade import Grade, grade_by_signs
from dyecast_inspect.inspection import Advice, Estimate, Paper, PressFeatures, Reason, Verdict
from dyecast_shared.errors import ColourUncertain, PieceHidden
from signs_of_pieces import signs_with

LIMITS = grading_limits()
SIGNS = {
    Verdict.UNDER_PRESSED: (0.5, 0.0, 0.0),
    Verdict.GOOD: (1.0, 0.0, 0.0),
    Verdict.OVER_PRESSED: (0.95, 0.1, 0.1),
}
"""Transferred fraction, yellowing in density and bleed in mm² of a clear case of each verdict."""

TIME_OR_TEMPERATURE = re.compile(r"\d+\s*(?:s|sec|seconds?|min|minutes?|°\s*[CF]|degrees?)\b", re.IGNORECASE)


def features_of(fraction: float, *, b_star: float = 0.0, loss_mm: float = 0.0) -> PressFeatures:
    return PressFeatures(
        transferred_fraction=Estimate(fraction, 0.03, "of the intended ink"),
        transferred_by_dye={"cyan": fraction, "magenta": fraction, "yellow": fraction},
        transferred_by_tone={"midtones": fraction},
        veil=Estimate(0.01, 0.01, "of perfect white"),
        coating_yellowing=Estimate(b_star, 0.5, "b*"),
        warmth_of_darks=Estimate(0.0, 1.0, "b*"),
        detail_loss=Estimate(loss_mm, 0.03, "mm"),
        unevenness=0.0,
    )


def grade_of(fraction: float, yellowing: float, bleed: float) -> Grade:
    return grade_by_signs(signs_with(fraction, yellowing, bleed), trained_grader())


def told(verdict: Verdict) -> tuple[tuple[Reason, ...], tuple[Advice, ...]]:
    fraction, yellowing, bleed = SIGNS[verdict]
    grade = grade_of(fraction, yellowing, bleed)
    assert grade.verdict is verdict
    features = features_of(fraction, b_star=80 * yellowing, loss_mm=bleed**0.5)
    reasons = reasons_for(grade, features, Estimate(yellowing, 0.006), LIMITS)
    return reasons, advice_for(grade)


def codes(said: tuple[Reason, ...] | tuple[Advice, ...]) -> list[str]:
    return [each.code for each in said]


def every_case() -> list[tuple[tuple[Reason, ...], tuple[Advice, ...]]]:
    return [told(verdict) for verdict in SIGNS]


@pytest.mark.parametrize(
    ("verdict", "first"),
    [
        (Verdict.UNDER_PRESSED, "too-little-ink"),
        (Verdict.GOOD, "ink-arrived"),
        (Verdict.OVER_PRESSED, "detail-lost"),
    ],
)
def test_the_weightiest_reason_comes_first(verdict: Verdict, first: str) -> None:
    reasons, _ = told(verdict)
    assert reasons[0].code == first


def test_an_over_pressed_piece_is_told_to_have_yellowed() -> None:
    reasons, _ = told(Verdict.OVER_PRESSED)
    assert "coating-yellow" in codes(reasons)


def test_a_reason_gives_the_figure_with_its_uncertainty_and_the_limit() -> None:
    reasons, _ = told(Verdict.UNDER_PRESSED)
    assert "50 % ± 3 %" in reasons[0].sentence
    assert f"{100 * LIMITS.least_transferred_fraction:.0f} %" in reasons[0].sentence


def test_every_advice_to_press_carries_the_caution_about_the_hot_press() -> None:
    pressing = [each for _, advice in every_case() for each in advice if each.code.startswith("press-")]
    assert {each.code for each in pressing} == {"press-again-if-taped", "press-longer", "press-shorter"}
    assert all(each.caution == HOT_PRESS for each in pressing)


def test_whatever_tells_to_handle_the_press_carries_a_caution() -> None:
    handling = [
        each
        for _, advice in every_case()
        for each in advice
        if re.search(r"\b[Pp]ress the|platen", each.sentence)
    ]
    assert handling
    assert all(each.caution == HOT_PRESS for each in handling)


def test_only_an_under_pressed_piece_may_be_pressed_again() -> None:
    for verdict in SIGNS:
        _, advice = told(verdict)
        assert ("press-again-if-taped" in codes(advice)) == (verdict is Verdict.UNDER_PRESSED)


def test_a_piece_peeked_at_can_be_pressed_again_only_while_its_paper_is_taped() -> None:
    """Common practice, no published source: lifted paper cannot be lined up again."""
    _, advice = told(Verdict.UNDER_PRESSED)
    again = next(each for each in advice if "again" in each.sentence)
    assert again.sentence.startswith("If the paper is still taped")
    assert "Once the paper is off" in again.because


def test_pressing_an_over_pressed_piece_again_is_advised_against() -> None:
    _, advice = told(Verdict.OVER_PRESSED)
    assert any("Pressing again would only make it" in each.because for each in advice)
    assert not any("again" in each.sentence for each in advice)


def test_a_good_piece_keeps_its_recipe() -> None:
    _, advice = told(Verdict.GOOD)
    assert codes(advice) == ["keep-recipe"]


def test_a_good_piece_near_a_limit_is_not_taken_for_proof_of_its_recipe() -> None:
    sure = grade_of(1.0, 0.0, 0.0)
    assert sure.verdict is Verdict.GOOD
    recipe, photo = advice_for(replace(sure, near_limit=True))
    assert (recipe.code, photo.code) == ("keep-recipe", "take-second-photo")
    assert "for now" in recipe.sentence
    assert "for now" not in advice_for(replace(sure, near_limit=False))[0].sentence


def test_no_sentence_states_a_time_or_a_temperature_to_press_at() -> None:
    """The blank supplier's sheet comes first; only the caution says how hot a press is."""
    for reasons, advice in every_case():
        said = [reason.sentence for reason in reasons]
        said += [part for each in advice for part in (each.sentence, each.because)]
        said += [each.caution.replace("near 200 °C", "") for each in advice]
        assert not [sentence for sentence in said if TIME_OR_TEMPERATURE.search(sentence)]


def test_the_search_for_times_and_temperatures_finds_them() -> None:
    assert all(TIME_OR_TEMPERATURE.search(text) for text in ("for 60 s", "at 190 °C", "2 minutes", HOT_PRESS))


def _confidence_at(fraction: float) -> float:
    return grade_of(fraction, 0.0, 0.0).confidence


def test_near_a_limit_the_runner_up_is_named_and_a_second_photo_asked_for() -> None:
    fraction = min((0.80 + 0.005 * step for step in range(40)), key=_confidence_at)
    grade = grade_of(fraction, 0.0, 0.0)
    reasons = reasons_for(grade, features_of(fraction), Estimate(0.0, 0.006), LIMITS)
    near = next(reason for reason in reasons if reason.code == "near-limit")
    assert re.search("(under-pressed|good) is possible too", near.sentence)
    assert "take-second-photo" in codes(advice_for(grade))


def test_a_warm_coating_on_a_good_piece_may_be_the_light() -> None:
    grade = grade_of(1.0, 0.0, 0.0)
    warm = Estimate(1.2 * LIMITS.most_yellowing, 0.03)
    reasons = reasons_for(grade, features_of(1.0, b_star=3.0), warm, LIMITS)
    assert any(reason.code == "coating-warm" and "light" in reason.sentence for reason in reasons)


def test_a_refused_photo_is_advised_with_the_code_and_words_of_its_refusal() -> None:
    (advice,) = retake_advice(PieceHidden("Glare hides half of it."), Trust.AS_DESIGNED)
    assert advice.code == "piece-hidden"
    assert advice.because == ""  # the reason says it already
    assert advice.sentence == PieceHidden.default_advice != ""


def test_a_pale_piece_is_pressed_again_only_while_its_paper_is_taped() -> None:
    """Common practice, no published source: paper that was pulled off cannot be lined up again."""
    fraction, yellowing, bleed = SIGNS[Verdict.UNDER_PRESSED]
    grade = grade_of(fraction, yellowing, bleed)
    said = {paper: advice_for(grade, paper) for paper in Paper}
    assert codes(said[Paper.TAPED])[0] == codes(said[Paper.UNKNOWN])[0] == "press-again-if-taped"
    assert said[Paper.UNKNOWN][0].sentence.startswith("If the paper is still taped")
    assert codes(said[Paper.OFF])[0] == "keep-or-scrap"
    assert "press-longer" in codes(said[Paper.OFF])


def test_uncertain_colours_of_a_card_nobody_measured_ask_for_its_own_colours() -> None:
    uncertain = ColourUncertain("The card's colours come out only to 3.4 CIEDE2000.")
    first, then = retake_advice(uncertain, Trust.AS_DESIGNED)
    assert (first.code, then.code) == ("colour-uncertain", "measure-card")
    assert "have your printed card measured" in then.sentence


@pytest.mark.parametrize("trust", [Trust.MEASURED, Trust.TRANSFERRED, None])
def test_a_card_of_known_colours_is_not_to_be_measured_again(trust: Trust | None) -> None:
    assert codes(retake_advice(ColourUncertain("Too far off."), trust)) == ["colour-uncertain"]
