"""The table seen straight from above, at a modest scale, with what is known to be the card masked."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from dyecast_inspect.card_sighting import CardSighting
from dyecast_shared.geometry import apply_homography, rectangle_corners
from dyecast_shared.photo import Photo

PIXELS_PER_MM = 1.25
"""Scale of the view: sides are found to a fraction of a pixel, and a 20 mm magnet still spans 25 pixels."""

LONGEST_SIDE_PX = 1000
"""A photo that reaches far over the table is seen at a smaller scale, so that the work stays bounded."""

REACH_MM = 550.0
"""Nothing farther than this from the card's middle is looked at: a slanted photo reaches to the horizon."""

CARD_MARGIN_MM = 3.0
"""The card and this much around it is left out: its edge may curl, and it throws a shadow."""


@dataclass(frozen=True, slots=True, eq=False)
class OutlineView:
    """The table from above.

    Attributes
    ----------
    lab
        (h, w, 3) float32 L*, a*, b* of the photo's own values taken as sRGB, lightly blurred. Not corrected
        by the card: only differences across an edge matter here.
    seen
        (h, w) bool, inside the photo and not on the card.
    inside
        (h, w) bool, inside the photo.
    from_card
        (3, 3) float64, card mm to pixels of this view, centres at whole numbers: scaled and shifted.
    pixels_per_mm
        Its scale.
    """

    lab: NDArray[np.float32]
    seen: NDArray[np.bool_]
    inside: NDArray[np.bool_]
    from_card: NDArray[np.float64]
    pixels_per_mm: float


def outline_view(photo: Photo, card: CardSighting) -> OutlineView:
    """Rectify the photo to the card's plane."""
    low, high = _reach(photo, card)
    scale = min(PIXELS_PER_MM, card.pixels_per_mm, LONGEST_SIDE_PX / float((high - low).max()))
    from_card = np.array([[scale, 0.0, -low[0] * scale], [0.0, scale, -low[1] * scale], [0.0, 0.0, 1.0]])
    width, height = (int(side) for side in np.ceil((high - low) * scale))
    small, ratio = _reduced(photo, 1.5 * scale / card.pixels_per_mm)
    shrink = np.array([[ratio, 0.0, (ratio - 1) / 2], [0.0, ratio, (ratio - 1) / 2], [0.0, 0.0, 1.0]])
    to_view = from_card @ np.linalg.inv(shrink @ card.card_to_photo)
    pixels = cv2.warpPerspective(small, to_view, (width, height), flags=cv2.INTER_LINEAR)
    within = cv2.warpPerspective(np.full(small.shape[:2], 255, np.uint8), to_view, (width, height))
    inside = cv2.erode(within, np.ones((3, 3), np.uint8), borderValue=0) == 255
    lab = cv2.cvtColor(np.asarray(pixels, np.float32) / np.float32(255.0), cv2.COLOR_RGB2Lab)
    return OutlineView(
        lab=np.asarray(cv2.GaussianBlur(lab, (0, 0), 0.7), np.float32),
        seen=inside & ~_on_card(card, from_card, inside.shape),
        inside=inside,
        from_card=from_card,
        pixels_per_mm=scale,
    )


def _reach(photo: Photo, card: CardSighting) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the corners (x, y), in card mm, of the upright box that holds what is looked at."""
    height, width = photo.pixels.shape[:2]
    middle = np.array([card.layout.width, card.layout.height]) / 2
    inverse = np.linalg.inv(card.card_to_photo)
    x, y = np.meshgrid(np.linspace(0, width - 1, 9), np.linspace(0, height - 1, 9))
    places = np.stack([x.ravel(), y.ravel()], axis=1)
    depth = places @ inverse[2, :2] + inverse[2, 2]
    towards = depth * float(inverse[2] @ card.card_to_photo @ [*middle, 1.0]) > 0
    table = apply_homography(inverse, places[towards])
    low = np.maximum(table.min(axis=0), middle - REACH_MM)
    high = np.minimum(table.max(axis=0), middle + REACH_MM)
    return low, high


def _reduced(photo: Photo, ratio: float) -> tuple[NDArray[np.uint8], float]:
    """Return the photo's code values, 8 bits, averaged over areas, and the ratio that was taken."""
    ratio = min(1.0, ratio)
    height, width = photo.pixels.shape[:2]
    size = (max(8, round(width * ratio)), max(8, round(height * ratio)))
    pixels = photo.pixels if photo.pixels.dtype == np.uint8 else (photo.pixels >> 8).astype(np.uint8)
    return np.asarray(cv2.resize(pixels, size, interpolation=cv2.INTER_AREA), np.uint8), size[0] / width


def _on_card(card: CardSighting, from_card: NDArray[np.float64], shape: tuple[int, ...]) -> NDArray[np.bool_]:
    """Return where the card with its margin lies."""
    around = rectangle_corners(
        -CARD_MARGIN_MM,
        -CARD_MARGIN_MM,
        card.layout.width + 2 * CARD_MARGIN_MM,
        card.layout.height + 2 * CARD_MARGIN_MM,
    )
    mask = np.zeros(shape[:2], np.uint8)
    cv2.fillConvexPoly(mask, np.round(apply_homography(from_card, around)).astype(np.int32), 1)
    return mask.astype(bool)
