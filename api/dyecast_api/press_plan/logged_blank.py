"""A blank as the press log knows it, for the press model: stack, supplier, limits, what was tried."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from sqlalchemy import Connection

from dyecast_api.press_log.log_rows import all_blanks, all_presses, all_recipes, named
from dyecast_api.press_log.log_values import MACHINE, Blank, Press, Recipe
from dyecast_api.press_log.pressings import LoggedPressing, logged_pressings
from dyecast_calibration.press.learning import SupplierClaim, TriedBlank
from dyecast_calibration.press.press_stack import REFERENCE_PRESSURE, PressStack, pressed_stack
from dyecast_calibration.press.press_window import PressLimits, usual_limits
from dyecast_calibration.press.tried_pressing import TriedPressing
from dyecast_shared.errors import PlanNotPossible

SHEET_THICKNESS: Final = 0.1e-3
"""m, of a protective sheet under the platen, if a recipe names one. Common practice, no published source."""


@dataclass(frozen=True, slots=True)
class LoggedBlank:
    """A blank on a press.

    Attributes
    ----------
    press, blank
        As kept.
    recipe
        Its paper and ink are planned with: the newest one that is not retired, None before there is one.
    pressings
        Those of this blank on this press with that paper and ink, in the log's order.
    tried
        The blank for the press model.
    others
        The other blanks that this press has pressed.
    """

    press: Press
    blank: Blank
    recipe: Recipe | None
    pressings: tuple[LoggedPressing, ...]
    tried: TriedBlank
    others: tuple[TriedBlank, ...]


def logged_blank(
    connection: Connection, shop_id: int, blank: str, press: str, *, recipe: Recipe | None = None
) -> LoggedBlank:
    """Read a blank on a press from the log, as one recipe lays it or, without one, the newest.

    Raises PressLogInvalid when there is no such blank or press.
    """
    presses, blanks = all_presses(connection, shop_id), all_blanks(connection, shop_id)
    wanted_press, wanted = named(presses, press, "press"), named(blanks, blank, "blank")
    recipes = [one for one in all_recipes(connection, shop_id) if one.press_id == wanted_press.number]
    pressed = logged_pressings(connection, shop_id, press_id=wanted_press.number)
    mine = [one for one in recipes if one.blank_id == wanted.number and one.retired_at is None]
    recipe = recipe or (mine[-1] if mine else None)
    by_number = {one.number: one for one in blanks}
    groups: dict[tuple[object, ...], list[LoggedPressing]] = {}
    for one in pressed:
        groups.setdefault(_kind(one.recipe), []).append(one)
    own = () if recipe is None else tuple(groups.pop(_kind(recipe), ()))
    others = tuple(
        _tried(by_number[group[0].recipe.blank_id], group[0].recipe, group) for group in groups.values()
    )
    return LoggedBlank(wanted_press, wanted, recipe, own, _tried(wanted, recipe, own), others)


def supplier_of(blank: Blank) -> SupplierClaim:
    """Return what the supplier recommends; raises PlanNotPossible when nobody entered it."""
    if blank.supplier_temperature_k is None or blank.supplier_time_s is None:
        raise PlanNotPossible(
            f"What the supplier of '{blank.name}' recommends was not entered; dyecast makes up no recipe.",
            advice="Enter its supplier's temperature and time.",
            field="supplier_figure",
        )
    return SupplierClaim(blank.supplier_temperature_k, blank.supplier_time_s)


def limits_of(blank: Blank, press: Press) -> PressLimits:
    """Return the limits that no advice may pass: those that were set, and around the supplier's figure else.

    Raises PlanNotPossible when nothing lies between them.
    """
    usual = usual_limits(supplier_of(blank))
    hottest = [
        usual.highest_temperature if blank.highest_temperature_k is None else blank.highest_temperature_k
    ]
    hottest += [] if press.highest_temperature_k is None else [press.highest_temperature_k]
    lowest, longest = blank.lowest_temperature_k, blank.longest_time_s
    try:
        return PressLimits(
            lowest_temperature=min(usual.lowest_temperature, *hottest) if lowest is None else lowest,
            highest_temperature=min(hottest),
            shortest_time=min(usual.shortest_time, longest or usual.shortest_time)
            if blank.shortest_time_s is None
            else blank.shortest_time_s,
            longest_time=max(usual.longest_time, blank.shortest_time_s or 0.0)
            if longest is None
            else longest,
        )
    except ValueError as problem:
        raise PlanNotPossible(
            f"The limits of blank '{blank.name}' and press '{press.name}' leave nothing between them.",
            advice="Look at the limits of both.",
            field="limits",
        ) from problem


def stack_of(blank: Blank, recipe: Recipe | None) -> PressStack:
    """Return what lies in the press."""
    pressure = None if recipe is None else recipe.pressure_kpa
    return pressed_stack(
        blank.material,
        blank.thickness_mm / 1e3,
        pressure=REFERENCE_PRESSURE if pressure is None else 1e3 * pressure,
        through_blank=recipe is not None and recipe.through_blank,
        sheet_thickness=SHEET_THICKNESS if recipe is not None and recipe.protective_sheet else 0.0,
    )


def tried_pressings(logged: Iterable[LoggedPressing]) -> tuple[TriedPressing, ...]:
    """Return what the pressings told: what people said of a piece, and its photo; without both, nothing.

    Where a person graded, the machine's grade is left out: the person saw the piece. Its measured ink stays.
    """
    return tuple(one for one in map(_told, logged) if one.grades or one.transferred_fraction is not None)


def _told(logged: LoggedPressing) -> TriedPressing:
    by_people = tuple(given.grade for given in logged.grades if given.judged_by != MACHINE)
    one = logged.pressing
    return TriedPressing(
        platen_temperature=one.temperature_k,
        time=one.time_s,
        grades=by_people or tuple(given.grade for given in logged.grades),
        transferred_fraction=one.transferred_fraction,
        uncertainty=one.transferred_fraction_uncertainty,
        graded_by_photo=not by_people,
    )


def _kind(recipe: Recipe) -> tuple[object, ...]:
    """Return what makes two recipes the same to heat and dye, temperature and time aside."""
    laid = (recipe.protective_sheet, recipe.pressure_kpa, recipe.through_blank)
    return (recipe.blank_id, recipe.paper, recipe.ink, *laid)


def _tried(blank: Blank, recipe: Recipe | None, pressings: Sequence[LoggedPressing]) -> TriedBlank:
    known = blank.supplier_temperature_k is not None and blank.supplier_time_s is not None
    supplier = supplier_of(blank) if known else None
    return TriedBlank(stack_of(blank, recipe), supplier, tried_pressings(pressings))
