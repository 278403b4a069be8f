"""The command `dyecast press again`: how many seconds more for a pale piece whose paper is still taped."""

from enum import StrEnum
from typing import Annotated

import typer

from dyecast_api.printable_text import printable
from dyecast_api.terminal import print_result


class TransferPaper(StrEnum):
    """Where the transfer paper is."""

    TAPED = "taped"
    OFF = "off"


class Resting(StrEnum):
    """Where the piece lay between the pressings."""

    PAD = "pad"
    BOARD = "board"


def again(
    number: Annotated[
        int, typer.Argument(metavar="NUMBER", help="Which pressing; see 'dyecast press list'.")
    ],
    paper: Annotated[TransferPaper, typer.Option(help="Whether the transfer paper is still taped on.")],
    cooling: Annotated[
        str, typer.Option(metavar="TIME", help="How long the press was, or will be, open.")
    ] = "60s",
    resting: Annotated[Resting, typer.Option(help="Where the piece lies meanwhile.")] = Resting.PAD,
) -> None:
    """Press a pale piece again, with its paper still taped: for how long, and at what risk."""
    from dyecast_api.press_log.entered_values import entered_time
    from dyecast_api.press_log.log_rows import all_blanks, all_presses, all_recipes
    from dyecast_api.press_log.opened_log import opened_log
    from dyecast_api.press_log.pressings import pressing_numbered
    from dyecast_api.press_plan.again import Again, again_sentences, check_again, planned_again
    from dyecast_api.press_plan.logged_blank import limits_of, logged_blank
    from dyecast_calibration.press.press_again import CoolingPlace

    place = CoolingPlace.ON_THE_PAD if resting is Resting.PAD else CoolingPlace.ON_A_BOARD
    with opened_log(write=False) as (connection, shop_id):
        pressing = pressing_numbered(connection, shop_id, number)
        piece = Again(pressing, entered_time(cooling), place, paper is TransferPaper.TAPED)
        check_again(piece)
        recipe = next(one for one in all_recipes(connection, shop_id) if one.number == pressing.recipe_id)
        blank = next(one for one in all_blanks(connection, shop_id) if one.number == recipe.blank_id)
        press = next(one for one in all_presses(connection, shop_id) if one.number == recipe.press_id)
        known = logged_blank(connection, shop_id, blank.name, press.name, recipe=recipe)
    longest = limits_of(known.blank, known.press).longest_time
    for sentence in again_sentences(piece, planned_again(known, piece), longest):
        print_result(printable(sentence))
