"""Figures of a grader: how often it is right, how honest its probabilities are, what it notices."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.grader_model import GRADES
from grader.learning import least_possible
from grader.pieces import CLEAR_BY, LEAST_FRACTION, LEAST_HEAT

Probabilities = NDArray[np.float64]
Labels = NDArray[np.int64]

NEVER = 2.0
"""A probability that none reaches."""

RELIABILITY_BINS = 10
"""Bins of equal width in which stated and observed shares are compared."""

NOTICED = 0.9
"""Share of pieces that must be noticed: nine in ten."""


@dataclass(frozen=True, slots=True)
class DoseRange:
    """A range of doses with a name; `clear` when the answer is beyond dispute."""

    name: str
    low: float
    high: float
    clear: bool


MADE_RANGES = (
    DoseRange("under, clear", 0.0, LEAST_FRACTION - CLEAR_BY, True),
    DoseRange("under, near the limit", LEAST_FRACTION - CLEAR_BY, LEAST_FRACTION, False),
    DoseRange("good, near the lower limit", LEAST_FRACTION, LEAST_FRACTION + CLEAR_BY, False),
    DoseRange("good, clear", LEAST_FRACTION + CLEAR_BY, LEAST_HEAT - CLEAR_BY, True),
    DoseRange("good, near the upper limit", LEAST_HEAT - CLEAR_BY, LEAST_HEAT, False),
    DoseRange("over, near the limit", LEAST_HEAT, LEAST_HEAT + CLEAR_BY, False),
    DoseRange("over, clear", LEAST_HEAT + CLEAR_BY, 9.0, True),
)
"""Of made pieces: at least 8 % of the ink, or of the dose, away from both limits is clear."""

PHOTO_RANGES = (
    DoseRange("under", 0.0, 0.8501, True),
    DoseRange("good", 0.93, 1.0301, True),
    DoseRange("mildly over", 1.12, 1.25, False),
    DoseRange("over", 1.25, 9.0, True),
)
"""Of photos given with truth, in the words of their index of dose."""


@dataclass(frozen=True, slots=True)
class Score:
    """How a set of pieces was graded: shares of `count`; opposite is under for over or over for under.

    A piece sent back, since the photo does not tell pale from faded, is neither right nor opposite.
    """

    count: int
    right: float
    sent_back: float
    near_limit: float
    opposite: int
    right_when_sure: float


def score(probabilities: Probabilities, labels: Labels, least: float, most_opposite: float = NEVER) -> Score:
    """Score pieces; near the limit are those judged of which not exactly one grade is possible."""
    if not len(labels):
        return Score(0, *(float("nan"),) * 3, 0, float("nan"))
    called = probabilities.argmax(axis=1)
    judged = ~untold(probabilities, most_opposite)
    near = judged & ((probabilities >= least).sum(axis=1) != 1)
    right = judged & (called == labels)
    opposite = judged & (np.abs(called - labels) == len(GRADES) - 1)
    sure = right[judged & ~near].mean() if (judged & ~near).any() else float("nan")
    return Score(
        len(labels),
        float(right.mean()),
        float(1.0 - judged.mean()),
        float(near.mean()),
        int(opposite.sum()),
        float(sure),
    )


def untold(probabilities: Probabilities, most_opposite: float) -> NDArray[np.bool_]:
    """Tell which pieces are sent back: called under or over while the other is as probable as that."""
    called = probabilities.argmax(axis=1)
    other = probabilities[np.arange(len(called)), len(GRADES) - 1 - called]
    return np.asarray((called != GRADES.index("good")) & (other >= most_opposite))


def in_range(doses: NDArray[np.float64], dose_range: DoseRange) -> NDArray[np.bool_]:
    """Tell which doses lie in a range."""
    return np.asarray((doses >= dose_range.low) & (doses < dose_range.high))


def reliability(probabilities: Probabilities, labels: Labels) -> list[tuple[float, float, int]]:
    """Return (mean confidence, share right, count) of the called grade in each bin that holds any."""
    confidence = probabilities.max(axis=1)
    right = probabilities.argmax(axis=1) == labels
    place = np.minimum((confidence * RELIABILITY_BINS).astype(int), RELIABILITY_BINS - 1)
    bins = [place == each for each in range(RELIABILITY_BINS)]
    return [
        (float(confidence[inside].mean()), float(right[inside].mean()), int(inside.sum()))
        for inside in bins
        if inside.any()
    ]


def expected_calibration_error(probabilities: Probabilities, labels: Labels) -> float:
    """Return the mean distance of confidence and share right, bins weighted by count (Naeini et al. 2015)."""
    rows = reliability(probabilities, labels)
    return sum(count * abs(confidence - right) for confidence, right, count in rows) / len(labels)


def split_coverage(
    probabilities: Probabilities, labels: Labels, *, splits: int = 200, seed: int = 3
) -> tuple[float, float]:
    """Return the mean coverage, and its spread, on halves that did not set the least probability."""
    random = np.random.default_rng(seed)
    covered = []
    for _ in range(splits):
        order = random.permutation(len(labels))
        half = len(labels) // 2
        setting, asked = order[:half], order[half:]
        least = least_possible(probabilities[setting], labels[setting])
        covered.append(float((probabilities[asked, labels[asked]] >= least).mean()))
    return float(np.mean(covered)), float(np.std(covered))


def noticed_at(amounts: Sequence[float], called: Sequence[bool], *, rising: bool) -> float:
    """Return the amount at which a logistic curve through yes and no answers passes nine in ten.

    `rising` says whether more of the amount is noticed more often. Source: the psychometric function
    (Wichmann and Hill 2001), logistic, without lapses.
    """
    from sklearn.linear_model import LogisticRegression

    curve = LogisticRegression(C=1e4).fit(np.array(amounts)[:, np.newaxis], np.array(called))
    slope, start = float(curve.coef_[0, 0]), float(curve.intercept_[0])
    if (slope > 0) != rising:
        return float("nan")
    return (float(np.log(NOTICED / (1 - NOTICED))) - start) / slope
