"""What faults are looked for in, read from the photo before the pressing is explained."""

from dataclasses import dataclass

from dyecast_inspect.card_sighting import CardSighting
from dyecast_inspect.faults.border_strips import Borders, measure_borders
from dyecast_inspect.faults.fine_residual import FineView, fine_view
from dyecast_inspect.measure_piece import MeasuredPiece
from dyecast_inspect.read_artwork import Artwork
from dyecast_inspect.register_piece import Registration
from dyecast_shared.photo import Photo


@dataclass(frozen=True, slots=True, eq=False)
class FaultViews:
    """The borders around the print, and photo and artwork at the photo's own sharpness."""

    borders: Borders
    fine: FineView


def fault_views(
    photo: Photo, card: CardSighting, registration: Registration, piece: MeasuredPiece, artwork: Artwork
) -> FaultViews:
    """Read what the search for faults needs."""
    borders = measure_borders(photo, card, registration, piece)
    return FaultViews(borders, fine_view(photo, registration, artwork))
