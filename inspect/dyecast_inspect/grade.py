"""From signs to a grade: the trained grader's probabilities, and what it does not rule out."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from dyecast_calibration.grader_model import GraderModel
from dyecast_inspect.grading_signs import GradingSigns
from dyecast_inspect.inspection import Verdict
from dyecast_shared.errors import HeatUnclear

OPPOSITE: Final = {
    Verdict.UNDER_PRESSED: Verdict.OVER_PRESSED.value,
    Verdict.OVER_PRESSED: Verdict.UNDER_PRESSED.value,
}
"""Grades that look alike and ask for opposite remedies."""


@dataclass(frozen=True, slots=True)
class Grade:
    """A grade with its probabilities.

    `probabilities` is over ``under-pressed``, ``good``, ``over-pressed`` and adds up to 1; `confidence` is
    the verdict's own; `near_limit` tells that not exactly one grade is left possible.
    """

    verdict: Verdict
    confidence: float
    near_limit: bool
    probabilities: dict[str, float]


def grade_by_signs(signs: GradingSigns, grader: GraderModel) -> Grade:
    """Grade a piece by its signs."""
    probabilities = grader.probabilities(signs.named())
    name, confidence = max(probabilities.items(), key=lambda item: item[1])
    return Grade(Verdict(name), confidence, len(grader.possible(probabilities)) != 1, probabilities)


def check_heat_told(verdict: Verdict, probabilities: Mapping[str, float], most_opposite: float) -> None:
    """Raise HeatUnclear when the opposite of the verdict has a probability of `most_opposite` or more."""
    opposite = probabilities.get(OPPOSITE.get(verdict, ""), 0.0)
    if opposite >= most_opposite:
        raise HeatUnclear(
            "The piece looks pale, and this photo does not tell whether too little ink came or heat took it."
        )
