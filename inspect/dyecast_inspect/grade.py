"""From signs to a grade: the trained grader's probabilities, and what it does not rule out."""

from dataclasses import dataclass

from dyecast_calibration.grader_model import GraderModel
from dyecast_inspect.grading_signs import GradingSigns
from dyecast_inspect.inspection import Verdict


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
