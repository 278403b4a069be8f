"""The inspection's functions as the command line and others call them, imported when first needed.

Importing them costs OpenCV and more, which `dyecast --help` must not pay. Whoever needs other functions in
their place (a test, a recorded pipeline) builds an `InspectStages` of its own.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from dyecast_api.opencv_check import import_opencv

if TYPE_CHECKING:
    from dyecast_calibration.card_layout import CardLayout
    from dyecast_calibration.card_values import CardValues
    from dyecast_inspect.inspection import Inspection, Paper
    from dyecast_inspect.read_artwork import Artwork

ApprovedPiece = Any
"""What `measure_approved` returns and `inspect_photo` takes; nobody here looks inside."""


ShopEye = Any
"""What `read_shop_eye` returns and `inspect_photo` takes."""


class ReadArtwork(Protocol):
    """Read the artwork file, with the printer's ICC profile if there is one."""

    def __call__(self, path: Path, *, printer_profile: Path | None = None) -> "Artwork":
        """Return the artwork; raise BadInput for a file that cannot be used."""


class MeasureApproved(Protocol):
    """Measure the photo of the approved piece."""

    def __call__(
        self,
        path: Path,
        artwork: "Callable[[], Artwork]",
        *,
        layouts: "Sequence[CardLayout]",
        card_values: "Mapping[str, CardValues]",
    ) -> ApprovedPiece:
        """Return the approved piece; raise BadInput or Retake when the photo cannot be used."""


class ApprovedArtwork(Protocol):
    """Read the piece in the photo of an approved one, to stand for the artwork."""

    def __call__(
        self,
        path: Path,
        *,
        layouts: "Sequence[CardLayout]",
        card_values: "Mapping[str, CardValues]",
    ) -> "Artwork":
        """Return it as an artwork; raise BadInput or Retake when the photo cannot be used."""


class InspectPhoto(Protocol):
    """Inspect one photo."""

    def __call__(  # noqa: PLR0913 (the pipeline's own signature)
        self,
        path: Path,
        artwork: "Callable[[], Artwork]",
        *,
        layouts: "Sequence[CardLayout]",
        card_values: "Mapping[str, CardValues]",
        approved: ApprovedPiece | None,
        shop: ShopEye | None,
        paper: "Paper",
        progress: Callable[[str], None],
    ) -> "Inspection":
        """Return the inspection; raise BadInput for a file that cannot be used."""


@dataclass(frozen=True, slots=True)
class InspectStages:
    """The functions an inspection is made with."""

    read_artwork: ReadArtwork
    measure_approved: MeasureApproved
    inspect_photo: InspectPhoto
    read_shop_eye: Callable[[Path], ShopEye | None]
    approved_artwork: ApprovedArtwork


def load_inspect_stages() -> InspectStages:
    """Import the pipeline; raise DyecastError naming the system package when OpenCV cannot be loaded."""
    import_opencv()
    from dyecast_inspect.artwork_from_approved import approved_artwork
    from dyecast_inspect.pipeline import inspect_photo
    from dyecast_inspect.prepare_artwork import prepared_artwork

    return InspectStages(prepared_artwork, _measure_approved, inspect_photo, _read_shop_eye, approved_artwork)


def _measure_approved(
    path: Path,
    artwork: "Callable[[], Artwork]",
    *,
    layouts: "Sequence[CardLayout]",
    card_values: "Mapping[str, CardValues]",
) -> ApprovedPiece:
    """Measure the photo of an approved piece; raise BadInput or Retake when it cannot be used."""
    from dyecast_inspect.approved_piece import approved_from
    from dyecast_inspect.pipeline import measure_photo

    return approved_from(measure_photo(path, artwork, layouts=layouts, card_values=card_values))


def _read_shop_eye(path: Path) -> ShopEye | None:
    """Read a shop profile and learn from it; raise BadInput when it cannot be used."""
    from dyecast_calibration.grader_model import trained_grader
    from dyecast_calibration.shop_profile import read_shop_profile
    from dyecast_inspect.shop_eye import shop_eye

    return shop_eye(read_shop_profile(path), trained_grader())
