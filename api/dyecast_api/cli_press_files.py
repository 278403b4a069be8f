"""The commands `dyecast press export` and `dyecast press import`: the log as JSON, or as a CSV table."""

from datetime import UTC, datetime
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final

import typer

from dyecast_api.cli_calibrate import GRADE_OF, GradeWord
from dyecast_api.command_words import WORDS_OF_FIELD
from dyecast_api.printable_text import printable
from dyecast_api.terminal import print_result
from dyecast_shared.errors import FileUnreadable, PressLogInvalid

if TYPE_CHECKING:
    from dyecast_api.press_log.log_csv import ReadTable

SHOWN_REFUSALS: Final = 50
"""Refused lines that are listed; more of them have the same few reasons."""


class DateOrder(StrEnum):
    """How a table's dates are written."""

    ISO = "iso"
    DAY_FIRST = "day-first"


def export_log(
    out: Annotated[Path, typer.Argument(metavar="FILE", help="File to write: .json, or .csv for a table.")],
) -> None:
    """Write the press log to a file: whole as JSON, its pressings as CSV."""
    from dyecast_api.output_files import write_file
    from dyecast_api.press_log.log_csv import exported_csv
    from dyecast_api.press_log.log_file import exported_log
    from dyecast_api.press_log.opened_log import opened_log

    exported = exported_csv if _is_table(out) else exported_log
    with opened_log(write=False) as (connection, shop_id):
        text = exported(connection, shop_id)
    write_file(out, text.encode())
    print_result(printable(f"{out}: written."))


def import_log_file(  # noqa: PLR0913, PLR0917 (one parameter per option)
    file: Annotated[
        Path, typer.Argument(metavar="FILE", help="An exported press log, or a notebook as .csv.")
    ],
    columns: Annotated[
        list[str] | None,
        typer.Option("--map", metavar="OURS=YOURS", help="Your name of a column, e.g. pressed_at=Date."),
    ] = None,
    units: Annotated[
        list[str] | None,
        typer.Option("--unit", metavar="COLUMN=UNIT", help="Of bare numbers, e.g. temperature=F, time=min."),
    ] = None,
    dates: Annotated[DateOrder, typer.Option(help="How dates are written.")] = DateOrder.ISO,
    recipe: Annotated[
        str | None, typer.Option(metavar="NAME", help="The recipe where the table names none.")
    ] = None,
    judged_by: Annotated[
        str | None, typer.Option(metavar="NAME", help="Who graded where the table names nobody.")
    ] = None,
    grade_words: Annotated[
        list[str] | None,
        typer.Option("--grade-word", metavar="GRADE=YOURS", help="Your word for under, good or over."),
    ] = None,
    keep_good_lines: Annotated[
        bool, typer.Option("--keep-good-lines", help="Import the rest when lines are refused.")
    ] = False,
    as_written: Annotated[
        bool, typer.Option("--as-written", help="Take temperatures at which presses do not usually work.")
    ] = False,
) -> None:
    """Add what a file holds; what is here already stays as it is and is not added again."""
    from dyecast_api.press_log.log_csv import CsvReading, add_missing, read_csv
    from dyecast_api.press_log.log_file import import_log
    from dyecast_api.press_log.log_rows import all_recipes
    from dyecast_api.press_log.opened_log import opened_log

    text = _text_of(file)
    reading = CsvReading(
        _pairs(columns, "--map"),
        _pairs(units, "--unit"),
        recipe,
        judged_by,
        day_first=dates is DateOrder.DAY_FIRST,
        grade_words=_grade_words(grade_words),
        as_written=as_written,
    )
    with opened_log() as (connection, shop_id):
        if _is_table(file):
            recipes = all_recipes(connection, shop_id)
            table = read_csv(text, reading, recipes, datetime.now(UTC), file.name)
            _tell_refused(table, file, keep_good_lines=keep_good_lines)
            added = add_missing(connection, shop_id, table.pressings)
        else:
            added = import_log(connection, shop_id, text, file=file.name)
    print_result(f"{added} pressing{'' if added == 1 else 's'} added.")


def _is_table(file: Path) -> bool:
    return file.suffix.lower() in {".csv", ".tsv", ".txt"}


def _text_of(file: Path) -> str:
    try:
        return file.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as problem:
        raise FileUnreadable(
            "The file is not written in UTF-8.", advice="Save it as CSV UTF-8.", file=file.name
        ) from problem
    except OSError as problem:
        raise FileUnreadable("The press log could not be read.", file=file.name) from problem


def _tell_refused(table: "ReadTable", file: Path, *, keep_good_lines: bool) -> None:
    """List the refused lines; raise PressLogInvalid unless the rest is wanted all the same."""
    for line in table.refused[:SHOWN_REFUSALS]:
        more = WORDS_OF_FIELD.get(line.field, "")
        print_result(printable(f"Line {line.number}: {line.reason} {more}".rstrip()))
    if len(table.refused) > SHOWN_REFUSALS:
        print_result(f"... and {len(table.refused) - SHOWN_REFUSALS} lines more.")
    if table.refused and not keep_good_lines:
        count = len(table.refused)
        raise PressLogInvalid(
            f"{count} line{'' if count == 1 else 's'} cannot be read; nothing was imported.",
            advice="Correct them, or add --keep-good-lines.",
            file=file.name,
        )


def _pairs(given: list[str] | None, option: str) -> dict[str, str]:
    """Read options like ``ours=yours``."""
    pairs = {}
    for one in given or []:
        name, equals, value = one.partition("=")
        if not (equals and name.strip() and value.strip()):
            raise typer.BadParameter(f"'{one}' is not written as NAME=VALUE.", param_hint=option)
        pairs[name.strip()] = value.strip()
    return pairs


def _grade_words(given: list[str] | None) -> dict[str, str]:
    """Read options like ``good=prima``; several words may stand for one grade."""
    words = {}
    for one in given or []:
        for grade, word in _pairs([one], "--grade-word").items():
            if grade not in list(GradeWord):
                raise typer.BadParameter("grades are under, good and over.", param_hint="--grade-word")
            words[word.lower()] = GRADE_OF[GradeWord(grade)]
    return words
