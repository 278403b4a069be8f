"""Say in plain sentences why a piece got its grade, and what to do next.

All sentences stand in this file and, about faults, in `explain_faults.py`, ready for translation. Times
and temperatures are never given: the blank supplier's sheet comes first.
"""

from typing import Final

from dyecast_calibration.card_values import Trust
from dyecast_calibration.grading_limits import GradingLimits
from dyecast_inspect.explain_faults import HOT_PRESS
from dyecast_inspect.grade import Grade
from dyecast_inspect.inspection import Advice, Estimate, Paper, PressFeatures, Reason, Verdict
from dyecast_shared.errors import ColourUncertain, Retake

SCRAPPING: Final = (
    "Do not break glass to scrap it. "
    "Loose magnets are dangerous when swallowed: keep them away from children."
)
"""The caution that goes with scrapping."""


def reasons_for(
    grade: Grade,
    features: PressFeatures,
    yellowing: Estimate,
    limits: GradingLimits,
) -> tuple[Reason, ...]:
    """Return the reasons for a grade, the weightiest first."""
    reasons = [_ink(grade, features, limits), _coating(grade, features, yellowing, limits)]
    loss = features.detail_loss
    if max(loss.value - loss.uncertainty, 0.0) ** 2 > limits.most_bleed:
        reasons.append(_detail(features))
    if grade.verdict is Verdict.OVER_PRESSED:
        reasons.reverse()
    if grade.near_limit:
        reasons.append(_near_limit(grade))
    return tuple(reasons)


def _ink(grade: Grade, features: PressFeatures, limits: GradingLimits) -> Reason:
    """Return the sentence about how much ink arrived."""
    fraction = features.transferred_fraction
    told = f"About {_percent(fraction.value)} ± {_percent(fraction.uncertainty)} of the intended ink arrived"
    limit = _percent(limits.least_transferred_fraction)
    pale = fraction.value < limits.least_transferred_fraction
    if grade.verdict is Verdict.UNDER_PRESSED:
        why = f"; below {limit} a piece looks pale." if pale else ": less than good pieces like it carry."
        return Reason("too-little-ink", told + why)
    if not pale:
        return Reason("ink-arrived", f"{told}; {limit} is enough.")
    if grade.verdict is Verdict.OVER_PRESSED:
        return Reason("ink-faded", f"{told}: what is missing may have faded in the heat.")
    return Reason("ink-arrived", f"{told}: a little is missing, as good pieces like it may lack.")


def _coating(grade: Grade, features: PressFeatures, yellowing: Estimate, limits: GradingLimits) -> Reason:
    """Return the sentence about the coating's colour."""
    shift = features.coating_yellowing
    told = f"Yellowing, as b* on white, is {_signed(shift.value)} ± {shift.uncertainty:.1f}"
    seen = yellowing.value > max(limits.most_yellowing / 2, yellowing.uncertainty)
    if grade.verdict is Verdict.OVER_PRESSED and seen:
        return Reason("coating-yellow", f"{told}: it was pressed too long or too hot.")
    if yellowing.value > limits.most_yellowing:
        return Reason("coating-warm", f"{told}, which the light may explain.")
    return Reason("coating-clear", f"{told}: not enough to see.")


def _detail(features: PressFeatures) -> Reason:
    """Return the sentence about lost detail."""
    loss = features.detail_loss
    return Reason(
        "detail-lost",
        f"Edges are {loss.value:.2f} ± {loss.uncertainty:.2f} mm softer than the photo is: dye has spread.",
    )


def _near_limit(grade: Grade) -> Reason:
    """Return the sentence about the runner-up."""
    others = sorted(
        (share, name) for name, share in grade.probabilities.items() if name != grade.verdict.value
    )
    share, name = others[-1]
    return Reason("near-limit", f"It is near the limit: {name} is possible too ({_percent(share)}).")


def advice_for(grade: Grade, paper: Paper = Paper.UNKNOWN) -> tuple[Advice, ...]:
    """Return what to do next with this piece and the following ones."""
    advice: list[Advice] = []
    if grade.verdict is Verdict.UNDER_PRESSED:
        advice += _under_pressed(paper)
    elif grade.verdict is Verdict.OVER_PRESSED:
        advice += _over_pressed()
    else:
        advice.append(_good(near_limit=grade.near_limit))
    if grade.near_limit:
        advice.append(
            Advice("take-second-photo", "Take a second photo in other light.", "The piece is near a limit.")
        )
    return tuple(advice)


def _good(*, near_limit: bool) -> Advice:
    """Return the advice for a good piece: near a limit, one photo is no reason to praise the recipe."""
    if near_limit:
        return Advice(
            "keep-recipe", "Leave the recipe as it is for now.", "Good is likelier than either fault."
        )
    return Advice("keep-recipe", "Keep this recipe.", "What was measured is what good pieces show.")


def _under_pressed(paper: Paper) -> list[Advice]:
    """Return the advice for a pale piece: pressing it again needs its paper where it was."""
    if paper is Paper.OFF:
        this_piece = Advice(
            "keep-or-scrap",
            "Decide by eye whether this piece can be sold as it is.",
            "The paper is off and cannot be lined up again: pressing it a second time would print a double "
            "edge.",
            SCRAPPING,
        )
    else:
        taped = "If the paper is still taped where it was, press" if paper is Paper.UNKNOWN else "Press"
        this_piece = Advice(
            "press-again-if-taped",
            f"{taped} the piece again for a short time.",
            "Ink is still in the paper. Once the paper is off, it cannot be lined up again.",
            HOT_PRESS,
        )
    return [
        this_piece,
        Advice(
            "press-longer",
            "Press the next piece a little longer, or hotter within what the blank's supplier allows.",
            "Too little ink left the paper.",
            HOT_PRESS,
        ),
    ]


def _over_pressed() -> list[Advice]:
    """Return the advice for a yellowed piece."""
    return [
        Advice(
            "press-shorter",
            "Press the next piece shorter or cooler; change one of the two at a time.",
            "Too much heat yellows coating and dyes, fades and spreads them: nothing undoes that.",
            HOT_PRESS,
        ),
        Advice(
            "keep-or-scrap",
            "Decide by eye whether this piece can be sold as it is.",
            "Pressing again would only make it yellower.",
            SCRAPPING,
        ),
    ]


def retake_advice(retake: Retake, trust: Trust | None = None) -> tuple[Advice, ...]:
    """Return what to do about a photo that cannot be judged; `trust` is in the card's colours, if seen."""
    advice = Advice(retake.code, retake.advice, because="")
    if isinstance(retake, ColourUncertain) and trust is Trust.AS_DESIGNED:
        return advice, _measure_card()
    return (advice,)


def _measure_card() -> Advice:
    """Return the advice for a card that may not be printed in the colours it was asked for."""
    return Advice(
        "measure-card",
        "If that does not help, have your printed card measured, or transfer the colours of one that is, "
        "and give dyecast those values.",
        "The card's colours are known only as designed, and no printer prints quite those.",
    )


def _signed(value: float) -> str:
    """Return a change with its sign, one decimal; zero has none."""
    text = f"{value:+.1f}"
    return "0.0" if float(text) == 0.0 else text.replace("-", "\u2212")


def _percent(share: float) -> str:
    """Return a share as whole per cent."""
    return f"{100 * share:.0f} %"
