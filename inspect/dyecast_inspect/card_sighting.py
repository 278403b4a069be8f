"""What finding the card gives: markers as they were seen, and the card as it lies in the photo."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.card_layout import CardLayout


@dataclass(frozen=True, slots=True, eq=False)
class SeenMarker:
    """One marker in the photo.

    Attributes
    ----------
    dictionary
        Name of its ArUco dictionary.
    id
        Its number in that dictionary.
    corners_px
        (4, 2) float64 x, y, working pixels, clockwise from the marker's own top left as printed
        (counter-clockwise when `mirrored`).
    likeness
        Correlation of its inner cells with the printed pattern, -1..1; 1 = the same.
    mirrored
        True when the pattern was seen as in a mirror.
    edge_width_px
        Standard deviation of the edge spread across its sides in the more blurred of its two directions,
        working pixels; NaN before the sides were measured.
    """

    dictionary: str
    id: int
    corners_px: NDArray[np.float64]
    likeness: float
    mirrored: bool = False
    edge_width_px: float = float("nan")


@dataclass(frozen=True, slots=True, eq=False)
class CardSighting:
    """The card as it lies in one photo.

    Attributes
    ----------
    layout
        Which card it is.
    card_to_photo
        (3, 3) float64 homography, card mm (origin at the card's top left) to working pixels, pixel centres
        at whole numbers; its last element is 1. It is the plane nearest to the printed part of the card as it
        lies, lens and curl included.
    corners_px
        (4, 2) float64 corners of the card, full-resolution upright pixels, pixel centres at whole numbers:
        top left, top right, bottom right, bottom left of the card as it is read. Lens and curl are included,
        so they can lie beside `card_to_photo` of the card's corners.
    missing_markers
        Ids of the card's markers that were not seen, in rising order.
    residual_px
        Root mean square distance of the marker corners from where `card_to_photo` puts them, working pixels.
    off_plane_mm
        How far the card departs from that plane where it matters, mm: the larger of the farthest patch
        centre of the fitted (curled) card from `card_to_photo`, and the farthest marker corner from the
        fitted card.
    curl_mm
        How far the middle of the card lies out of the plane of its corners, mm, as fitted; not signed.
    pixels_per_mm
        Working pixels per mm, mean over the card (square root of the ratio of areas).
    edge_width_px
        Standard deviation of the edge spread on the marker sides, working pixels: the median over the
        markers, each in its more blurred direction. The idea of the slanted edge of ISO 12233.
    """

    layout: CardLayout
    card_to_photo: NDArray[np.float64]
    corners_px: NDArray[np.float64]
    missing_markers: tuple[int, ...]
    residual_px: float
    off_plane_mm: float
    curl_mm: float
    pixels_per_mm: float
    edge_width_px: float
