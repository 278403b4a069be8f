"""Rows of the press log, read and written through a connection; every query names its shop.

Functions that add return the new row's number. Names are unique within a shop.
"""

from collections.abc import Sequence
from dataclasses import asdict, fields
from typing import Any, TypeVar

from sqlalchemy import Connection, Table, insert, select, update

from dyecast_api.press_log.log_values import Blank, GivenGrade, Press, Pressing, Recipe
from dyecast_api.store.press_tables import blanks, presses, recipes
from dyecast_shared.errors import PressLogInvalid

Thing = TypeVar("Thing", bound="Press | Blank | Recipe")


def add_press(connection: Connection, shop_id: int, press: Press) -> int:
    """Keep a press; raises PressLogInvalid when its name is taken."""
    return _add_named(connection, shop_id, presses, press)


def add_blank(connection: Connection, shop_id: int, blank: Blank) -> int:
    """Keep a kind of blank; raises PressLogInvalid when its name is taken."""
    return _add_named(connection, shop_id, blanks, blank)


def add_recipe(connection: Connection, shop_id: int, recipe: Recipe) -> int:
    """Keep a recipe; raises PressLogInvalid when its name is taken."""
    return _add_named(connection, shop_id, recipes, recipe)


def change_press(connection: Connection, shop_id: int, press: Press) -> None:
    """Keep a press in the place of the one of its number."""
    _change(connection, shop_id, presses, press)


def change_blank(connection: Connection, shop_id: int, blank: Blank) -> None:
    """Keep a kind of blank in the place of the one of its number."""
    _change(connection, shop_id, blanks, blank)


def all_presses(connection: Connection, shop_id: int) -> tuple[Press, ...]:
    """Return the shop's presses, oldest first."""
    return _all(connection, shop_id, presses, Press)


def all_blanks(connection: Connection, shop_id: int) -> tuple[Blank, ...]:
    """Return the shop's kinds of blank, oldest first."""
    return _all(connection, shop_id, blanks, Blank)


def all_recipes(connection: Connection, shop_id: int) -> tuple[Recipe, ...]:
    """Return the shop's recipes, oldest first, retired ones as well."""
    return _all(connection, shop_id, recipes, Recipe)


def press_named(connection: Connection, shop_id: int, name: str) -> Press:
    """Return a press; raises PressLogInvalid, naming those there are, when there is none of that name."""
    return named(all_presses(connection, shop_id), name, "press")


def blank_named(connection: Connection, shop_id: int, name: str) -> Blank:
    """Return a kind of blank; raises PressLogInvalid as `press_named` does."""
    return named(all_blanks(connection, shop_id), name, "blank")


def recipe_named(connection: Connection, shop_id: int, name: str) -> Recipe:
    """Return a recipe; raises PressLogInvalid as `press_named` does."""
    return named(all_recipes(connection, shop_id), name, "recipe")


def named(things: Sequence[Thing], name: str, kind: str) -> Thing:
    """Return the thing of that name; raises PressLogInvalid that lists the others when there is none."""
    for thing in things:
        if thing.name == name:
            return thing
    there = ", ".join(f"'{thing.name}'" for thing in things) or "none yet"
    raise PressLogInvalid(
        f"There is no {kind} called '{name}'.",
        advice=f"There are: {there}.",
        field=kind,
    )


def row_values(thing: Press | Blank | Recipe | Pressing | GivenGrade) -> dict[str, Any]:
    """Return a value's columns without its row number; truth values as 0 or 1."""
    written = {name: value for name, value in asdict(thing).items() if name != "number"}
    return {name: int(value) if isinstance(value, bool) else value for name, value in written.items()}


def value_of(kind: type[Any], row: Any) -> Any:  # noqa: ANN401 (a row of any table into its own dataclass)
    """Return a row as its dataclass."""
    given = {field.name: row[field.name] for field in fields(kind) if field.name != "number"}
    given |= {field.name: bool(row[field.name]) for field in fields(kind) if field.type is bool}
    return kind(**given, number=row["id"])


def _add_named(connection: Connection, shop_id: int, table: Table, thing: Press | Blank | Recipe) -> int:
    """Insert a row unless its name is taken."""
    taken = select(table.c.id).where(table.c.shop_id == shop_id, table.c.name == thing.name)
    if connection.execute(taken).first() is not None:
        raise PressLogInvalid(
            f"There is a '{thing.name}' in {table.name} already.",
            advice="Choose another name; what is kept was left as it is.",
        )
    added = connection.execute(insert(table).values(shop_id=shop_id, **row_values(thing)))
    return int((added.inserted_primary_key or (0,))[0])


def _change(connection: Connection, shop_id: int, table: Table, thing: Press | Blank) -> None:
    """Write a row anew."""
    mine = (table.c.shop_id == shop_id) & (table.c.id == thing.number)
    connection.execute(update(table).where(mine).values(row_values(thing)))


def _all(connection: Connection, shop_id: int, table: Table, kind: type[Thing]) -> tuple[Thing, ...]:
    rows = connection.execute(select(table).where(table.c.shop_id == shop_id).order_by(table.c.id)).mappings()
    return tuple(value_of(kind, row) for row in rows)
