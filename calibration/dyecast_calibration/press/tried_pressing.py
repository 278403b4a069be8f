"""What one pressing told about a press and a blank, and how likely the press model holds it."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.press.grader_confusion import LAPSE, grade_chances, over_chance
from dyecast_calibration.press.press_model import ExpectedPressing

GRADES: Final = ("under-pressed", "good", "over-pressed")
"""In the order of `grade_chances`."""

PIECE_SCATTER: Final = 0.03
"""Standard deviation of the transferred fraction between pieces pressed alike, with what the model of one
layer leaves out. Our choice; pieces of one dye differ by 0.012 in the tests' scene maker."""

OUTLIER: Final = 0.02
"""Share of measured fractions that say nothing, such as of another piece; over `OUTLIER_RANGE`."""

OUTLIER_RANGE: Final = 1.2
"""Width of the range of transferred fractions an outlier may have."""


@dataclass(frozen=True, slots=True)
class TriedPressing:
    """One pressing and how it came out.

    Attributes
    ----------
    platen_temperature
        K, as the press showed it.
    time
        s, above zero.
    grades
        Of `GRADES`, one for each time that somebody judged the piece; all of them count.
    transferred_fraction, uncertainty
        As measured on a photo, with its standard uncertainty; None without a photo.
    graded_by_photo
        The grades come from the same photo as the fraction, so that they repeat what it says of the ink; then
        they count for heat only.
    """

    platen_temperature: float
    time: float
    grades: tuple[str, ...] = ()
    transferred_fraction: float | None = None
    uncertainty: float | None = None
    graded_by_photo: bool = False


def log_likelihood(tried: TriedPressing, expected: ExpectedPressing, moment: int) -> NDArray[np.float64]:
    """Tell how likely each member holds what was seen, (members,), as a logarithm.

    Parameters
    ----------
    tried
        What was seen.
    expected
        What the members expect, (members, times).
    moment
        Which of the times is that of the pressing.
    """
    transferred, damage = expected.transferred[:, moment], expected.damage[:, moment]
    told = np.zeros(len(transferred))
    ink_is_measured = tried.transferred_fraction is not None and tried.graded_by_photo
    for grade in tried.grades:
        heat_only = _heat_chance(grade, damage) if ink_is_measured else None
        chance = grade_chances(transferred, damage)[GRADES.index(grade)] if heat_only is None else heat_only
        told += np.log(chance)
    if tried.transferred_fraction is not None:
        told += _fraction_told(tried, transferred)
    return told


def _heat_chance(grade: str, damage: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the chance of a grade by heat alone: over-pressed, or not."""
    over = over_chance(damage)
    chance = over if grade == "over-pressed" else 1.0 - over
    return np.asarray((1.0 - LAPSE) * chance + LAPSE / 2.0)


def _fraction_told(tried: TriedPressing, transferred: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the logarithm of the density of the measured fraction."""
    spread = np.hypot(tried.uncertainty or 0.0, PIECE_SCATTER)
    away = (transferred - (tried.transferred_fraction or 0.0)) / spread
    density = np.exp(-(away**2) / 2.0) / (spread * np.sqrt(2.0 * np.pi))
    return np.asarray(np.log((1.0 - OUTLIER) * density + OUTLIER / OUTLIER_RANGE))
