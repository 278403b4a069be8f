"""Small grey pictures of photo and artwork, and the details in them that can be matched."""

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from dyecast_inspect.card_sighting import CardSighting
from dyecast_inspect.read_artwork import Artwork
from dyecast_shared.encodings import srgb_encode
from dyecast_shared.geometry import apply_homography, rectangle_corners
from dyecast_shared.photo import Photo

ARTWORK_LONG_SIDE_PX = 350
"""Long side of the artwork when details are looked for, near what a piece spans in the photo."""

FAST_THRESHOLD = 5
"""Grey levels of 255 by which a detail stands out; low, because an under-pressed piece is pale."""

CARD_MARGIN_MM = 1.5
"""The card and this much around it is left out when details are looked for."""

PHOTO_DETAILS = 2000
"""Details kept in the photo; with 1 000 a small piece on a busy table went unseen (rendered scenes)."""

ARTWORK_DETAILS = 1000
"""Details kept in the artwork."""


@dataclass(frozen=True, slots=True, eq=False)
class PhotoView:
    """The photo's details beside the card.

    `points` is (N, 2) float32 in working pixels; `to_card` and `from_card` are the (3, 3) homographies
    between working pixels and card millimetres.
    """

    points: NDArray[np.float32]
    descriptors: NDArray[np.uint8] | None
    to_card: NDArray[np.float64]
    from_card: NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class ArtworkView:
    """The artwork's details.

    `points` is (N, 2) float32 in the view's own pixels of `size_px` (height, width), mirrored if
    `mirrored`; `from_unit` is the (3, 3) map from the artwork's unit square to those pixels.
    """

    points: NDArray[np.float32]
    descriptors: NDArray[np.uint8] | None
    size_px: tuple[int, int]
    from_unit: NDArray[np.float64]
    mirrored: bool


def photo_view(photo: Photo, card: CardSighting, long_side_px: int) -> PhotoView:
    """Collect the details of the photo, made no larger than `long_side_px`, that do not lie on the card."""
    height, width = photo.pixels.shape[:2]
    ratio = min(1.0, long_side_px / max(height, width))
    size = (round(width * ratio), round(height * ratio))
    small = np.asarray(cv2.resize(grey_8_bit(photo.pixels), size, interpolation=cv2.INTER_AREA), np.uint8)
    beside_card = np.full(small.shape, 255, np.uint8)
    cv2.fillConvexPoly(beside_card, np.round(_card_outline(card) * ratio).astype(np.int32), 0)
    points, descriptors = details(small, beside_card, PHOTO_DETAILS)
    return PhotoView(
        points=np.asarray((points + 0.5) / ratio - 0.5, np.float32),
        descriptors=descriptors,
        to_card=np.asarray(np.linalg.inv(card.card_to_photo), np.float64),
        from_card=card.card_to_photo,
    )


def artwork_view(artwork: Artwork, *, mirrored: bool) -> ArtworkView:
    """Collect the details of the artwork, or of its mirror image."""
    if artwork.parts is not None and not mirrored:
        return artwork.parts.view
    grey = lightness_picture(artwork.coarse(), ARTWORK_LONG_SIDE_PX)
    if mirrored:
        grey = np.ascontiguousarray(grey[:, ::-1])
    points, descriptors = details(grey, None, ARTWORK_DETAILS)
    height, width = grey.shape
    across = [-width, 0.0, width - 0.5] if mirrored else [width, 0.0, -0.5]
    return ArtworkView(
        points=points,
        descriptors=descriptors,
        size_px=(height, width),
        from_unit=np.array([across, [0.0, height, -0.5], [0.0, 0.0, 1.0]]),
        mirrored=mirrored,
    )


def details(
    grey: NDArray[np.uint8], mask: NDArray[np.uint8] | None, most: int
) -> tuple[NDArray[np.float32], NDArray[np.uint8] | None]:
    """Find at most `most` details and describe them (ORB: Rublee, Rabaud, Konolige and Bradski, ICCV 2011).

    Returns points (N, 2) in pixels of `grey` and their binary descriptors (N, 32), None when N is 0.
    """
    finder: Any = cv2.ORB_create(nfeatures=most, scaleFactor=1.2, nlevels=8, fastThreshold=FAST_THRESHOLD)  # type: ignore[attr-defined, unused-ignore]
    keypoints, descriptors = finder.detectAndCompute(grey, mask)
    points = np.array([keypoint.pt for keypoint in keypoints], np.float32).reshape(-1, 2)
    return points, descriptors


def lightness_picture(xyz: NDArray[np.float32], long_side_px: int) -> NDArray[np.uint8]:
    """Return luminance, encoded as sRGB does, 8 bits, no larger than `long_side_px`."""
    height, width = xyz.shape[:2]
    ratio = min(1.0, long_side_px / max(height, width))
    size = (max(8, round(width * ratio)), max(8, round(height * ratio)))
    luminance = cv2.resize(np.ascontiguousarray(xyz[..., 1]), size, interpolation=cv2.INTER_AREA)
    return np.asarray(np.round(srgb_encode(np.clip(luminance, 0.0, 1.0)) * 255.0), np.uint8)


def grey_8_bit(pixels: NDArray[np.integer[Any]]) -> NDArray[np.uint8]:
    """Return the encoded grey of R, G, B code values (H, W, 3), 8 bits."""
    grey: NDArray[Any] = np.asarray(cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY))
    return np.asarray(grey >> 8 if grey.dtype == np.uint16 else grey, np.uint8)


def _card_outline(card: CardSighting) -> NDArray[np.float64]:
    """Return the card's corners with a margin, (4, 2) working pixels."""
    around = rectangle_corners(
        -CARD_MARGIN_MM,
        -CARD_MARGIN_MM,
        card.layout.width + 2 * CARD_MARGIN_MM,
        card.layout.height + 2 * CARD_MARGIN_MM,
    )
    return apply_homography(card.card_to_photo, around)
