"""How likely a pressing comes out pale, good or over-pressed."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.grading_limits import grading_limits
from dyecast_calibration.press.press_model import ExpectedPressing

MOST_DAMAGE: Final = 1.0
"""Damage above which a piece is over-pressed. By definition the coating has then yellowed as far as
`grading_limits().most_yellowing`."""


@dataclass(frozen=True, slots=True, eq=False)
class PressChances:
    """Shares of the members, (times,), that come out one way; together 1.

    Attributes
    ----------
    pale
        Not over-pressed, and less dye transferred than `grading_limits().least_transferred_fraction`.
    good
        Neither pale nor over-pressed.
    over
        Damage beyond `MOST_DAMAGE`, however much dye there is.
    """

    pale: NDArray[np.float64]
    good: NDArray[np.float64]
    over: NDArray[np.float64]


def press_chances(expected: ExpectedPressing) -> PressChances:
    """Tell how likely each outcome is, all members of `expected` counting alike."""
    damaged = expected.damage > MOST_DAMAGE
    faint = expected.transferred < grading_limits().least_transferred_fraction
    over, pale = np.mean(damaged, axis=0), np.mean(faint & ~damaged, axis=0)
    return PressChances(pale, np.mean(~faint & ~damaged, axis=0), over)
