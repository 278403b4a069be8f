"""The command group `dyecast press`: what the shop presses with, and on what."""

from datetime import UTC, datetime
from enum import StrEnum
from typing import Annotated

import typer

from dyecast_api.cli_press_again import again
from dyecast_api.cli_press_change import AsWritten, change_blank_command, change_press_command
from dyecast_api.cli_press_files import export_log, import_log_file
from dyecast_api.cli_press_log import grade, list_log, log, take_back
from dyecast_api.terminal import print_result

press_app = typer.Typer(
    no_args_is_help=True, help="Keep a log of presses, blanks, recipes and pressings; press again."
)
press_app.command()(log)
press_app.command()(grade)
press_app.command()(again)
press_app.command("list")(list_log)
press_app.command("take-back")(take_back)
press_app.command("change-press")(change_press_command)
press_app.command("change-blank")(change_blank_command)
press_app.command("export")(export_log)
press_app.command("import")(import_log_file)


class CoatingSide(StrEnum):
    """Where a blank's coating lies."""

    FRONT = "front"
    BACK = "back"


Name = Annotated[str, typer.Argument(metavar="NAME", help="What you call it.")]


@press_app.command("add-press")
def add_press_command(
    name: Name,
    hottest: Annotated[
        str | None, typer.Option(metavar="TEMPERATURE", help="Never set it above this, e.g. 210C.")
    ] = None,
    notes: Annotated[str, typer.Option(help="Anything worth remembering.")] = "",
    as_written: AsWritten = False,
) -> None:
    """Add a press."""
    from dyecast_api.press_log.entered_press import PressEntry, entered_press
    from dyecast_api.press_log.log_rows import add_press
    from dyecast_api.press_log.log_words import press_line
    from dyecast_api.press_log.opened_log import opened_log

    press = entered_press(PressEntry(name, hottest, notes), datetime.now(UTC), as_written=as_written)
    with opened_log() as (connection, shop_id):
        add_press(connection, shop_id, press)
    print_result(f"Added: {press_line(press)}")


@press_app.command("add-blank")
def add_blank_command(  # noqa: PLR0913, PLR0917 (one parameter per option)
    name: Name,
    material: Annotated[str, typer.Option(help="glass, aluminium, steel, ceramic, hardboard, polymer, ...")],
    coating: Annotated[
        CoatingSide, typer.Option(help="Coated towards the eye (front), or seen through (back).")
    ] = CoatingSide.FRONT,
    thickness: Annotated[str | None, typer.Option(metavar="MM", help="How thick it is, e.g. 4mm.")] = None,
    supplier_temperature: Annotated[
        str | None, typer.Option(metavar="TEMPERATURE", help="What its supplier recommends, e.g. 380F.")
    ] = None,
    supplier_time: Annotated[
        str | None, typer.Option(metavar="TIME", help="What its supplier recommends, e.g. 70s or 6min.")
    ] = None,
    coolest: Annotated[str | None, typer.Option(metavar="TEMPERATURE", help="Never press cooler.")] = None,
    hottest: Annotated[str | None, typer.Option(metavar="TEMPERATURE", help="Never press hotter.")] = None,
    shortest: Annotated[str | None, typer.Option(metavar="TIME", help="Never press shorter.")] = None,
    longest: Annotated[str | None, typer.Option(metavar="TIME", help="Never press longer.")] = None,
    cost: Annotated[float | None, typer.Option(min=0.0, help="What one blank costs.")] = None,
    currency: Annotated[str | None, typer.Option(metavar="CODE", help="Of the cost, e.g. EUR.")] = None,
    as_written: AsWritten = False,
) -> None:
    """Add a kind of blank: what it is made of, what its supplier says, what must not be exceeded."""
    from dyecast_api.press_log.entered_blank import BlankEntry, entered_blank
    from dyecast_api.press_log.log_rows import add_blank
    from dyecast_api.press_log.log_words import blank_line
    from dyecast_api.press_log.opened_log import opened_log

    entry = BlankEntry(
        name=name,
        material=material,
        coating_side=coating.value,
        thickness=thickness,
        supplier=(supplier_temperature, supplier_time),
        temperatures=(coolest, hottest),
        times=(shortest, longest),
        cost=cost,
        currency=currency,
    )
    blank = entered_blank(entry, datetime.now(UTC), as_written=as_written)
    with opened_log() as (connection, shop_id):
        add_blank(connection, shop_id, blank)
    print_result(f"Added: {blank_line(blank)}")


@press_app.command("add-recipe")
def add_recipe_command(  # noqa: PLR0913, PLR0917 (one parameter per option)
    name: Name,
    press: Annotated[str, typer.Option(metavar="NAME", help="On which press.")],
    blank: Annotated[str, typer.Option(metavar="NAME", help="Which blank.")],
    temperature: Annotated[
        str, typer.Option(metavar="TEMPERATURE", help="As the press shows it, e.g. 365F.")
    ],
    time: Annotated[str, typer.Option(metavar="TIME", help="e.g. 90s, 6min or 6:00.")],
    pressure: Annotated[
        str | None, typer.Option(metavar="PRESSURE", help="On the piece, e.g. 300kPa.")
    ] = None,
    ink: Annotated[str, typer.Option(help="Which ink.")] = "",
    paper: Annotated[str, typer.Option(help="Which transfer paper.")] = "",
    sheet: Annotated[str, typer.Option(help="Protective sheet, if one lies under the platen.")] = "",
    pad: Annotated[str, typer.Option(help="What lies under the piece.")] = "",
    through_blank: Annotated[
        bool, typer.Option("--through-blank", help="The blank lies towards the platen, the paper below it.")
    ] = False,
    as_written: AsWritten = False,
) -> None:
    """Add a recipe: how a blank is pressed on a press."""
    from dyecast_api.press_log.entered_recipe import RecipeEntry, entered_recipe
    from dyecast_api.press_log.log_rows import add_recipe, blank_named, press_named
    from dyecast_api.press_log.log_words import recipe_line
    from dyecast_api.press_log.opened_log import opened_log

    entry = RecipeEntry(name, temperature, time, pressure, ink, paper, sheet, pad, through_blank)
    with opened_log() as (connection, shop_id):
        on, of = press_named(connection, shop_id, press), blank_named(connection, shop_id, blank)
        recipe = entered_recipe(entry, on, of, datetime.now(UTC), as_written=as_written)
        add_recipe(connection, shop_id, recipe)
    print_result(f"Added: {recipe_line(recipe, press, blank)}")
