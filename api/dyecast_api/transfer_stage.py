"""Reading a new card beside a trusted one: the seam to the inspection, and the photos one after the other."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from dyecast_api.opencv_check import import_opencv
from dyecast_api.printable_text import printable
from dyecast_api.terminal import PhotoProgress, print_trouble
from dyecast_shared.errors import BadInput, Retake

if TYPE_CHECKING:
    from dyecast_calibration.card_layout import CardLayout
    from dyecast_calibration.card_values import CardValues, Lab


class ReadCardBeside(Protocol):
    """Read the patches of a new card from one photo that also shows a trusted card."""

    def __call__(
        self, path: Path, *, new: "CardLayout", trusted: "CardLayout", trusted_values: "CardValues"
    ) -> "Mapping[str, Lab]":
        """Return L*, a*, b* (D50, 2 degree) by patch id; raise BadInput or Retake for an unusable photo."""


def load_read_card_beside() -> ReadCardBeside:
    """Import the reader; raise DyecastError naming the system package when OpenCV cannot be loaded."""
    import_opencv()
    from dyecast_inspect.transfer_card import read_card_beside

    reader: ReadCardBeside = read_card_beside
    return reader


def readings_of(
    photos: Sequence[Path],
    read_card_beside: ReadCardBeside,
    *,
    new: "CardLayout",
    trusted: "CardLayout",
    known: "CardValues",
) -> "list[Mapping[str, Lab]]":
    """Read every photo; one that cannot be used is named on standard error and left out."""
    readings = []
    with PhotoProgress(len(photos)) as progress:
        for path in photos:
            progress.say(f"Reading {path.name}")
            try:
                readings.append(read_card_beside(path, new=new, trusted=trusted, trusted_values=known))
            except (BadInput, Retake) as error:
                with progress.aside():
                    print_trouble(printable(f"dyecast: left out: {error}"))
            progress.photo_done()
    return readings
