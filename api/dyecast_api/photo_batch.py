"""Inspecting photos one after the other; trouble with one does not stop the others."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from dyecast_api.inspect_stages import ApprovedPiece, InspectStages, ShopEye
from dyecast_api.refused_photo import refused_inspection
from dyecast_inspect.inspection import Inspection, Paper, Reference
from dyecast_shared.errors import BadInput, DyecastError, Retake

if TYPE_CHECKING:
    from dyecast_calibration.card_layout import CardLayout
    from dyecast_calibration.card_values import CardValues
    from dyecast_inspect.read_artwork import Artwork


@dataclass(frozen=True, slots=True, eq=False)
class Setting:
    """What every photo of a batch is inspected against.

    `artwork` returns it, or raises what reading it raised; it may still be being read. `card_values` is by
    layout name and may be empty. `peek` tells that the photos are peeks, so that a refused one is answered
    as a peek.
    """

    artwork: "Callable[[], Artwork]"
    layouts: "Sequence[CardLayout]"
    card_values: "Mapping[str, CardValues]"
    approved: ApprovedPiece | None = None
    shop: ShopEye | None = None
    paper: Paper = Paper.UNKNOWN
    peek: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class InspectedPhoto:
    """One photo's inspection; `error` is set when the file could not be used at all."""

    path: Path
    inspection: Inspection
    error: DyecastError | None = None


def inspected_photos(
    photos: Sequence[Path], setting: Setting, stages: InspectStages, progress: Callable[[str], None]
) -> Iterator[InspectedPhoto]:
    """Inspect the photos in order, each when asked for; a photo that cannot be used becomes a retake."""
    for path in photos:
        yield _inspected(path, setting, stages, progress)


def _inspected(
    path: Path, setting: Setting, stages: InspectStages, progress: Callable[[str], None]
) -> InspectedPhoto:
    try:
        inspection = stages.inspect_photo(
            path,
            setting.artwork,
            layouts=setting.layouts,
            card_values=setting.card_values,
            approved=setting.approved,
            shop=setting.shop,
            paper=setting.paper,
            progress=progress,
        )
    except (BadInput, Retake) as error:
        artwork = setting.artwork()  # when this is what failed, it is not the photo that is refused
        refused = refused_inspection(
            error,
            photo=path.name,
            artwork=artwork.name,
            compared_with=Reference.APPROVED_PIECE if artwork.from_approved else Reference.ARTWORK,
            peek=setting.peek,
        )
        return InspectedPhoto(path, refused, error)
    return InspectedPhoto(path, inspection)
