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


def grade_by_limits(fraction: Estimate, yellowing: Estimate, bleed: Estimate, limits: GradingLimits) -> Grade:
    """Grade by ink and heat.

    A piece that lacks ink is under-pressed. One that shows too much heat is over-pressed, though its dyes
    have faded a little too: only one that lacks more ink than fading explains is under-pressed all the same
    (an old or stained blank). Each limit is a probability: the share of the estimate's normal distribution
    beyond it.

    Parameters
    ----------
    fraction
        Transferred fraction, 1 = all that the artwork asks for.
    yellowing
        Density of the coating in the short band.
    bleed
        Variance of the dyes' bleed, mm².
    limits
        The limits that decide.

    A piece with all its ink and no sign of heat is good, one with half of it under-pressed:

    >>> from dyecast_calibration.grading_limits import grading_limits
    >>> none = Estimate(0.0, 0.005)
    >>> for fraction in (1.0, 0.5):
    ...     print(grade_by_limits(Estimate(fraction, 0.04), none, none, grading_limits()).verdict)
    good
    under-pressed
    """
    heat = heat_index(yellowing, bleed, limits)
    pale = _normal_share((limits.least_transferred_fraction - fraction.value) / fraction.uncertainty)
    very_pale = _normal_share((limits.least_faded_fraction - fraction.value) / fraction.uncertainty)
    hot = _normal_share((heat.value - 1.0) / heat.uncertainty)
    probabilities = {
        Verdict.UNDER_PRESSED.value: (1.0 - hot) * pale + hot * very_pale,
        Verdict.GOOD.value: (1.0 - hot) * (1.0 - pale),
        Verdict.OVER_PRESSED.value: hot * (1.0 - very_pale),
    }
    name, confidence = max(probabilities.items(), key=lambda item: item[1])
    return Grade(Verdict(name), confidence, confidence < limits.near_limit_confidence, probabilities)


def heat_index(yellowing: Estimate, bleed: Estimate, limits: GradingLimits) -> Estimate:
    """Return how much heat a piece shows: 0 = none, 1 = the limit.

    Yellowing and bleed are two signs of one cause; each is taken in units of its limit and weighs by its
    certainty (the mean of two measurements with unequal uncertainties, GUM 2008, 4.2).

    A piece at the limit of both signs shows a heat of 1:

    >>> from dyecast_calibration.grading_limits import grading_limits
    >>> limits = grading_limits()
    >>> yellowing, bleed = Estimate(limits.most_yellowing, 0.01), Estimate(limits.most_bleed, 0.01)
    >>> round(heat_index(yellowing, bleed, limits).value, 6)
    1.0
    """
    signs = [
        (yellowing.value / limits.most_yellowing, yellowing.uncertainty / limits.most_yellowing),
        (bleed.value / limits.most_bleed, bleed.uncertainty / limits.most_bleed),
    ]
    weights = [1.0 / (uncertainty**2 + limits.heat_sign_scatter**2) for _, uncertainty in signs]
    value = sum(weight * sign for weight, (sign, _) in zip(weights, signs, strict=True)) / sum(weights)
    return Estimate(value, 1.0 / sqrt(sum(weights)), "of the limit")


def _normal_share(deviations: float) -> float:
    """Return the share of a normal distribution below so many standard deviations."""
    return 0.5 * (1.0 + erf(deviations / sqrt(2.0)))
