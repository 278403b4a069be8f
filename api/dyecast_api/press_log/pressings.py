"""Pressings of a shop: added, graded once more, taken back, read; every query names its shop."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Select, insert, select, update

from dyecast_api.press_log.log_rows import row_values, value_of
from dyecast_api.press_log.log_values import GRADES, GivenGrade, Pressing, Recipe
from dyecast_api.store.press_tables import pressing_grades, pressings, recipes
from dyecast_shared.errors import PressLogInvalid


@dataclass(frozen=True, slots=True)
class LoggedPressing:
    """A pressing with its recipe and every grade it was given, oldest first."""

    pressing: Pressing
    recipe: Recipe
    grades: tuple[GivenGrade, ...] = ()


def add_pressing(connection: Connection, shop_id: int, pressing: Pressing) -> int:
    """Keep a pressing and its grade, if it has one; return its number.

    Raises PressLogInvalid for a recipe that is not the shop's, an unknown grade, or a time that is not above
    zero.
    """
    _check(connection, shop_id, pressing)
    added = connection.execute(insert(pressings).values(shop_id=shop_id, **row_values(pressing)))
    number = int((added.inserted_primary_key or (0,))[0])
    if pressing.grade is not None:
        _keep_grade(
            connection,
            shop_id,
            GivenGrade(number, pressing.grade, pressing.judged_by, pressing.logged_at),
        )
    return number


def add_grade(connection: Connection, shop_id: int, given: GivenGrade) -> None:
    """Keep one more grade of a pressing; the newest is the pressing's, earlier ones stay in its history.

    Raises PressLogInvalid when there is no such pressing or grade, or the pressing was taken back.
    """
    if pressing_numbered(connection, shop_id, given.pressing_id).taken_back_at is not None:
        raise PressLogInvalid(f"Pressing {given.pressing_id} was taken back.", advice="Log it again first.")
    _check_grade(given.grade)
    _keep_grade(connection, shop_id, given)
    mine = (pressings.c.shop_id == shop_id) & (pressings.c.id == given.pressing_id)
    newest = {"grade": given.grade, "judged_by": given.judged_by, "confidence": None}
    connection.execute(update(pressings).where(mine).values(**newest))


def take_back_pressing(connection: Connection, shop_id: int, number: int, moment: datetime) -> Pressing:
    """Mark a pressing as taken back and return it as it was; raises PressLogInvalid when there is none."""
    pressing = pressing_numbered(connection, shop_id, number)
    if pressing.taken_back_at is not None:
        raise PressLogInvalid(
            f"Pressing {number} was taken back before.",
            advice="The log shows which pressings count.",
            field="pressing",
        )
    mine = (pressings.c.shop_id == shop_id) & (pressings.c.id == number)
    connection.execute(update(pressings).where(mine).values(taken_back_at=moment))
    return pressing


def pressing_numbered(connection: Connection, shop_id: int, number: int) -> Pressing:
    """Return a pressing, taken back or not; raises PressLogInvalid when the shop has none of that number."""
    mine = (pressings.c.shop_id == shop_id) & (pressings.c.id == number)
    row = connection.execute(select(pressings).where(mine)).mappings().first()
    if row is None:
        raise PressLogInvalid(
            f"There is no pressing {number}.", advice="The log shows the numbers.", field="pressing"
        )
    kept: Pressing = value_of(Pressing, row)
    return kept


def logged_pressings(
    connection: Connection,
    shop_id: int,
    *,
    press_id: int | None = None,
    blank_id: int | None = None,
    taken_back: bool = False,
) -> tuple[LoggedPressing, ...]:
    """Return pressings in the order they were logged, of one press or blank when that is asked for.

    Those that were taken back are left out unless `taken_back`.
    """
    wanted = _wanted(shop_id, press_id, blank_id)
    if not taken_back:
        wanted = wanted.where(pressings.c.taken_back_at.is_(None))
    return _logged(connection, shop_id, wanted.order_by(pressings.c.id))


def newest_pressings(  # noqa: PLR0913 (a filter and a page, each part by name)
    connection: Connection,
    shop_id: int,
    *,
    press_id: int | None = None,
    blank_id: int | None = None,
    before_number: int | None = None,
    limit: int,
) -> tuple[LoggedPressing, ...]:
    """Return a page of pressings, the newest first, from below `before_number`; those taken back as well."""
    wanted = _wanted(shop_id, press_id, blank_id)
    if before_number is not None:
        wanted = wanted.where(pressings.c.id < before_number)
    return _logged(connection, shop_id, wanted.order_by(pressings.c.id.desc()).limit(limit))


def _wanted(shop_id: int, press_id: int | None, blank_id: int | None) -> Select[Any]:
    wanted = select(pressings).join(recipes, pressings.c.recipe_id == recipes.c.id)
    wanted = wanted.where(pressings.c.shop_id == shop_id, recipes.c.shop_id == shop_id)
    if press_id is not None:
        wanted = wanted.where(recipes.c.press_id == press_id)
    return wanted if blank_id is None else wanted.where(recipes.c.blank_id == blank_id)


def _logged(connection: Connection, shop_id: int, wanted: Select[Any]) -> tuple[LoggedPressing, ...]:
    """Return the pressings that a statement finds, with their recipes and grades."""
    rows = connection.execute(wanted).mappings().all()
    known = _recipes(connection, shop_id)
    grades = _grades(connection, shop_id, wanted.with_only_columns(pressings.c.id))
    return tuple(
        LoggedPressing(value_of(Pressing, row), known[row["recipe_id"]], grades.get(row["id"], ()))
        for row in rows
    )


def _recipes(connection: Connection, shop_id: int) -> dict[int, Recipe]:
    rows = connection.execute(select(recipes).where(recipes.c.shop_id == shop_id)).mappings()
    return {row["id"]: value_of(Recipe, row) for row in rows}


def _grades(connection: Connection, shop_id: int, wanted: Select[Any]) -> dict[int, tuple[GivenGrade, ...]]:
    """Return the grades of the pressings that are wanted by pressing, oldest first."""
    numbers = wanted.subquery()
    mine = select(pressing_grades).where(
        pressing_grades.c.shop_id == shop_id, pressing_grades.c.pressing_id.in_(select(numbers.c.id))
    )
    mine = mine.order_by(pressing_grades.c.id)
    found: dict[int, tuple[GivenGrade, ...]] = {}
    for row in connection.execute(mine).mappings():
        given = GivenGrade(row["pressing_id"], row["grade"], row["judged_by"], row["judged_at"])
        found[given.pressing_id] = (*found.get(given.pressing_id, ()), given)
    return found


def _keep_grade(connection: Connection, shop_id: int, given: GivenGrade) -> None:
    connection.execute(insert(pressing_grades).values(shop_id=shop_id, **row_values(given)))


def _check(connection: Connection, shop_id: int, pressing: Pressing) -> None:
    """Refuse a pressing that cannot be kept."""
    mine = select(recipes.c.id).where(recipes.c.shop_id == shop_id, recipes.c.id == pressing.recipe_id)
    if connection.execute(mine).first() is None:
        raise PressLogInvalid("The pressing names a recipe that this shop does not have.")
    if not pressing.time_s > 0.0:
        raise PressLogInvalid(f"A pressing must last longer than {pressing.time_s:g} s.")
    if pressing.grade is not None:
        _check_grade(pressing.grade)


def _check_grade(grade: str) -> None:
    if grade not in GRADES:
        raise PressLogInvalid(f"'{grade}' is no grade.", advice=f"Grades are: {', '.join(GRADES)}.")
