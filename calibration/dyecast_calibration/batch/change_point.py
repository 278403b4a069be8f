"""Since when a process has been off its centre, how far, and whether it stepped or slid there."""

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np
from numpy.typing import NDArray

TELLING_DIFFERENCE: Final = 2.0
"""Difference of log-likelihoods from which a step and a slide are told apart: odds of seven to one, "positive
evidence" of Kass and Raftery (1995, Journal of the American Statistical Association 90, 773-795). At odds of
three to one, twice as many slides of three standard deviations were called a step (17 % instead of 8 %)."""

INTERVAL_DEPTH: Final = 3.0
"""Log-likelihood below the best, of either shape, down to which a first piece is still possible. Found by
simulation: the interval then holds the true place in 95 to 99 of 100 series of 40 with a step of one to
three, or a slide to three to six, standard deviations."""


class Pattern(StrEnum):
    """How the process moved."""

    STEP = "step"
    TREND = "trend"
    UNCLEAR = "unclear"


@dataclass(frozen=True, slots=True)
class ChangePoint:
    """The most likely change that lasts to the end of the series.

    Attributes
    ----------
    index
        First point after the change, counted from 0.
    earliest_index, latest_index
        Between which it lies with about 95 % certainty or more.
    pattern
        Step, trend, or too little evidence to say.
    size, standard_uncertainty
        Distance from the centre: of all points since a step, at the last point of a trend. It was found
        because it is large, so small moves look larger than they are.
    """

    index: int
    earliest_index: int
    latest_index: int
    pattern: Pattern
    size: float
    standard_uncertainty: float


@dataclass(frozen=True, slots=True)
class _Fit:
    """A change from one point on; `gain` is its log-likelihood above that of no change."""

    gain: float
    index: int
    size: float
    standard_uncertainty: float


def change_point(deviations: NDArray[np.float64], standard_deviations: NDArray[np.float64]) -> ChangePoint:
    """Return the change of greatest likelihood for independent normal values around a known centre.

    A step of unknown size (Samuel, Pignatiello and Calvin 1998) and a straight slide (Perry and Pignatiello
    2006; both from memory) are fitted by weighted least squares from every possible first point on.

    Parameters
    ----------
    deviations
        Float64 (n,), n at least 1: distances from the centre.
    standard_deviations
        Float64 (n,), above 0: of each point while nothing moves.

    Raises
    ------
    ValueError
        The arrays are empty or of different shapes.
    """
    if deviations.ndim != 1 or deviations.size == 0 or deviations.shape != standard_deviations.shape:
        raise ValueError("deviations and standard deviations must be of one shape (n,), n at least 1")
    weights = standard_deviations**-2.0
    steps, slides = (
        [_fit_from(index, deviations[index:], weights[index:], slides) for index in range(deviations.size)]
        for slides in (False, True)
    )
    step, slide = (max(fits, key=lambda fit: fit.gain) for fits in (steps, slides))
    best = step if step.gain >= slide.gain else slide
    clear = abs(step.gain - slide.gain) >= TELLING_DIFFERENCE
    pattern = (Pattern.STEP if best is step else Pattern.TREND) if clear else Pattern.UNCLEAR
    possible = [fit.index for fit in (*steps, *slides) if fit.gain >= best.gain - INTERVAL_DEPTH]
    return ChangePoint(
        best.index, min(possible), max(possible), pattern, best.size, best.standard_uncertainty
    )


def _fit_from(
    index: int, deviations: NDArray[np.float64], weights: NDArray[np.float64], slides: bool
) -> _Fit:
    count = deviations.size
    shape = np.arange(1, count + 1) / count if slides else np.ones(count)
    information = float(np.sum(weights * shape**2))
    score = float(np.sum(weights * shape * deviations))
    return _Fit(score**2 / (2 * information), index, score / information, 1 / math.sqrt(information))
