"""The press log as one readable JSON file: for another computer, or for safe keeping.

Photos, inspections and batches stay behind; pressings keep their figures. Importing adds what is not there
and changes nothing that is.
"""

import json
from dataclasses import asdict, fields, replace
from datetime import datetime
from typing import Any, Final

from sqlalchemy import Connection

from dyecast_api.press_log.log_rows import (
    add_blank,
    add_press,
    add_recipe,
    all_blanks,
    all_presses,
    all_recipes,
)
from dyecast_api.press_log.log_values import Blank, GivenGrade, Press, Pressing, Recipe
from dyecast_api.press_log.pressings import (
    LoggedPressing,
    add_grade,
    add_pressing,
    logged_pressings,
    take_back_pressing,
)
from dyecast_shared.errors import PressLogInvalid

FORMAT: Final = "dyecast-press-log"
FORMAT_VERSION: Final = 1

LEFT_BEHIND: Final = {"number", "batch_id", "piece_number", "inspection_id"}
"""Fields that mean nothing in another database."""


def exported_log(connection: Connection, shop_id: int) -> str:
    """Return the shop's press log as JSON text."""
    presses = {press.number: press for press in all_presses(connection, shop_id)}
    blanks = {blank.number: blank for blank in all_blanks(connection, shop_id)}
    recipes = all_recipes(connection, shop_id)
    written = {
        "format": FORMAT,
        "format_version": FORMAT_VERSION,
        "presses": [_record(press) for press in presses.values()],
        "blanks": [_record(blank) for blank in blanks.values()],
        "recipes": [
            _record(recipe)
            | {"press_id": presses[recipe.press_id].name, "blank_id": blanks[recipe.blank_id].name}
            for recipe in recipes
        ],
        "pressings": [_logged(one) for one in logged_pressings(connection, shop_id, taken_back=True)],
    }
    return json.dumps(written, indent=1, ensure_ascii=False) + "\n"


def import_log(connection: Connection, shop_id: int, text: str, *, file: str = "") -> int:
    """Add what an exported log holds and this one does not; return how many pressings were added.

    Raises PressLogInvalid for a file that is none, and for a press, blank or recipe that is here under the
    same name with other values. The caller's transaction then keeps nothing.
    """
    written = _read(text, file)
    try:
        presses = {
            name: _kept(connection, shop_id, found) for name, found in _things(written, "presses", Press)
        }
        blanks = {
            name: _kept(connection, shop_id, found) for name, found in _things(written, "blanks", Blank)
        }
        recipes = {}
        for record in written["recipes"]:
            joined = record | {
                "press_id": presses[record["press_id"]],
                "blank_id": blanks[record["blank_id"]],
            }
            recipes[record["name"]] = _kept(connection, shop_id, _value(Recipe, joined))
        here = {_identity(one.pressing) for one in logged_pressings(connection, shop_id, taken_back=True)}
        return sum(_add(connection, shop_id, record, recipes, here) for record in written["pressings"])
    except (KeyError, TypeError, ValueError) as problem:
        raise PressLogInvalid(
            "The file is a press log, but something in it is missing or not readable: "
            f"{type(problem).__name__} {problem}.",
            file=file,
        ) from problem


def _read(text: str, file: str) -> dict[str, Any]:
    try:
        written = json.loads(text)
    except ValueError as problem:
        raise PressLogInvalid("This is no press log of dyecast.", file=file) from problem
    if not isinstance(written, dict) or written.get("format") != FORMAT:
        raise PressLogInvalid("This is no press log of dyecast.", file=file)
    if written.get("format_version") != FORMAT_VERSION:
        raise PressLogInvalid(
            "Another version of dyecast wrote this press log.", advice="Update dyecast.", file=file
        )
    return written


def _things(written: dict[str, Any], kind: str, value: type[Any]) -> list[tuple[str, Any]]:
    return [(record["name"], _value(value, record)) for record in written[kind]]


def _kept(connection: Connection, shop_id: int, thing: Press | Blank | Recipe) -> int:
    """Return the row number of a thing that is here already, or add it."""
    known = _of_that_name(connection, shop_id, thing)
    if known is not None:
        if replace(known, number=0, created_at=thing.created_at) != thing:
            raise PressLogInvalid(
                f"'{thing.name}' is here already with other values.",
                advice="Rename one of the two; nothing was imported.",
            )
        return known.number
    if isinstance(thing, Recipe):
        return add_recipe(connection, shop_id, thing)
    if isinstance(thing, Blank):
        if not thing.thickness_mm > 0.0:
            raise PressLogInvalid(
                f"The blank '{thing.name}' has no thickness; how fast it warms depends on it."
            )
        return add_blank(connection, shop_id, thing)
    return add_press(connection, shop_id, thing)


def _of_that_name(
    connection: Connection, shop_id: int, thing: Press | Blank | Recipe
) -> Press | Blank | Recipe | None:
    """Return the thing of the same kind and name that is here already."""
    here: tuple[Press | Blank | Recipe, ...] = all_presses(connection, shop_id)
    if not isinstance(thing, Press):
        is_blank = isinstance(thing, Blank)
        here = all_blanks(connection, shop_id) if is_blank else all_recipes(connection, shop_id)
    return next((one for one in here if one.name == thing.name), None)


def _add(
    connection: Connection, shop_id: int, record: dict[str, Any], recipes: dict[str, int], here: set[Any]
) -> int:
    """Add one pressing with its grades unless it is here; return how many were added."""
    grades = [
        GivenGrade(0, g["grade"], g["judged_by"], datetime.fromisoformat(g["judged_at"]))
        for g in record["grades"]
    ]
    pressing = _value(Pressing, record | {"recipe_id": recipes[record["recipe_id"]]})
    if _identity(pressing) in here:
        return 0
    number = add_pressing(connection, shop_id, replace(pressing, grade=None, taken_back_at=None))
    for given in grades:
        add_grade(connection, shop_id, replace(given, pressing_id=number))
    if pressing.taken_back_at is not None:
        take_back_pressing(connection, shop_id, number, pressing.taken_back_at)
    return 1


def _identity(pressing: Pressing) -> tuple[Any, ...]:
    """Return what makes two rows the same piece."""
    return (
        pressing.recipe_id,
        pressing.pressed_at,
        pressing.logged_at,
        pressing.temperature_k,
        pressing.time_s,
    )


def _logged(one: LoggedPressing) -> dict[str, Any]:
    grades = [
        {"grade": given.grade, "judged_by": given.judged_by, "judged_at": given.judged_at.isoformat()}
        for given in one.grades
    ]
    return _record(one.pressing) | {"recipe_id": one.recipe.name, "grades": grades}


def _record(thing: Press | Blank | Recipe | Pressing) -> dict[str, Any]:
    """Return a value for JSON: moments as text."""
    return {
        name: value.isoformat() if isinstance(value, datetime) else value
        for name, value in asdict(thing).items()
        if name not in LEFT_BEHIND
    }


def _value(kind: type[Any], record: dict[str, Any]) -> Any:  # noqa: ANN401 (each kind its own dataclass)
    """Return a record as its dataclass; unknown names are left out, missing ones raise TypeError."""
    known = {field.name: field.type for field in fields(kind) if field.name not in LEFT_BEHIND}
    given = {name: value for name, value in record.items() if name in known}
    moments = {name for name, written in known.items() if "datetime" in str(written)}
    return kind(
        **{
            name: datetime.fromisoformat(value) if name in moments and value is not None else value
            for name, value in given.items()
        }
    )
