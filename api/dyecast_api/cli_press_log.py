"""The commands of `dyecast press` that keep the log: log, grade, list, take back."""

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from dyecast_api import inspect_stages
from dyecast_api.cli_calibrate import GRADE_OF, GradeWord
from dyecast_api.press_log.entered_moment import entered_moment
from dyecast_api.printable_text import printable
from dyecast_api.profile_place import kept_profile
from dyecast_api.terminal import print_result
from dyecast_shared.errors import FileUnreadable, PressLogInvalid

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from dyecast_api.press_log.log_values import Pressing

JudgedBy = Annotated[str | None, typer.Option(metavar="NAME", help="Who says so.")]


def log(  # noqa: PLR0913, PLR0917 (one parameter per option)
    recipe: Annotated[str, typer.Argument(metavar="RECIPE", help="By which recipe it was pressed.")],
    photo: Annotated[
        Path | None, typer.Option(metavar="PHOTO", help="Photo of the piece beside the card; inspected here.")
    ] = None,
    artwork: Annotated[
        Path | None, typer.Option("--artwork", "-a", metavar="FILE", help="What the piece should show.")
    ] = None,
    grade: Annotated[GradeWord | None, typer.Option("--grade", help="What you say of the piece.")] = None,
    judged_by: JudgedBy = None,
    temperature: Annotated[
        str | None, typer.Option(metavar="TEMPERATURE", help="If other than the recipe's, e.g. 365F.")
    ] = None,
    time: Annotated[str | None, typer.Option(metavar="TIME", help="If other than the recipe's.")] = None,
    pressure: Annotated[str | None, typer.Option(metavar="PRESSURE", help="If other.")] = None,
    at: Annotated[
        str | None,
        typer.Option(metavar="MOMENT", help="When it was pressed, e.g. 2026-05-04T14:30; else now."),
    ] = None,
    lost: Annotated[bool, typer.Option("--lost", help="The blank was thrown away.")] = False,
    note: Annotated[str, typer.Option(help="Anything worth remembering.")] = "",
    card_values: Annotated[
        list[Path] | None, typer.Option(metavar="FILE.json", help="Measured colours of the card.")
    ] = None,
    as_written: Annotated[
        bool, typer.Option("--as-written", help="Take a temperature at which presses do not usually work.")
    ] = False,
) -> None:
    """Log one piece: by its photo (dyecast grades it), by your own grade, or both."""
    from dyecast_api.press_log.entered_pressing import PressingEntry, entered_pressing
    from dyecast_api.press_log.judged_piece import inspected_piece, with_inspection
    from dyecast_api.press_log.log_rows import recipe_named
    from dyecast_api.press_log.opened_log import opened_log

    _check_judged(photo, artwork, grade, judged_by)
    with opened_log(write=False) as (connection, shop_id):
        known = recipe_named(connection, shop_id, recipe)
    pressed_at = None if at is None else entered_moment(at)
    entry = PressingEntry(temperature, time, pressure, pressed_at, lost, note)
    pressing = entered_pressing(entry, known, datetime.now(UTC), as_written=as_written)
    if grade is not None and judged_by is not None:
        pressing = replace(pressing, grade=GRADE_OF[grade], judged_by=judged_by)
    if photo is not None and artwork is not None:
        pressing = replace(pressing, photo_sha256=_unlogged_photo(photo))
        stages = inspect_stages.load_inspect_stages()
        values = tuple(card_values or ())
        seen = inspected_piece(photo, artwork, stages, card_values=values, shop_profile=kept_profile())
        pressing = with_inspection(pressing, seen)
    _keep(pressing)


def grade(
    number: Annotated[
        int, typer.Argument(metavar="NUMBER", help="Which pressing; see 'dyecast press list'.")
    ],
    grade: Annotated[GradeWord, typer.Option("--grade", help="What you say of the piece.")],
    judged_by: Annotated[str, typer.Option(metavar="NAME", help="Who says so.")],
) -> None:
    """Grade a logged piece, or grade it again: the newest grade counts, earlier ones are kept."""
    from dyecast_api.press_log.log_values import GivenGrade
    from dyecast_api.press_log.opened_log import opened_log
    from dyecast_api.press_log.pressings import add_grade

    check_person(judged_by)
    with opened_log() as (connection, shop_id):
        add_grade(connection, shop_id, GivenGrade(number, GRADE_OF[grade], judged_by, datetime.now(UTC)))
        _tell(connection, shop_id, number)


