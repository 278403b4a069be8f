"""The command `dyecast worth`: what pressing costs."""

from pathlib import Path
from typing import Annotated

import typer

from dyecast_api.printable_text import printable
from dyecast_api.terminal import print_result


def worth(
    since: Annotated[
        str | None, typer.Option(metavar="DATE", help="Only from this day on, e.g. 2026-05-01.")
    ] = None,
    until: Annotated[str | None, typer.Option(metavar="DATE", help="Only before this day.")] = None,
    out: Annotated[
        Path | None,
        typer.Option("--out", "-o", metavar="FILE", help="Page (.html) or table (.csv) to write."),
    ] = None,
) -> None:
    """Count blanks lost, their cost, and how often the first piece is good: by blank, press and month."""
    from dyecast_api.output_files import write_file
    from dyecast_api.press_log.entered_moment import entered_moment
    from dyecast_api.press_log.log_rows import all_blanks, all_presses
    from dyecast_api.press_log.opened_log import opened_log
    from dyecast_api.press_log.pressings import logged_pressings
    from dyecast_api.worth import worth_lines
    from dyecast_api.worth.worth_page import worth_page
    from dyecast_api.worth.worth_text import worth_csv, worth_text

    if out is not None and out.suffix.lower() not in {".html", ".csv"}:
        raise typer.BadParameter("the file ends in .html or .csv.", param_hint="--out")
    first, last = (None if text is None else entered_moment(text) for text in (since, until))
    with opened_log(write=False) as (connection, shop_id):
        pressings = [
            one
            for one in logged_pressings(connection, shop_id)
            if (first is None or one.pressing.pressed_at >= first)
            and (last is None or one.pressing.pressed_at < last)
        ]
        counted = worth_lines.worth(
            pressings, all_blanks(connection, shop_id), all_presses(connection, shop_id)
        )
    print_result(worth_text(counted) if pressings else "Nothing was pressed in that time.")
    if out is not None:
        written = worth_csv(counted) if out.suffix.lower() == ".csv" else worth_page(counted)
        write_file(out, written.encode("utf-8", "replace"))
        print_result(printable(f"Written: {out}"))
