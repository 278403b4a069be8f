"""From signs to a grade: the first, honest form, limits with uncertainty.

This is the seam for the trained grader: whatever takes the same signs and returns a `Grade` can replace
`grade_by_limits`.
"""

from dataclasses import dataclass
from math import erf, sqrt

from dyecast_calibration.grading_limits import GradingLimits
from dyecast_inspect.inspection import Estimate, Verdict


@dataclass(frozen=True, slots=True)
class Grade:
    """A grade with its probabilities.

    `probabilities` is over ``under-pressed``, ``good``, ``over-pressed`` and adds up to 1; `confidence` is
    the verdict's own; `near_limit` tells that another grade is well possible.
    """

    verdict: Verdict
    confidence: float
    near_limit: bool
    probabilities: dict[str, float]


def grade_by_limits(fraction: Estimate, yellowing: Estimate, limits: GradingLimits) -> Grade:
    """Grade by the transferred fraction and the coating's yellowing (density in the short band).

    A piece that lacks ink is under-pressed. One whose coating has yellowed is over-pressed, though its dyes
    have faded a little too: only one that lacks more ink than fading explains is under-pressed all the same
    (an old or stained blank). Each limit is a probability: the share of the estimate's normal distribution
    beyond it.
    """
    pale = _normal_share((limits.least_transferred_fraction - fraction.value) / fraction.uncertainty)
    very_pale = _normal_share((limits.least_faded_fraction - fraction.value) / fraction.uncertainty)
    yellow = _normal_share((yellowing.value - limits.most_yellowing) / yellowing.uncertainty)
    probabilities = {
        Verdict.UNDER_PRESSED.value: (1.0 - yellow) * pale + yellow * very_pale,
        Verdict.GOOD.value: (1.0 - yellow) * (1.0 - pale),
        Verdict.OVER_PRESSED.value: yellow * (1.0 - very_pale),
    }
    name, confidence = max(probabilities.items(), key=lambda item: item[1])
    return Grade(Verdict(name), confidence, confidence < limits.near_limit_confidence, probabilities)


def _normal_share(deviations: float) -> float:
    """Return the share of a normal distribution below so many standard deviations."""
    return 0.5 * (1.0 + erf(deviations / sqrt(2.0)))
