"""How many seconds more a piece needs that is pressed again with its paper still in place."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.grading_limits import grading_limits
from dyecast_calibration.press.learning import LearnedBlank
from dyecast_calibration.press.press_again import (
    CoolingPlace,
    before_pressing,
    continue_pressing,
    cooled,
    pressed,
)
from dyecast_calibration.press.press_chances import MOST_DAMAGE, PressChances, press_chances
from dyecast_calibration.press.press_priors import parameters_at
from dyecast_calibration.press.press_stack import PressStack

FOLLOWED: Final = 100
"""Members that are followed through pressing, cooling and pressing: chances are then known within 5 %."""

TIMES: Final = 60
"""Moments of the second pressing that are compared."""


@dataclass(frozen=True, slots=True)
class OpenedPress:
    """A press that was opened: K as it shows, s of the pressing, s since, and where the piece lies."""

    temperature: float
    time: float
    cooling: float
    place: CoolingPlace


@dataclass(frozen=True, slots=True, eq=False)
class ExtraTime:
    """What a second pressing comes to.

    Attributes
    ----------
    seconds
        The time that most likely makes the piece good, closed press to open press, s.
    earliest, latest
        s by which one in six and five in six members have their ink; infinite for those that never do.
    chances
        Pale, good and over at `seconds`, each (1,).
    coating_temperature
        K at which the piece goes back into the press.
    reheating
        s until the coating is as hot again as when the press opened: hardly any dye moves before.
    """

    seconds: float
    earliest: float
    latest: float
    chances: PressChances
    coating_temperature: float
    reheating: float


def extra_time(learned: LearnedBlank, stack: PressStack, opened: OpenedPress, longest: float) -> ExtraTime:
    """Compute the second pressing, at the temperature of the first one.

    Parameters
    ----------
    learned
        What is known, the first pressing's grade and ink included.
    stack
        What lies in the press.
    opened
        The first pressing, and what came after it.
    longest
        s that the second pressing may take, above zero.
    """
    parameters = parameters_at(learned.scores[:: max(1, len(learned.scores) // FOLLOWED)])
    kelvin = opened.temperature
    hot = pressed(before_pressing(stack, parameters), stack, kelvin, opened.time, parameters)
    before = continue_pressing(hot, stack, kelvin, [0.0], parameters).coating_temperature[:, 0]
    times = np.unique(np.round(np.linspace(0.0, longest, TIMES)))
    back = cooled(hot, stack, opened.cooling, parameters, opened.place)
    again = continue_pressing(back, stack, kelvin, times, parameters)
    chances = press_chances(again)
    best = int(np.argmax(chances.good))
    enough = (again.transferred >= grading_limits().least_transferred_fraction) & (
        again.damage <= MOST_DAMAGE
    )
    earliest, latest = np.percentile(_first(times, enough), [16.0, 84.0], method="nearest")
    warm = again.coating_temperature >= before[:, None] - 1.0
    return ExtraTime(
        seconds=float(times[best]),
        earliest=float(earliest),
        latest=float(latest),
        chances=PressChances(*(getattr(chances, way)[best : best + 1] for way in ("pale", "good", "over"))),
        coating_temperature=float(np.median(again.coating_temperature[:, 0])),
        reheating=float(np.median(_first(times, warm))),
    )


def _first(times: NDArray[np.float64], reached: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Return the first time at which each member (members, times) got there, infinity for never."""
    return np.where(reached.any(axis=1), times[np.argmax(reached, axis=1)], np.inf)
