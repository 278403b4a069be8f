"""The command `dyecast inspect`: its options, and what it refuses at once."""

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from dyecast_api import inspect_stages
from dyecast_api.inspect_order import InspectOrder
from dyecast_api.peek_stages import load_peek_stages
from dyecast_api.print_size import print_size_mm
from dyecast_api.profile_place import kept_profile


class PaperWord(StrEnum):
    """Where the transfer paper is; the words of `dyecast_inspect.inspection.Paper`, without its imports."""

    UNKNOWN = "unknown"
    TAPED = "taped"
    OFF = "off"


def inspect(  # noqa: PLR0913, PLR0917 (one parameter per option is how typer reads a command line)
    photos: Annotated[list[Path], typer.Argument(help="Photos of a piece beside the card.", metavar="PHOTO")],
    artwork: Annotated[
        Path | None, typer.Option("--artwork", "-a", metavar="FILE", help="What the piece should show.")
    ] = None,
    peek: Annotated[
        bool,
        typer.Option(
            "--peek",
            help="The paper is still taped on, one corner lifted: enough, not enough, or can't tell?",
        ),
    ] = False,
    approved: Annotated[
        Path | None,
        typer.Option(
            metavar="PHOTO",
            help="Photo of an approved piece beside the card; compare with it too, or without --artwork only "
            "with it.",
        ),
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option("--out", "-o", metavar="DIR", help="Write a report folder for each photo into DIR."),
    ] = None,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print one JSON document a photo, each on one line.")
    ] = False,
    measured: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE.png",
            help="Write the piece as measured, in the artwork's frame, sRGB; transparent where it could not "
            "be measured; for one photo.",
        ),
    ] = None,
    printer_profile: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE.icc", help="The printer's ICC profile: compare with what it can reach too."
        ),
    ] = None,
    card: Annotated[
        Path | None, typer.Option(metavar="LAYOUT.json", help="Your own card's layout, instead of ours.")
    ] = None,
    card_values: Annotated[
        list[Path] | None,
        typer.Option(metavar="FILE.json", help="Measured colours of the card; once for each card in use."),
    ] = None,
    profile: Annotated[
        Path | None,
        typer.Option(
            "--profile",
            metavar="FILE.json",
            help="Shop profile to grade with, instead of the one that 'dyecast calibrate' keeps.",
        ),
    ] = None,
    paper: Annotated[
        PaperWord,
        typer.Option(help="Whether the transfer paper is still taped on; it decides what can be done."),
    ] = PaperWord.UNKNOWN,
    print_size: Annotated[
        str | None,
        typer.Option(
            metavar="WIDTHxHEIGHT",
            help="Size the artwork should have on the blank, in mm or with a unit (4x3in); checks the scale.",
        ),
    ] = None,
    quiet: Annotated[
        bool, typer.Option("--quiet", "-q", help="One line a photo, no progress, no summary.")
    ] = False,
    server: Annotated[
        str | None,
        typer.Option(
            metavar="URL",
            envvar="DYECAST_SERVER",
            help="Let a shop's server inspect; --artwork then names one of its artworks.",
        ),
    ] = None,
    token: Annotated[
        str, typer.Option(envvar="DYECAST_TOKEN", help="Token of this program, from the server's owner.")
    ] = "",
) -> None:
    """Judge pieces from photos: under-pressed, good, over-pressed, or take the photo again.

    Exit status: 0 all good, or enough; 1 judged and not good, or not enough; 2 trouble, or can't tell.
    Of several photos, the worst.
    """
    order = InspectOrder(
        photos=tuple(photos),
        artwork=artwork,
        approved=approved,
        out=out,
        as_json=as_json,
        measured=measured,
        printer_profile=printer_profile,
        card=card,
        card_values=tuple(card_values or ()),
        shop_profile=profile or kept_profile(),
        paper=paper.value,
        quiet=quiet,
        peek=peek,
        print_size_mm=None if print_size is None else print_size_mm(print_size),
    )
    _check_compared(order)
    _check_measured(order)
    if server is not None:
        raise typer.Exit(_inspected_remotely(order, server, token))
    stages = load_peek_stages() if peek else inspect_stages.load_inspect_stages()
    from dyecast_api.inspect_run import carry_out

    raise typer.Exit(carry_out(order, stages))


def _inspected_remotely(order: InspectOrder, server: str, token: str) -> int:
    """Let a server inspect; refuse what only a local inspection can do."""
    local = {
        "--approved": order.approved,
        "--out": order.out,
        "--measured": order.measured,
        "--printer-profile": order.printer_profile,
        "--card": order.card,
        "--card-values": order.card_values or None,
        "--print-size": order.print_size_mm,
    }
    for option, value in local.items():
        if value is not None:
            raise typer.BadParameter("the server knows that itself; leave it out.", param_hint=option)
    from dyecast_api.inspect_remote import carry_out_remotely
    from dyecast_api.server_client import ServerClient

    return carry_out_remotely(order, ServerClient(server, token))


def _check_compared(order: InspectOrder) -> None:
    """Refuse an order that names nothing to compare with, or a printer without the artwork."""
    if order.artwork is None and order.approved is None:
        raise typer.BadParameter(
            "say what the piece should look like: the file it was printed from (--artwork FILE), the photo "
            "of a piece you know to be good (--approved PHOTO), or both.",
            param_hint="--artwork",
        )
    if order.artwork is None and order.printer_profile is not None:
        raise typer.BadParameter("it needs --artwork FILE as well.", param_hint="--printer-profile")


def _check_measured(order: InspectOrder) -> None:
    """Refuse --measured for several photos, for a name that is no PNG, and over a file that is read."""
    if order.measured is None:
        return
    if len(order.photos) != 1:
        raise typer.BadParameter("--measured takes exactly one photo.", param_hint="--measured")
    if order.measured.suffix.lower() != ".png":
        raise typer.BadParameter("the name must end in .png.", param_hint="--measured")
    read = [path for path in (*order.photos, order.artwork, order.approved) if path is not None]
    if order.measured.resolve() in [path.resolve() for path in read]:
        raise typer.BadParameter("this file is read, so it is not written over.", param_hint="--measured")
