"""The command `dyecast inspect`."""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from dyecast_api import inspect_stages
from dyecast_api.exit_status import worst_status
from dyecast_api.terminal import PhotoProgress, in_verdict_colour, print_result, print_trouble

if TYPE_CHECKING:
    from dyecast_api.inspect_stages import InspectStages
    from dyecast_api.photo_batch import InspectedPhoto, Setting


@dataclass(frozen=True, slots=True)
class Order:
    """What the user asked for on the command line of `dyecast inspect`."""

    photos: tuple[Path, ...]
    artwork: Path
    approved: Path | None = None
    out: Path | None = None
    as_json: bool = False
    measured: Path | None = None
    printer_profile: Path | None = None
    card: Path | None = None
    card_values: tuple[Path, ...] = ()
    quiet: bool = False


def inspect(  # noqa: PLR0913, PLR0917 (one parameter per option is how typer reads a command line)
    photos: Annotated[
        list[Path], typer.Argument(help="Photos of a piece beside the card.", metavar="PHOTO...")
    ],
    artwork: Annotated[
        Path, typer.Option("--artwork", "-a", metavar="FILE", help="What the piece should show.")
    ],
    approved: Annotated[
        Path | None,
        typer.Option(
            metavar="PHOTO", help="Photo of an approved piece beside the card; compare with it too."
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
            help="Write the piece as measured, in the artwork's frame, sRGB; for one photo.",
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
    quiet: Annotated[
        bool, typer.Option("--quiet", "-q", help="One line a photo, no progress, no summary.")
    ] = False,
) -> None:
    """Judge pieces from photos: under-pressed, good, over-pressed, or take the photo again.

    Exit status: 0 all good; 1 judged and not good; 2 trouble. Of several photos, the worst.
    """
    order = Order(
        photos=tuple(photos),
        artwork=artwork,
        approved=approved,
        out=out,
        as_json=as_json,
        measured=measured,
        printer_profile=printer_profile,
        card=card,
        card_values=tuple(card_values or ()),
        quiet=quiet,
    )
    _check_measured(order)
    raise typer.Exit(carry_out(order, inspect_stages.load_inspect_stages()))


def _check_measured(order: Order) -> None:
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


def carry_out(order: Order, stages: "InspectStages") -> int:
    """Inspect every photo, write and print what was asked for; return the exit status.

    Raises DyecastError when the artwork, the approved photo, a card file or an output cannot be used.
    """
    from dyecast_api.inspection_text import summary_line
    from dyecast_api.photo_batch import inspected_photos

    pages = _report_folders(order)
    verdicts = []
    with PhotoProgress(len(order.photos), quiet=order.quiet) as progress:
        setting = _setting(order, stages, progress)
        for inspected in inspected_photos(order.photos, setting, stages, progress.say):
            page = _write_files(order, inspected, pages)
            with progress.aside():
                _print(order, inspected, page)
            progress.photo_done()
            verdicts.append(inspected.inspection.verdict)
    if len(verdicts) > 1 and not order.as_json and not order.quiet:
        print_result(summary_line(verdicts))
    return worst_status(verdicts)


def _report_folders(order: Order) -> list[Path]:
    from dyecast_api.report import report_folders

    return [] if order.out is None else list(report_folders(order.photos, order.out))


def _setting(order: Order, stages: "InspectStages", progress: PhotoProgress) -> "Setting":
    """Read what all photos share: artwork, cards, the approved piece."""
    from dyecast_api.card_choice import layouts_to_look_for, values_by_layout
    from dyecast_api.photo_batch import Setting

    progress.say("Reading the artwork")
    artwork = stages.read_artwork(order.artwork, printer_profile=order.printer_profile)
    layouts = layouts_to_look_for(order.card)
    values = values_by_layout(order.card_values, layouts)
    approved = None
    if order.approved is not None:
        progress.say("Measuring the approved piece")
        approved = stages.measure_approved(order.approved, artwork, layouts=layouts, card_values=values)
    return Setting(artwork, layouts, values, approved)


def _write_files(order: Order, inspected: "InspectedPhoto", folders: list[Path]) -> Path | None:
    """Write the report and the measured piece as far as they were asked for; return the report page."""
    from dyecast_api.report import write_report

    if order.measured is not None:
        _write_measured(order.measured, inspected)
    if not folders:
        return None
    return write_report(inspected.inspection, folders.pop(0), error=inspected.error)


def _write_measured(path: Path, inspected: "InspectedPhoto") -> None:
    from dyecast_api.output_files import write_file
    from dyecast_api.report_pictures import png_bytes

    pictures = inspected.inspection.pictures
    if pictures is None:
        print_trouble(f"dyecast: {path}: not written, because the piece could not be measured.")
        return
    write_file(path, png_bytes(pictures.piece))


def _print(order: Order, inspected: "InspectedPhoto", page: Path | None) -> None:
    """Print one photo's result: a JSON line, one line of words, or all of it when it is the only photo."""
    from dyecast_api.inspection_document import document_line
    from dyecast_api.inspection_text import inspection_line, inspection_text, verdict_text

    inspection = inspected.inspection
    if order.as_json:
        print_result(document_line(inspection, error=inspected.error))
        return
    brief = order.quiet or len(order.photos) > 1
    text = inspection_line(inspection, page) if brief else inspection_text(inspection, page)
    words = verdict_text(inspection)
    print_result(in_verdict_colour(words, inspection.verdict) + text.removeprefix(words))
