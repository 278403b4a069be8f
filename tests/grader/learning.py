"""Fitting the grader: weights, calibrated probabilities, and the coverage it promises."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from sklearn.linear_model import LogisticRegression
from sklearn.preprocessing import StandardScaler

from dyecast_calibration.grader_model import FORMAT, FORMAT_VERSION, GRADES
from grader.measured import PieceRow

SIGNS = (
    "ink",
    "pale",
    "cyan_lag",
    "yellow_lag",
    "yellowing",
    "spread",
    "ink_deviations",
    "yellowing_deviations",
    "spread_deviations",
    "ink_beside_yellowing",
    "ink_beside_spread",
    "pale_beside_cyan_lag",
    "yellow_lag_beside_yellowing",
    "yellowing_beside_spread",
    "yellowing_root",
    "ink_uncertainty",
    "yellowing_uncertainty",
    "bleed_uncertainty_log",
)
"""Signs the grader sees: physical ones and how sure they are. What only describes the photo (gain, veil) was
tried: it made unseen cameras worse."""

PENALTY = 0.1
"""Inverse strength of the ridge penalty on the weights (scikit-learn's C). From 0.1 to 1 unseen made pieces
are graded alike (log loss 0.261, 0.259, 0.261; 8, 9 and 9 opposite before any is sent back); the smallest is
the most cautious on photos unlike those it was trained on."""

OUTLIERS_PERCENT = 0.2
"""Share of pieces, at each end, whose sign is taken back to the rest: a value never seen in training must not
outweigh all others."""

COVERAGE = 0.9
"""Share of pieces whose right grade must not be ruled out."""

KNOWN_NOTHING = 1.0 / len(GRADES)
"""Probability that each grade has while nothing is known. A grade as likely as that is not ruled out even
where the promised coverage would allow it: a piece at one half against one half is near a limit."""

Matrix = NDArray[np.float64]
Labels = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Fitted:
    """A fitted grader before it is written: range, scaler, regression, temperature of its probabilities."""

    least: Matrix
    most: Matrix
    scaler: StandardScaler
    regression: LogisticRegression
    temperature: float = 1.0

    def predictors(self, values: Matrix) -> Matrix:
        """Return the linear predictors, (n, 3)."""
        inside = np.clip(values, self.least, self.most)
        raw = self.regression.decision_function(self.scaler.transform(inside))
        return np.asarray(raw / self.temperature, np.float64)

    def probabilities(self, values: Matrix) -> Matrix:
        """Return probabilities, (n, 3), in the order of `GRADES`."""
        return softmax(self.predictors(values))


def softmax(predictors: Matrix) -> Matrix:
    """Turn linear predictors (n, k) into probabilities."""
    shares = np.exp(predictors - predictors.max(axis=1, keepdims=True))
    return np.asarray(shares / shares.sum(axis=1, keepdims=True), np.float64)


def sign_matrix(rows: Sequence[PieceRow], names: Sequence[str] = SIGNS) -> Matrix:
    """Return the signs of judged pieces, (n, len(names))."""
    named = [row.signs.named() for row in rows if row.signs is not None]
    return np.array([[signs[name] for name in names] for signs in named], np.float64)


def labels_of(rows: Sequence[PieceRow]) -> Labels:
    """Return the right grades as places in `GRADES`."""
    return np.array([GRADES.index(row.truth["state"]) for row in rows], np.int64)


def fit(values: Matrix, labels: Labels) -> Fitted:
    """Fit the regression; the order of its classes is that of `GRADES`."""
    least, most = np.percentile(values, [OUTLIERS_PERCENT, 100.0 - OUTLIERS_PERCENT], axis=0)
    inside = np.clip(values, least, most)
    scaler = StandardScaler().fit(inside)
    regression = LogisticRegression(C=PENALTY, max_iter=5000).fit(scaler.transform(inside), labels)
    return Fitted(least, most, scaler, regression)


def unseen_predictors(
    rows: Sequence[PieceRow], values: Matrix, labels: Labels, make: Callable[[Matrix, Labels], Fitted] = fit
) -> Matrix:
    """Return the predictors of every piece by a fit that saw neither its artwork's kind nor its camera."""
    artworks = np.array([row.truth["artwork"] for row in rows])
    cameras = np.array([row.truth["camera"] for row in rows])
    predicted = np.full((len(rows), len(GRADES)), np.nan)
    for artwork in np.unique(artworks):
        for camera in np.unique(cameras):
            asked = (artworks == artwork) & (cameras == camera)
            seen = (artworks != artwork) & (cameras != camera)
            if asked.any():
                predicted[asked] = make(values[seen], labels[seen]).predictors(values[asked])
    return predicted


def best_temperature(predictors: Matrix, labels: Labels) -> float:
    """Return the temperature that makes probabilities of unseen pieces likeliest (Guo et al. 2017)."""
    tried = np.exp(np.linspace(np.log(0.5), np.log(3.0), 61))
    return float(min(tried, key=lambda temperature: log_loss(softmax(predictors / temperature), labels)))


def log_loss(probabilities: Matrix, labels: Labels) -> float:
    """Return the mean negative log probability of the right grade."""
    return float(-np.log(np.maximum(probabilities[np.arange(len(labels)), labels], 1e-12)).mean())


def least_probability(probabilities: Matrix, labels: Labels, coverage: float = COVERAGE) -> float:
    """Return the probability below which a grade is ruled out (split conformal, least ambiguous sets).

    The right grade's probability of n unseen pieces, its floor((n + 1)(1 - coverage))-th smallest value:
    a new piece's lies at or above it with at least that coverage.
    """
    right = np.sort(probabilities[np.arange(len(labels)), labels])
    rank = int(np.floor((len(right) + 1) * (1.0 - coverage)))
    return float(right[max(rank, 1) - 1])


def least_possible(probabilities: Matrix, labels: Labels) -> float:
    """Return the probability below which a grade is ruled out; at least `COVERAGE` is kept, mostly more."""
    return min(least_probability(probabilities, labels), KNOWN_NOTHING)


def good_look(rows: Sequence[PieceRow]) -> dict[str, dict[str, float]]:
    """Return mean and standard deviation of the good pieces' ink, yellowing and bleed."""
    signs = [row.signs for row in rows if row.signs is not None and row.truth["state"] == "good"]
    figures = {
        "ink": [each.ink for each in signs],
        "yellowing": [each.yellowing for each in signs],
        "bleed": [each.bleed for each in signs],
    }
    return {
        name: {"centre": round(float(np.mean(values)), 6), "spread": round(float(np.std(values)), 6)}
        for name, values in figures.items()
    }


def record_of(
    fitted: Fitted, least: float, good: dict[str, dict[str, float]], about: dict[str, Any]
) -> dict[str, Any]:
    """Return the JSON record of a fitted grader, its temperature already divided out."""
    weights, bias = (
        fitted.regression.coef_ / fitted.temperature,
        fitted.regression.intercept_ / fitted.temperature,
    )
    return {
        "format": FORMAT,
        "format_version": FORMAT_VERSION,
        "about": about,
        "conformal": {"coverage": COVERAGE, "least_probability": round(least, 4)},
        "good": good,
        "bias": {grade: round(float(bias[row]), 5) for row, grade in enumerate(GRADES)},
        "signs": [
            {
                "name": name,
                "least": round(float(fitted.least[place]), 6),
                "most": round(float(fitted.most[place]), 6),
                "centre": round(float(fitted.scaler.mean_[place]), 6),
                "scale": round(float(fitted.scaler.scale_[place]), 6),
                "weights": {grade: round(float(weights[row, place]), 5) for row, grade in enumerate(GRADES)},
            }
            for place, name in enumerate(SIGNS)
        ],
    }
