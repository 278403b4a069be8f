"""Pressings as a CSV table: a notebook read with its own column names and units, or the log written out.

Every line is read before anything is kept. What is here already is not added again: of pieces that are the
same in recipe, moment, settings, grade and note, as many are added as the file has more than the log.
"""

import csv
import io
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any, Final

from sqlalchemy import Connection

from dyecast_api.press_log.csv_cells import (
    CsvCells,
    entered_grade,
    entered_lost,
    entered_share,
    with_unit,
)
from dyecast_api.press_log.csv_moments import csv_moment
from dyecast_api.press_log.entered_values import entered_pressure, entered_temperature, entered_time
from dyecast_api.press_log.log_rows import named
from dyecast_api.press_log.log_values import MACHINE, Pressing, Recipe
from dyecast_api.press_log.pressings import LoggedPressing, add_pressing, logged_pressings
from dyecast_shared.errors import DyecastError, PressLogInvalid
from dyecast_shared.units import kelvin_to_celsius

COLUMNS: Final = (
    "recipe",
    "pressed_at",
    "temperature",
    "time",
    "pressure",
    "grade",
    "judged_by",
    "transferred_fraction",
    "transferred_fraction_uncertainty",
    "lost",
    "note",
)
"""Our names of the columns; `temperature` and `time` stand for the recipe's when a cell is empty."""

DELIMITERS: Final = ",;\t"


@dataclass(frozen=True, slots=True)
class CsvReading:
    """How a table is to be read.

    Attributes
    ----------
    columns
        Our name of a column → the table's; those not named have our name or are not there.
    units
        `temperature`, `time` or `pressure` → the unit of cells that are bare numbers.
    recipe, judged_by
        What counts where the table has no such column, or an empty cell.
    day_first
        Dates are written day, month, year; else year, month, day.
    grade_words
        The table's words for grades, beside ours, in small letters.
    as_written
        Take temperatures at which presses do not usually work.
    """

    columns: Mapping[str, str] = field(default_factory=dict)
    units: Mapping[str, str] = field(default_factory=dict)
    recipe: str | None = None
    judged_by: str | None = None
    day_first: bool = False
    grade_words: Mapping[str, str] = field(default_factory=dict)
    as_written: bool = False


@dataclass(frozen=True, slots=True)
class RefusedLine:
    """A line that cannot be read: its number in the file, from 1, why, and the error's `field`."""

    number: int
    reason: str
    field: str = ""


@dataclass(frozen=True, slots=True)
class ReadTable:
    """The pressings of a table in its order, and the lines that were refused."""

    pressings: tuple[Pressing, ...]
    refused: tuple[RefusedLine, ...]


