"""What pages and the HTTP interface do with a shop's press log: the same checks for both."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from sqlalchemy import Connection, select

from dyecast_api.batches.batch_pieces import InspectedPhoto
from dyecast_api.batches.inspected_piece import PieceEntry, pressing_of
from dyecast_api.press_log.entered_blank import BlankEntry, entered_blank
from dyecast_api.press_log.entered_press import PressEntry, entered_press
from dyecast_api.press_log.entered_pressing import PressingEntry, entered_person, entered_pressing
from dyecast_api.press_log.entered_recipe import RecipeEntry, entered_recipe
from dyecast_api.press_log.log_limits import beyond_limits
from dyecast_api.press_log.log_notes import log_notes
from dyecast_api.press_log.log_rows import (
    Thing,
    add_blank,
    add_press,
    add_recipe,
    all_blanks,
    all_presses,
    all_recipes,
)
from dyecast_api.press_log.log_values import GRADES, Blank, Press, Pressing, Recipe
from dyecast_api.press_log.pressings import LoggedPressing, add_pressing, logged_pressings
from dyecast_api.press_plan.logged_blank import logged_blank
from dyecast_api.press_plan.plan import Plan, planned
from dyecast_api.records.inspection_records import InspectionRecord, find_inspection
from dyecast_api.server.batch_requests import kept_once
from dyecast_api.server.state import ServerState
from dyecast_api.store.database import reading, writing
from dyecast_api.store.press_tables import pressings
from dyecast_api.work.file_rows import KeptFile
from dyecast_api.work.queue import InspectionResult
from dyecast_shared.errors import PressLogInvalid
from dyecast_shared.request_errors import NotFinished, NotFound

NO_PRESS: Final = "There is no such press."
NO_BLANK: Final = "There is no such blank."
NO_RECIPE: Final = "There is no such recipe."


@dataclass(frozen=True, slots=True)
class PressingOrder:
    """A pressing to be logged: by whose word (`grade` and `judged_by`), by an inspection, or by both."""

    recipe: int
    entry: PressingEntry
    grade: str | None = None
    judged_by: str = ""
    inspection: str | None = None
    as_written: bool = False


@dataclass(frozen=True, slots=True)
class KeptPressing:
    """A pressing as it was logged, with sentences about what it passes or contradicts."""

    logged: LoggedPressing
    notes: tuple[str, ...]


def keep_press(server: ServerState, shop_id: int, entry: PressEntry, *, as_written: bool) -> Press:
    """Add a press; raises what `entered_press` does, and for a name that is taken."""
    press = entered_press(entry, server.clock(), as_written=as_written)
    with kept_once(server.engine) as connection:
        return replace(press, number=add_press(connection, shop_id, press))


def keep_blank(server: ServerState, shop_id: int, entry: BlankEntry, *, as_written: bool) -> Blank:
    """Add a kind of blank; raises what `entered_blank` does, and for a name that is taken."""
    blank = entered_blank(entry, server.clock(), as_written=as_written)
    with kept_once(server.engine) as connection:
        return replace(blank, number=add_blank(connection, shop_id, blank))


def keep_recipe(
    server: ServerState, shop_id: int, place: tuple[int, int], entry: RecipeEntry, *, as_written: bool
) -> Recipe:
    """Add a recipe for a press and a blank, `place` their numbers; raises what `entered_recipe` does."""
    with kept_once(server.engine) as connection:
        press = numbered(all_presses(connection, shop_id), place[0], NO_PRESS)
        blank = numbered(all_blanks(connection, shop_id), place[1], NO_BLANK)
        recipe = entered_recipe(entry, press, blank, server.clock(), as_written=as_written)
        return replace(recipe, number=add_recipe(connection, shop_id, recipe))


def keep_pressing(server: ServerState, shop_id: int, order: PressingOrder) -> KeptPressing:
    """Log a pressing.

    Raises NotFound, NotFinished, PressEntryUnclear, and PressLogInvalid when nobody says how it came out or
    the inspection counts already.
    """
    with writing(server.engine) as connection:
        recipe = numbered(all_recipes(connection, shop_id), order.recipe, NO_RECIPE)
        pressing = entered_pressing(order.entry, recipe, server.clock(), as_written=order.as_written)
        if order.inspection is not None:
            pressing = _with_inspection(connection, shop_id, pressing, recipe, order.inspection)
        pressing = _with_grade(pressing, order)
        number = add_pressing(connection, shop_id, pressing)
        return _kept(connection, shop_id, number)


def numbered(things: Sequence[Thing], number: int, words: str) -> Thing:
    """Return the thing of this number; raise NotFound, saying `words`."""
    for thing in things:
        if thing.number == number:
            return thing
    raise NotFound(words)


def plan_of(
    server: ServerState, shop_id: int, blank: int, press: int, *, small_steps: bool | None = None
) -> Plan:
    """Plan a blank's next pressing on a press; raises NotFound, PlanNotPossible."""
    with reading(server.engine) as connection:
        of = numbered(all_blanks(connection, shop_id), blank, NO_BLANK)
        on = numbered(all_presses(connection, shop_id), press, NO_PRESS)
        known = logged_blank(connection, shop_id, of.name, on.name)
    return planned(known, small_steps=small_steps)


