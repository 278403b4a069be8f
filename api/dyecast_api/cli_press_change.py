"""`dyecast press change-press` and `change-blank`: what was entered wrongly, or has changed since."""

from typing import Annotated

import typer

from dyecast_api.terminal import print_result

AsWritten = Annotated[
    bool, typer.Option("--as-written", help="Take temperatures at which presses do not usually work.")
]
Name = Annotated[str, typer.Argument(metavar="NAME", help="Which one; see 'dyecast press list'.")]
Temperature = Annotated[str | None, typer.Option(metavar="TEMPERATURE", help="Anew, or none.")]
Time = Annotated[str | None, typer.Option(metavar="TIME", help="Anew, or none.")]


def change_press_command(
    name: Name,
    hottest: Temperature = None,
    notes: Annotated[str | None, typer.Option(help="Anew.")] = None,
    as_written: AsWritten = False,
) -> None:
    """Change what is kept of a press: only what you give; 'none' takes a limit away."""
    from dyecast_api.press_log.changed_entries import changed_press
    from dyecast_api.press_log.log_rows import change_press, press_named
    from dyecast_api.press_log.log_words import press_line
    from dyecast_api.press_log.opened_log import opened_log

    with opened_log() as (connection, shop_id):
        kept = press_named(connection, shop_id, name)
        press = changed_press(kept, hottest, notes, as_written=as_written)
        change_press(connection, shop_id, press)
    print_result(f"Changed: {press_line(press)}")


def change_blank_command(  # noqa: PLR0913, PLR0917 (one parameter per option)
    name: Name,
    thickness: Annotated[str | None, typer.Option(metavar="MM", help="Anew.")] = None,
    supplier_temperature: Temperature = None,
    supplier_time: Time = None,
    coolest: Temperature = None,
    hottest: Temperature = None,
    shortest: Time = None,
    longest: Time = None,
    cost: Annotated[float | None, typer.Option(min=0.0, help="Anew.")] = None,
    currency: Annotated[str | None, typer.Option(metavar="CODE", help="Anew.")] = None,
    as_written: AsWritten = False,
) -> None:
    """Change what is kept of a kind of blank: only what you give; 'none' takes a value away.

    Pressings logged so far stay as they were logged. Another material or coating is another blank: add it.
    """
    from dyecast_api.press_log.changed_entries import BlankChange, changed_blank
    from dyecast_api.press_log.log_rows import blank_named, change_blank
    from dyecast_api.press_log.log_words import blank_line
    from dyecast_api.press_log.opened_log import opened_log

    change = BlankChange(
        thickness,
        (supplier_temperature, supplier_time),
        (coolest, hottest),
        (shortest, longest),
        cost,
        currency,
    )
    with opened_log() as (connection, shop_id):
        blank = changed_blank(blank_named(connection, shop_id, name), change, as_written=as_written)
        change_blank(connection, shop_id, blank)
    print_result(f"Changed: {blank_line(blank)}")
