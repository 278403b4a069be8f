"""What the user asked for on the command line of `dyecast inspect`."""

from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, slots=True)
class InspectOrder:
    """An order to inspect photos.

    Attributes
    ----------
    photos, artwork
        What is inspected, and what it should show; without an artwork the approved piece stands for it.
    approved
        Photo of an approved piece to compare with as well, or instead of an artwork.
    out
        Folder the report folders go into.
    as_json
        Print JSON documents instead of words.
    measured
        PNG file for the piece as measured; for one photo.
    printer_profile
        ICC profile of the printer.
    card, card_values
        Layout file of an own card; files with the measured colours of cards.
    shop_profile
        File of what the shop has taught.
    paper
        Where the transfer paper is: ``unknown``, ``taped`` or ``off``.
    quiet
        One line a photo, no progress, no summary.
    peek
        The photos are peeks: the paper is still on, one corner lifted.
    print_size_mm
        Width and height the artwork should have on the blank.
    """

    photos: tuple[Path, ...]
    artwork: Path | None
    approved: Path | None = None
    out: Path | None = None
    as_json: bool = False
    measured: Path | None = None
    printer_profile: Path | None = None
    card: Path | None = None
    card_values: tuple[Path, ...] = ()
    shop_profile: Path | None = None
    paper: str = "unknown"
    quiet: bool = False
    peek: bool = False
    print_size_mm: tuple[float, float] | None = None