def _with_grade(pressing: Pressing, order: PressingOrder) -> Pressing:
    """Return the pressing as a person graded it; the machine's word stays where no person did."""
    if order.grade is not None:
        return replace(
            pressing, grade=order.grade, judged_by=entered_person(order.judged_by), confidence=None
        )
    if order.judged_by.strip():
        raise PressLogInvalid(
            "A person is named, but no grade.", advice="Say how the piece came out.", field="grade"
        )
    if pressing.grade is None:
        raise PressLogInvalid(
            "Nobody says how the piece came out.", advice="Give a grade, or an inspection.", field="grade"
        )
    return pressing


def _with_inspection(
    connection: Connection, shop_id: int, pressing: Pressing, recipe: Recipe, public_id: str
) -> Pressing:
    """Return the pressing with what the photo of an inspection told."""
    record = find_inspection(connection, shop_id, public_id)
    if record is None:
        raise NotFound("There is no such inspection.")
    _check_countable(connection, shop_id, record)
    line = record.line
    result = InspectionResult(line.verdict or "", document=dict(record.document or {}))
    photo = InspectedPhoto(line.photo_name, KeptFile(record.photo_sha256, 0, ""), result)
    seen = pressing_of(
        recipe, PieceEntry(pressing.pressed_at), photo, record.photo_sha256, pressing.logged_at
    )
    return replace(
        seen,
        temperature_k=pressing.temperature_k,
        time_s=pressing.time_s,
        pressure_kpa=pressing.pressure_kpa,
        lost=pressing.lost,
        note=pressing.note,
        inspection_id=line.id,
    )


def _check_countable(connection: Connection, shop_id: int, record: InspectionRecord) -> None:
    """Refuse an inspection that says nothing of a whole piece, or that counts already."""
    line = record.line
    if line.finished_at is None:
        raise NotFinished("The piece is still being inspected.")
    if line.peek or line.verdict not in GRADES:
        raise PressLogInvalid(
            "That inspection graded no whole piece.", advice="Choose another one.", field="inspection"
        )
    if line.batch_id is not None:
        raise PressLogInvalid(
            "That inspection belongs to a batch.", advice="The batch logs it by itself.", field="inspection"
        )
    same = select(pressings.c.id).where(
        pressings.c.shop_id == shop_id,
        pressings.c.inspection_id == line.id,
        pressings.c.taken_back_at.is_(None),
    )
    number = connection.execute(same).scalar()
    if number is not None:
        raise PressLogInvalid(
            f"That inspection is logged already, as pressing {number}.",
            advice="Nothing was logged.",
            field="inspection",
        )


def _kept(connection: Connection, shop_id: int, number: int) -> KeptPressing:
    """Return a pressing that was just logged, with what it passes or contradicts."""
    logged = logged_pressings(connection, shop_id)
    one = next(one for one in logged if one.pressing.number == number)
    blank = numbered(all_blanks(connection, shop_id), one.recipe.blank_id, NO_BLANK)
    press = numbered(all_presses(connection, shop_id), one.recipe.press_id, NO_PRESS)
    beyond = beyond_limits(blank, press, one.pressing.temperature_k, one.pressing.time_s)
    told = [f"It was pressed beyond a limit: {beyond}. It is kept and counts."] if beyond else []
    return KeptPressing(one, (*told, *notes_about(logged, number)))


def notes_about(logged: Sequence[LoggedPressing], number: int) -> tuple[str, ...]:
    """Return what in the log contradicts itself and names this pressing."""
    return tuple(note for note in log_notes(logged) if f"ressing {number} " in note)
