"""Say in plain sentences what a peek told, and what to do with the piece that is still under its paper.

All sentences stand in this file, ready for translation. That a piece whose paper was never pulled off can go
back in the press, and one whose paper was cannot be lined up again, is common practice, no published source.
"""

from typing import Final

from dyecast_calibration.grading_limits import GradingLimits
from dyecast_inspect.explain_faults import HOT_PRESS
from dyecast_inspect.inspection import Advice, Estimate, PeekAnswer, PeekReport, Reason

KEEP_TAPED: Final = (
    "Until you know, leave all other edges taped and the paper where it is: paper that was pulled off "
    "cannot be lined up again."
)
"""The caution that goes with every advice to look again."""

CLEAR_YELLOWING: Final = 2.0
"""Standard uncertainties by which the yellowing must exceed its limit to be told: a peek does not judge
heat."""


def peek_reasons(
    peek: PeekReport, fraction: Estimate, yellowing: Estimate, limits: GradingLimits
) -> tuple[Reason, ...]:
    """Return the reasons for an answer, the weightiest first; heat only when it is beyond doubt."""
    reasons = [_ink(peek.answer, fraction, limits), _part(peek)]
    if yellowing.value - CLEAR_YELLOWING * yellowing.uncertainty > limits.most_yellowing:
        told = "The coating has clearly yellowed: it had too much heat already."
        reasons.append(Reason("coating-yellow", told))
    return tuple(reasons)


def _ink(answer: PeekAnswer, fraction: Estimate, limits: GradingLimits) -> Reason:
    """Return the sentence about how much ink has arrived."""
    share, uncertainty = _percent(fraction.value), _percent(fraction.uncertainty)
    told = f"About {share} ± {uncertainty} of the intended ink has arrived where the picture shows"
    limit = _percent(limits.least_transferred_fraction)
    if answer is PeekAnswer.ENOUGH:
        return Reason("ink-arrived", f"{told}; {limit} is enough.")
    if answer is PeekAnswer.NOT_ENOUGH:
        return Reason("too-little-ink", f"{told}; below {limit} a piece looks pale.")
    return Reason("near-limit", f"{told}; {limit} is the limit, and this peek cannot tell the side.")


def _part(peek: PeekReport) -> Reason:
    """Return the sentence about how much the answer rests on."""
    share = _percent(peek.visible_share or 0.0)
    return Reason("peek-part", f"Judged from the {share} of the picture that show.")


def peek_advice(answer: PeekAnswer) -> tuple[Advice, ...]:
    """Return what to do with the piece now."""
    if answer is PeekAnswer.ENOUGH:
        return (
            Advice(
                "peek-take-out",
                "Take the piece out, let it cool, then take off the paper.",
                "The ink that shows has arrived; more heat would only yellow the coating.",
                HOT_PRESS,
            ),
        )
    if answer is PeekAnswer.NOT_ENOUGH:
        return (
            Advice(
                "peek-press-again",
                "Lay the corner back exactly where it was, tape it again, and press for a short time more.",
                "Ink is still in the paper, and the paper has not moved. Then peek again.",
                HOT_PRESS,
            ),
        )
    return (
        Advice(
            "peek-lift-further",
            "Lift the corner further, hold the flap out of the light, and take another photo.",
            "More of the picture, with strong colours and without the flap's shadow, tells more.",
            KEEP_TAPED,
        ),
    )


def _percent(share: float) -> str:
    """Return a share as whole per cent."""
    return f"{100 * share:.0f} %"