def exported_csv(connection: Connection, shop_id: int) -> str:
    """Return the pressings that count as CSV with our column names; temperatures in °C, times in s."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(COLUMNS)
    for one in logged_pressings(connection, shop_id):
        writer.writerow(_row(one))
    return stream.getvalue()


def read_csv(
    text: str, reading: CsvReading, recipes: Sequence[Recipe], now: datetime, file: str
) -> ReadTable:
    """Read a table; raises PressLogInvalid when it is none or lacks a column it must have.

    Lines that cannot be read are returned with their reasons; empty lines are passed over.
    """
    header, lines = _lines(text, file)
    places = _places(header, reading, file)
    pressings, refused = [], []
    for number, line in lines:
        try:
            if len(line) > len(header):
                raise PressLogInvalid(f"It has {len(line)} cells, the heading {len(header)}.", advice="-")
            cells = CsvCells(
                {name: line[place].strip() for name, place in places.items() if place < len(line)}
            )
            pressings.append(_pressing(cells, reading, recipes, now))
        except DyecastError as problem:
            reason = f"{problem.message} {problem.advice}".removesuffix(" -")
            refused.append(RefusedLine(number, reason, problem.field))
    return ReadTable(tuple(pressings), tuple(refused))


def add_missing(connection: Connection, shop_id: int, pressings: Sequence[Pressing]) -> int:
    """Keep the pressings that are not here yet; return how many."""
    here = Counter(_identity(one.pressing) for one in logged_pressings(connection, shop_id, taken_back=True))
    added = 0
    for pressing in pressings:
        same = _identity(pressing)
        if here[same] > 0:
            here[same] -= 1
        else:
            add_pressing(connection, shop_id, pressing)
            added += 1
    return added


def _lines(text: str, file: str) -> tuple[list[str], list[tuple[int, list[str]]]]:
    """Return the heading, and the lines that hold anything with their numbers."""
    first = text.partition("\n")[0]
    delimiter = max(DELIMITERS, key=first.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    lines = []
    try:
        for line in reader:
            lines.append((reader.line_num, line))  # noqa: PERF401 (the number belongs to the line just read)
    except csv.Error as problem:
        raise PressLogInvalid(f"Line {reader.line_num} is no CSV ({problem}).", file=file) from problem
    filled = [(number, line) for number, line in lines if any(cell.strip() for cell in line)]
    if not filled:
        raise PressLogInvalid("The table is empty.", file=file)
    return [cell.strip() for cell in filled[0][1]], filled[1:]


def _places(header: Sequence[str], reading: CsvReading, file: str) -> dict[str, int]:
    """Return where each of our columns lies in a line."""
    unknown = [name for name in reading.columns if name not in COLUMNS]
    if unknown:
        raise PressLogInvalid(
            f"There is no column '{unknown[0]}' in a press log.", advice=f"There are: {', '.join(COLUMNS)}."
        )
    places = {}
    for name in COLUMNS:
        wanted = reading.columns.get(name, name)
        if header.count(wanted) > 1:
            raise PressLogInvalid(f"The table has two columns '{wanted}'.", file=file)
        if wanted in header:
            places[name] = header.index(wanted)
        elif name in reading.columns:
            there = ", ".join(f"'{cell}'" for cell in header)
            raise PressLogInvalid(f"The table has no column '{wanted}'; it has {there}.", file=file)
    _check_enough(places, reading, file)
    return places


def _check_enough(places: Mapping[str, int], reading: CsvReading, file: str) -> None:
    """Raise PressLogInvalid when what every pressing needs is nowhere."""
    if "pressed_at" not in places:
        raise PressLogInvalid(
            "The table has no column of dates.",
            advice="Say which of its columns is 'pressed_at'.",
            file=file,
            field="columns",
        )
    if "recipe" not in places and reading.recipe is None:
        raise PressLogInvalid(
            "The table has no column of recipes.",
            advice="Say which of its columns is 'recipe', or name one recipe for all.",
            file=file,
            field="recipe_column",
        )


def _pressing(cells: CsvCells, reading: CsvReading, recipes: Sequence[Recipe], now: datetime) -> Pressing:
    """Return one line as a pressing; raises DyecastError for what cannot be read."""
    recipe = named(recipes, cells.text("recipe") or reading.recipe or "", "recipe")
    settings = {name: with_unit(cells.text(name), reading.units.get(name, "")) for name in UNITS}
    grade = entered_grade(cells.text("grade"), reading.grade_words)
    judge = cells.text("judged_by") or reading.judged_by or ""
    if grade is not None and not judge:
        raise PressLogInvalid("Nobody says who graded it.", advice="Say who.", field="judged_by")
    return Pressing(
        recipe_id=recipe.number,
        temperature_k=entered_temperature(settings["temperature"], as_written=reading.as_written)
        if settings["temperature"]
        else recipe.temperature_k,
        time_s=entered_time(settings["time"]) if settings["time"] else recipe.time_s,
        pressed_at=csv_moment(cells.text("pressed_at"), day_first=reading.day_first),
        logged_at=now,
        pressure_kpa=entered_pressure(settings["pressure"]) if settings["pressure"] else recipe.pressure_kpa,
        grade=grade,
        judged_by=judge or MACHINE,
        transferred_fraction=entered_share(cells.text("transferred_fraction")),
        transferred_fraction_uncertainty=entered_share(cells.text("transferred_fraction_uncertainty")),
        lost=entered_lost(cells.text("lost")),
        note=cells.text("note"),
    )


UNITS: Final = ("temperature", "time", "pressure")
"""Columns whose numbers have units."""


def _row(one: LoggedPressing) -> list[Any]:
    pressing = one.pressing
    pressure = "" if pressing.pressure_kpa is None else f"{pressing.pressure_kpa!r} kPa"
    return [
        one.recipe.name,
        pressing.pressed_at.astimezone(UTC).isoformat(),
        f"{round(kelvin_to_celsius(pressing.temperature_k), 6)!r} °C",
        f"{pressing.time_s!r} s",
        pressure,
        pressing.grade or "",
        pressing.judged_by,
        "" if pressing.transferred_fraction is None else repr(pressing.transferred_fraction),
        ""
        if pressing.transferred_fraction_uncertainty is None
        else repr(pressing.transferred_fraction_uncertainty),
        "yes" if pressing.lost else "",
        pressing.note,
    ]


def _identity(pressing: Pressing) -> tuple[Any, ...]:
    """Return what makes two rows the same piece; settings to 0.01 K and 0.1 s."""
    return (
        pressing.recipe_id,
        pressing.pressed_at,
        round(pressing.temperature_k, 2),
        round(pressing.time_s, 1),
        pressing.grade,
        pressing.note.strip(),
    )
