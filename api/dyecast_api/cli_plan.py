"""The command `dyecast plan`: what to press next, and why."""

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from dyecast_api.printable_text import printable
from dyecast_api.terminal import print_result


class Steps(StrEnum):
    """How far the next pressing may lie from a known one."""

    SMALL = "small"
    USUAL = "usual"


def plan(
    blank: Annotated[str, typer.Argument(metavar="BLANK", help="Which blank; see 'dyecast press list'.")],
    press: Annotated[str, typer.Option("--press", metavar="NAME", help="On which press.")],
    out: Annotated[
        Path | None,
        typer.Option(
            "--out", "-o", metavar="FILE", help="Write the plan as a page (.html) or its map (.svg)."
        ),
    ] = None,
    steps: Annotated[
        Steps | None, typer.Option(help="Small steps spare dear blanks; else the blank's cost decides.")
    ] = None,
) -> None:
    """Plan the next pressing of a blank: from its supplier's figure and from what the log tells."""
    from dyecast_api.press_log.log_notes import log_notes
    from dyecast_api.press_log.log_words import pressing_line
    from dyecast_api.press_log.opened_log import opened_log
    from dyecast_api.press_plan.logged_blank import logged_blank
    from dyecast_api.press_plan.plan import planned
    from dyecast_api.press_plan.plan_map import map_lines
    from dyecast_api.press_plan.plan_words import SAFETY, advice_sentences, reason_sentences

    if out is not None and out.suffix.lower() not in {".html", ".svg"}:
        raise typer.BadParameter("the name must end in .html or .svg.", param_hint="--out")
    with opened_log(write=False) as (connection, shop_id):
        known = logged_blank(connection, shop_id, blank, press)
    made = planned(known, small_steps=None if steps is None else steps is Steps.SMALL)
    if out is not None:
        from dyecast_api.output_files import write_file
        from dyecast_api.press_plan.plan_page import plan_page
        from dyecast_api.press_plan.plan_picture import plan_svg

        write_file(out, (plan_svg(made) if out.suffix.lower() == ".svg" else plan_page(made)).encode())
    tried = [pressing_line(one) for one in known.pressings] or ["  nothing yet"]
    parts = [advice_sentences(made), ["", "Why:"], reason_sentences(made), ["", *map_lines(made)]]
    parts += [["", "Pressed so far:"], tried, list(log_notes(known.pressings)), ["", *SAFETY]]
    for line in (line for part in parts for line in part):
        print_result(printable(line))
    if out is not None:
        print_result(printable(f"Written: {out}"))
