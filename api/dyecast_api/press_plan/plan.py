"""The plan of a blank's next pressing: learned from the log, chosen within the limits."""

from dataclasses import dataclass
from typing import Final

from dyecast_api.press_log.log_values import Blank
from dyecast_api.press_plan.logged_blank import LoggedBlank, limits_of, supplier_of
from dyecast_calibration.press.learning import LearnedBlank, SupplierClaim, learned_blank, learned_press
from dyecast_calibration.press.next_pressing import SMALL_STEPS, USUAL_STEPS, NextPressing, next_pressing
from dyecast_calibration.press.press_window import PressLimits, PressWindow, press_window

DEAR: Final = 5.0
"""Cost of a blank, in whatever currency it was entered, from which steps are small. Our choice; the command
line can ask for either."""


@dataclass(frozen=True, slots=True, eq=False)
class Plan:
    """What was known and what is advised; `small_steps` tells that the blank is treated as dear."""

    known: LoggedBlank
    supplier: SupplierClaim
    limits: PressLimits
    learned: LearnedBlank
    window: PressWindow
    advised: NextPressing
    small_steps: bool


def planned(known: LoggedBlank, *, small_steps: bool | None = None) -> Plan:
    """Plan the next pressing; None asks the blank's cost whether steps are small.

    Raises PlanNotPossible without a supplier's recommendation, or when the limits leave nothing.
    """
    supplier, limits = supplier_of(known.blank), limits_of(known.blank, known.press)
    small = is_dear(known.blank) if small_steps is None else small_steps
    learned = learned_blank(known.tried, learned_press(known.others))
    window = press_window(learned, known.tried.stack, supplier, limits)
    steps = SMALL_STEPS if small else USUAL_STEPS
    advised = next_pressing(window, supplier, limits, known.tried.tried, steps)
    return Plan(known, supplier, limits, learned, window, advised, small)


def is_dear(blank: Blank) -> bool:
    """Tell whether a blank costs so much that steps should be small."""
    return blank.cost is not None and blank.cost >= DEAR
