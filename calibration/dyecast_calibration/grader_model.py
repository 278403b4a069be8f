"""The trained grader: from the signs of a pressing to the probabilities of the three grades.

A multinomial logistic regression on standardised signs (Hastie, Tibshirani and Friedman, "The Elements of
Statistical Learning", 2nd ed. 2009, section 4.4), stored as readable numbers. What it abstains from is told
by split conformal prediction (Vovk, Gammerman and Shafer 2005; Sadinle, Lei and Wasserman 2019): of the
grades it does not rule out, the right one is among them in at least `coverage` of all cases.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

GRADES: Final = ("under-pressed", "good", "over-pressed")
"""The grades, in the order of the model's rows."""

FORMAT: Final = "dyecast-grader"
FORMAT_VERSION: Final = 1


@dataclass(frozen=True, slots=True, eq=False)
class GraderModel:
    """The grader's numbers.

    Attributes
    ----------
    signs
        Names of the signs it sees, n of them.
    least, most
        (n,) the range of each sign in training; beyond it a sign says no more than at its end.
    centre, scale
        (n,) what is taken off each sign, and by what the rest is divided.
    weights, bias
        (3, n) and (3,) of the linear predictors, in the order of `GRADES`.
    least_probability
        A grade with a smaller probability is ruled out.
    coverage
        Share of cases, at the least, in which the right grade is not ruled out, 0..1.
    good_centre, good_spread
        Mean and standard deviation of ``ink`` (log fraction), ``yellowing`` (density) and ``bleed`` (mm²) of
        the good pieces it was trained on.
    """

    signs: tuple[str, ...]
    least: NDArray[np.float64]
    most: NDArray[np.float64]
    centre: NDArray[np.float64]
    scale: NDArray[np.float64]
    weights: NDArray[np.float64]
    bias: NDArray[np.float64]
    least_probability: float
    coverage: float
    good_centre: dict[str, float]
    good_spread: dict[str, float]

    def probabilities(self, signs: Mapping[str, float]) -> dict[str, float]:
        """Return the probability of each grade; they add up to 1.

        Raises KeyError when a sign is missing.
        """
        values = np.clip([signs[name] for name in self.signs], self.least, self.most)
        predictors = self.weights @ ((values - self.centre) / self.scale) + self.bias
        shares = np.exp(predictors - predictors.max())
        shares /= shares.sum()
        return dict(zip(GRADES, shares.tolist(), strict=True))

    def possible(self, probabilities: Mapping[str, float]) -> tuple[str, ...]:
        """Return the grades that are not ruled out; none or several when the case is near a limit."""
        return tuple(name for name in GRADES if probabilities[name] >= self.least_probability)


@cache
def trained_grader() -> GraderModel:
    """Return the grader that ships with dyecast."""
    text = files("dyecast_calibration").joinpath("grader_model.json").read_text(encoding="utf-8")
    return grader_from(json.loads(text))


def grader_from(record: Mapping[str, Any]) -> GraderModel:
    """Build the grader from its JSON record; ValueError when it is of another format."""
    if record.get("format") != FORMAT or record.get("format_version") != FORMAT_VERSION:
        raise ValueError("this is no grader of a version that can be read")
    signs = record["signs"]
    return GraderModel(
        signs=tuple(sign["name"] for sign in signs),
        least=np.array([sign["least"] for sign in signs], np.float64),
        most=np.array([sign["most"] for sign in signs], np.float64),
        centre=np.array([sign["centre"] for sign in signs], np.float64),
        scale=np.array([sign["scale"] for sign in signs], np.float64),
        weights=np.array([[sign["weights"][grade] for sign in signs] for grade in GRADES], np.float64),
        bias=np.array([record["bias"][grade] for grade in GRADES], np.float64),
        least_probability=float(record["conformal"]["least_probability"]),
        coverage=float(record["conformal"]["coverage"]),
        good_centre={name: float(each["centre"]) for name, each in record["good"].items()},
        good_spread={name: float(each["spread"]) for name, each in record["good"].items()},
    )