def list_log(
    press: Annotated[str | None, typer.Option(metavar="NAME", help="Only this press.")] = None,
    blank: Annotated[str | None, typer.Option(metavar="NAME", help="Only this blank.")] = None,
    everything: Annotated[
        bool, typer.Option("--all", help="Pressings that were taken back as well.")
    ] = False,
) -> None:
    """List presses, blanks, recipes and pressings, and what in them contradicts itself."""
    from dyecast_api.press_log.log_notes import log_notes
    from dyecast_api.press_log.log_rows import all_blanks, all_presses, all_recipes, blank_named, press_named
    from dyecast_api.press_log.log_words import blank_line, press_line, pressing_line, recipe_line
    from dyecast_api.press_log.opened_log import opened_log
    from dyecast_api.press_log.pressings import logged_pressings

    with opened_log(write=False) as (connection, shop_id):
        press_id = None if press is None else press_named(connection, shop_id, press).number
        blank_id = None if blank is None else blank_named(connection, shop_id, blank).number
        presses = {one.number: one for one in all_presses(connection, shop_id)}
        blanks = {one.number: one for one in all_blanks(connection, shop_id)}
        recipes = all_recipes(connection, shop_id)
        pressings = logged_pressings(
            connection, shop_id, press_id=press_id, blank_id=blank_id, taken_back=everything
        )
    lines = [press_line(one) for number, one in presses.items() if press_id in {None, number}]
    lines += [blank_line(one) for number, one in blanks.items() if blank_id in {None, number}]
    lines += [
        recipe_line(one, presses[one.press_id].name, blanks[one.blank_id].name)
        for one in recipes
        if press_id in {None, one.press_id} and blank_id in {None, one.blank_id}
    ]
    lines += [pressing_line(one) for one in pressings]
    notes = log_notes([one for one in pressings if one.pressing.taken_back_at is None])
    print_result("\n".join([*lines, *map(printable, notes)]) or "Nothing was logged yet.")


def take_back(
    number: Annotated[
        int | None, typer.Argument(metavar="NUMBER", help="Which pressing; without it the last one.")
    ] = None,
) -> None:
    """Take a pressing back that was logged by mistake: it counts for nothing, and stays in the file."""
    from dyecast_api.press_log.log_words import pressing_line
    from dyecast_api.press_log.opened_log import opened_log
    from dyecast_api.press_log.pressings import logged_pressings, take_back_pressing

    with opened_log() as (connection, shop_id):
        logged = logged_pressings(connection, shop_id, taken_back=number is not None)
        if number is None and not logged:
            raise PressLogInvalid("There is no pressing to take back.", advice="Nothing was changed.")
        wanted = logged[-1].pressing.number if number is None else number
        take_back_pressing(connection, shop_id, wanted, datetime.now(UTC))
        line = next(pressing_line(one) for one in logged if one.pressing.number == wanted)
    print_result(f"Taken back: {line}")


def _check_judged(
    photo: Path | None, artwork: Path | None, grade: GradeWord | None, judged_by: str | None
) -> None:
    """Refuse a pressing of which nobody says anything, and half of a pair of options."""
    if (photo is None) != (artwork is None):
        raise typer.BadParameter("--photo and --artwork go together.", param_hint="--photo")
    if (grade is None) != (judged_by is None):
        raise typer.BadParameter("--grade and --judged-by go together.", param_hint="--grade")
    if judged_by is not None:
        check_person(judged_by)
    if photo is None and grade is None:
        raise typer.BadParameter(
            "say how the piece came out: --photo PHOTO --artwork FILE, or --grade with --judged-by NAME.",
            param_hint="--photo",
        )


def check_person(name: str, option: str = "--judged-by") -> None:
    """Refuse a person without a name, or with ours."""
    if name.strip().lower() in {"", "dyecast"}:
        raise typer.BadParameter("say which person it is.", param_hint=option)


def _unlogged_photo(photo: Path) -> str:
    """Return the photo's hash; raises PressLogInvalid when a pressing that counts has this photo already."""
    from dyecast_api.press_log.judged_piece import photo_hash
    from dyecast_api.press_log.opened_log import opened_log
    from dyecast_api.press_log.pressings import logged_pressings

    try:
        mine = photo_hash(photo)
    except OSError as problem:
        raise FileUnreadable("The photo could not be read.", file=photo.name) from problem
    with opened_log(write=False) as (connection, shop_id):
        for one in logged_pressings(connection, shop_id):
            if one.pressing.photo_sha256 == mine:
                raise PressLogInvalid(
                    f"This photo is logged already, as pressing {one.pressing.number}.",
                    advice="Nothing was logged.",
                    file=photo.name,
                    field="grade",
                )
    return mine


def _keep(pressing: "Pressing") -> None:
    from dyecast_api.press_log.opened_log import opened_log
    from dyecast_api.press_log.pressings import add_pressing

    with opened_log() as (connection, shop_id):
        number = add_pressing(connection, shop_id, pressing)
        _tell(connection, shop_id, number)


def _tell(connection: "Connection", shop_id: int, number: int) -> None:
    """Print a pressing, and what it contradicts or passes."""
    from dyecast_api.press_log.log_limits import beyond_limits
    from dyecast_api.press_log.log_notes import log_notes
    from dyecast_api.press_log.log_rows import all_blanks, all_presses
    from dyecast_api.press_log.log_words import pressing_line
    from dyecast_api.press_log.pressings import logged_pressings

    logged = logged_pressings(connection, shop_id)
    one = next(one for one in logged if one.pressing.number == number)
    print_result(f"Logged: {pressing_line(one)}")
    blank = next(b for b in all_blanks(connection, shop_id) if b.number == one.recipe.blank_id)
    press = next(p for p in all_presses(connection, shop_id) if p.number == one.recipe.press_id)
    if beyond := beyond_limits(blank, press, one.pressing.temperature_k, one.pressing.time_s):
        print_result(printable(f"It was pressed beyond a limit: {beyond}. It is kept and counts."))
    for note in log_notes(logged):
        if f"ressing {number} " in note:
            print_result(printable(note))
