"""Carrying out an order to inspect photos: read what they share, inspect, write, print, sum up."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from dyecast_api.card_choice import layouts_to_look_for, values_by_layout
from dyecast_api.exit_status import worst_status
from dyecast_api.inspect_order import InspectOrder
from dyecast_api.inspect_stages import InspectStages
from dyecast_api.inspection_document import document_line
from dyecast_api.inspection_text import inspection_line, inspection_text, summary_line, verdict_text
from dyecast_api.output_files import write_file
from dyecast_api.photo_batch import InspectedPhoto, Setting, inspected_photos
from dyecast_api.print_size import check_aspect
from dyecast_api.printable_text import printable
from dyecast_api.report import report_folders, write_report
from dyecast_api.report_index import IndexLine, index_line, write_index
from dyecast_api.report_pictures import measured_png
from dyecast_api.terminal import PhotoProgress, in_verdict_colour, print_result, print_trouble
from dyecast_inspect.inspection import Paper
from dyecast_shared.errors import BadInput
from dyecast_shared.meanwhile import meanwhile

if TYPE_CHECKING:
    from dyecast_inspect.read_artwork import Artwork


def carry_out(order: InspectOrder, stages: InspectStages) -> int:
    """Inspect every photo, write and print what was asked for; return the exit status.

    Raises DyecastError when the artwork, the approved photo, a card file or an output cannot be used.
    """
    lines: list[IndexLine] = []
    verdicts = []
    reading = partial(_read_artwork, order, stages)
    with PhotoProgress(len(order.photos), quiet=order.quiet) as progress, meanwhile(reading) as artwork:
        setting = _setting(order, stages, progress, artwork)
        photos = inspected_photos(order.photos, setting, stages, progress.say)
        for inspected, folder in zip(photos, _folders(order), strict=True):
            page = _write_files(order, inspected, folder)
            progress.photo_done()
            with progress.aside():
                _print(order, inspected, page)
            verdicts.append(inspected.inspection.verdict)
            lines += [index_line(inspected.inspection, page)] if page is not None else []
    if len(verdicts) > 1:
        _sum_up(order, summary_line(verdicts, peek=order.peek), lines)
    return worst_status(verdicts)


def _read_artwork(order: InspectOrder, stages: InspectStages) -> "Artwork":
    """Read the artwork and how large it was to be printed; without one, the approved piece stands for it."""
    if order.artwork is None:
        return _approved_artwork(order, stages)
    artwork = stages.read_artwork(order.artwork, printer_profile=order.printer_profile)
    if order.print_size_mm is None:
        return artwork
    check_aspect(order.print_size_mm, artwork.size_px)
    return replace(artwork, print_size_mm=order.print_size_mm)


def _approved_artwork(order: InspectOrder, stages: InspectStages) -> "Artwork":
    """Let the approved piece stand for the artwork; raise BadInput when neither was named."""
    if order.approved is None:
        raise BadInput("There is neither an artwork nor an approved piece to compare with.")
    layouts = layouts_to_look_for(order.card)
    values = values_by_layout(order.card_values, layouts)
    return stages.approved_artwork(order.approved, layouts=layouts, card_values=values)


def _folders(order: InspectOrder) -> Sequence[Path | None]:
    if order.out is None:
        return [None] * len(order.photos)
    return report_folders(order.photos, order.out)


def _setting(
    order: InspectOrder, stages: InspectStages, progress: PhotoProgress, artwork: "Callable[[], Artwork]"
) -> Setting:
    """Read what all photos share: cards, the approved piece; the artwork is being read already."""
    layouts = layouts_to_look_for(order.card)
    values = values_by_layout(order.card_values, layouts)
    approved = None
    if order.approved is not None and order.artwork is not None:
        progress.say("Measuring the approved piece")
        approved = stages.measure_approved(order.approved, artwork, layouts=layouts, card_values=values)
    shop = None if order.shop_profile is None else stages.read_shop_eye(order.shop_profile)
    return Setting(artwork, layouts, values, approved, shop, Paper(order.paper), order.peek)


def _write_files(order: InspectOrder, inspected: InspectedPhoto, folder: Path | None) -> Path | None:
    """Write the report and the measured piece as far as they were asked for; return the report page."""
    if order.measured is not None:
        _write_measured(order.measured, inspected)
    if folder is None:
        return None
    return write_report(inspected.inspection, folder, error=inspected.error)


def _write_measured(path: Path, inspected: InspectedPhoto) -> None:
    pictures = inspected.inspection.pictures
    if pictures is None:
        print_trouble(f"dyecast: {path}: not written, because the piece could not be measured.")
        return
    write_file(path, measured_png(pictures))


def _print(order: InspectOrder, inspected: InspectedPhoto, page: Path | None) -> None:
    """Print one photo's result: a JSON line, one line of words, or all of it when it is the only photo."""
    inspection = inspected.inspection
    if order.as_json:
        print_result(document_line(inspection, error=inspected.error))
        return
    brief = order.quiet or len(order.photos) > 1
    text = inspection_line(inspection, page) if brief else inspection_text(inspection, page)
    words = verdict_text(inspection)
    print_result(in_verdict_colour(words, inspection.verdict) + text.removeprefix(words))


def _sum_up(order: InspectOrder, summary: str, lines: Sequence[IndexLine]) -> None:
    """Write the index of the reports and print the summary, for more than one photo."""
    index = write_index(lines, summary, order.out) if order.out is not None else None
    if order.as_json or order.quiet:
        return
    print_result(summary)
    if index is not None:
        print_result(printable(f"All reports: {index}"))
