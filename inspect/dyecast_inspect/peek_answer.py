"""From the ink that a peek found to its answer: enough, not enough, or can't tell."""

from dataclasses import replace
from math import hypot
from typing import Final

from dyecast_calibration.grader_model import GraderModel
from dyecast_inspect.grading_signs import GradingSigns
from dyecast_inspect.inspection import Estimate, PeekAnswer, PeekReport, Verdict

ANSWER_CONFIDENCE: Final = 0.8
"""Probability an answer needs. The cost of a wrong one is one-sided: pressing a good piece further risks some
yellowing, but a piece taken out too early stays pale for good. A surer answer would rarely be given: a part
of the picture tells the ink to some 6 %. Our choice."""

PAPER_UNCERTAINTY: Final = 0.02
"""Standard uncertainty of the transferred fraction from the paper beside what shows, share of the density:
light that the flap throws back (a few per cent of warm light near the fold) and its shadow follow no smooth
field. Our estimate: 4 % of light at the fold, over a third of the part, on tones of density 0.3."""


def under_pressed_probability(signs: GradingSigns, grader: GraderModel) -> float:
    """Return the probability that a piece would be graded under-pressed today.

    Heat enters only so that a piece whose dyes have faded is not sent back into the press.
    """
    beside = replace(signs, ink_uncertainty=hypot(signs.ink_uncertainty, PAPER_UNCERTAINTY))
    return grader.probabilities(beside.named())[Verdict.UNDER_PRESSED.value]


def beside_paper(fraction: Estimate) -> Estimate:
    """Widen the uncertainty of a transferred fraction by what the paper does to the light."""
    return Estimate(fraction.value, hypot(fraction.uncertainty, PAPER_UNCERTAINTY), fraction.unit)


def answer_peek(under_pressed: float, visible_share: float) -> PeekReport:
    """Answer a peek by the probability that the piece is still under-pressed."""
    if under_pressed >= ANSWER_CONFIDENCE:
        return PeekReport(PeekAnswer.NOT_ENOUGH, visible_share, under_pressed)
    if 1.0 - under_pressed >= ANSWER_CONFIDENCE:
        return PeekReport(PeekAnswer.ENOUGH, visible_share, 1.0 - under_pressed)
    return PeekReport(PeekAnswer.CANT_TELL, visible_share, max(under_pressed, 1.0 - under_pressed))
