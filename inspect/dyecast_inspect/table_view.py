"""The photo seen from straight above the table, in card millimetres, and places of the artwork in it."""

from dataclasses import dataclass
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from dyecast_inspect.card_sighting import CardSighting
from dyecast_inspect.piece_views import CARD_MARGIN_MM
from dyecast_shared.geometry import apply_homography, rectangle_corners
from dyecast_shared.photo import Photo

REACH_MM: Final = 400.0
"""How far from the card's middle the table is looked at: an A6 card and the longest board beside it."""

OVERSAMPLING: Final = 3
"""A coarse view is read this many times finer along each side, then averaged."""


@dataclass(frozen=True, slots=True, eq=False)
class TableView:
    """The table from above.

    Attributes
    ----------
    pixels
        (h, w, 3) R, G, B code values, as the photo has them.
    seen
        (h, w) bool, where the photo shows the table beside the card.
    to_photo
        (3, 3) homography from the view's pixels to working pixels of the photo.
    pixels_per_mm
        Scale of the view.
    """

    pixels: NDArray[np.integer[Any]]
    seen: NDArray[np.bool_]
    to_photo: NDArray[np.float64]
    pixels_per_mm: float


def table_view(photo: Photo, card: CardSighting, *, long_side_px: int, most_per_mm: float) -> TableView:
    """Look at the table from above, no finer than `most_per_mm` pixels a millimetre."""
    height, width = photo.pixels.shape[:2]
    to_card = np.linalg.inv(card.card_to_photo)
    corners = apply_homography(to_card, rectangle_corners(0.0, 0.0, width - 1.0, height - 1.0))
    middle = np.array([card.layout.width, card.layout.height]) / 2.0
    low = np.maximum(corners.min(axis=0), middle - REACH_MM)
    high = np.minimum(corners.max(axis=0), middle + REACH_MM)
    scale = min(long_side_px / float((high - low).max()), most_per_mm)
    to_table = np.array([[1 / scale, 0, low[0]], [0, 1 / scale, low[1]], [0, 0, 1]])
    to_photo = card.card_to_photo @ to_table
    across, down = np.maximum(np.ceil((high - low) * scale), 8.0).astype(int).tolist()
    view = _averaged(photo, to_photo, (across, down))
    return TableView(view, _beside_card(photo, card, to_photo, (across, down)), to_photo, scale)


def similarity(turn_and_scale: complex, shift: complex) -> NDArray[np.float64]:
    """Return the (3, 3) similarity that multiplies x + iy by one complex number and adds another."""
    a, b = turn_and_scale.real, turn_and_scale.imag
    return np.array([[a, -b, shift.real], [b, a, shift.imag], [0.0, 0.0, 1.0]])


def unit_to_pixels(size: tuple[int, int], *, mirrored: bool) -> NDArray[np.float64]:
    """Return the (3, 3) map from the unit square to a picture (height, width) of it, mirrored or not."""
    height, width = size
    across = [-width, 0.0, width - 0.5] if mirrored else [width, 0.0, -0.5]
    return np.array([across, [0.0, height, -0.5], [0.0, 0.0, 1.0]])


def _averaged(photo: Photo, to_photo: NDArray[np.float64], size: tuple[int, int]) -> NDArray[np.integer[Any]]:
    """Read the photo finer than the view, and average."""
    times = OVERSAMPLING
    fine = to_photo @ np.array(
        [[1 / times, 0, 0.5 / times - 0.5], [0, 1 / times, 0.5 / times - 0.5], [0, 0, 1]]
    )
    flags = cv2.WARP_INVERSE_MAP | cv2.INTER_LINEAR
    large = cv2.warpPerspective(photo.pixels, fine, (size[0] * times, size[1] * times), flags=flags)
    return np.asarray(cv2.resize(large, size, interpolation=cv2.INTER_AREA), photo.pixels.dtype)


def _beside_card(
    photo: Photo, card: CardSighting, to_photo: NDArray[np.float64], size: tuple[int, int]
) -> NDArray[np.bool_]:
    """Tell which pixels of the view lie in the photo and not on the card."""
    height, width = photo.pixels.shape[:2]
    seen = np.zeros((size[1], size[0]), np.uint8)
    from_photo = np.linalg.inv(to_photo)
    frame = apply_homography(from_photo, rectangle_corners(0.0, 0.0, width - 1.0, height - 1.0))
    cv2.fillConvexPoly(seen, np.round(frame).astype(np.int32), 1)
    margin = CARD_MARGIN_MM
    around = rectangle_corners(
        -margin, -margin, card.layout.width + 2 * margin, card.layout.height + 2 * margin
    )
    on_view = apply_homography(from_photo @ card.card_to_photo, around)
    cv2.fillConvexPoly(seen, np.round(on_view).astype(np.int32), 0)
    return seen.astype(np.bool_)
