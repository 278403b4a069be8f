"""Find the piece beside the card: where the artwork's details turn up in the photo.

A piece lies flat beside the card, so in card millimetres its print is the artwork turned, shifted and
scaled: four unknowns, found by consensus among matched details even when most matches are wrong.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from dyecast_inspect.card_sighting import CardSighting
from dyecast_inspect.piece_views import ArtworkView, PhotoView, artwork_view, photo_view
from dyecast_inspect.read_artwork import Artwork
from dyecast_shared.geometry import apply_homography
from dyecast_shared.photo import Photo

MATCH_RATIO = 0.9
"""A match counts when it is this much closer than the second best (Lowe 2004 uses 0.8 without a consensus
step that knows the scale; the card's plane bears more wrong matches, so more right ones can be kept)."""

CONSENSUS_MM = 2.0
"""Matches this close, in mm on the table, agree: paper curl, lens distortion and the glass's depth
move details by up to a millimetre."""

LEAST_AGREEING = 6
"""Fewer agreeing matches than this arise by chance on wood and cloth."""

PHOTO_LONG_SIDES_PX = (1000, 2000)
"""Long side of the photo when details are looked for. In the first a 50 mm magnet beside an A6 card spans
100 pixels; the second, three times as slow, shows fine details of small, pale and mirrored pieces."""

SMALLEST_PIECE_MM = 20.0
"""Pieces smaller than a small magnet's width are not looked for."""

LARGEST_PIECE_MM = 600.0
"""Pieces larger than a large cutting board or panel are not looked for."""


@dataclass(frozen=True, slots=True, eq=False)
class PieceCandidate:
    """A place where the artwork may lie.

    Attributes
    ----------
    artwork_to_photo
        (3, 3) float64 homography from the artwork's unit square (x to the right and y down, 0..1 each) to
        working pixels, pixel centres at whole numbers.
    mirrored
        True when the print runs the wrong way round.
    agreeing
        Matches that agree on this place; 0 when it was found by its outline.
    """

    artwork_to_photo: NDArray[np.float64]
    mirrored: bool
    agreeing: int


def first_view(photo: Photo, card: CardSighting) -> PhotoView:
    """Return the photo's details at the size that is looked at first; the artwork is not needed for it."""
    return photo_view(photo, card, _sizes(photo)[0])


def _sizes(photo: Photo) -> list[int]:
    """Return the long sides at which the photo is looked at, the smallest first."""
    whole_px = max(photo.pixels.shape[:2])
    return sorted({min(size, whole_px) for size in PHOTO_LONG_SIDES_PX})


def find_piece(
    photo: Photo, card: CardSighting, artwork: Artwork, first: PhotoView | None = None
) -> Iterator[PieceCandidate]:
    """Yield the places where the artwork may lie, each sought only when it is asked for.

    `first` is the photo's `first_view`, when it was made already.

    The artwork comes before its mirror image, the small photo before the large one: most pieces are found
    at the first attempt, and how well a place correlates (`register_best`) tells better than any number of
    matches whether to go on, since an artwork of repeated tiles agrees with its own mirror image too.
    """
    artwork_views: dict[bool, ArtworkView] = {}
    for place, long_side_px in enumerate(_sizes(photo)):
        view = first if first is not None and place == 0 else photo_view(photo, card, long_side_px)
        for mirrored in (False, True):
            if mirrored not in artwork_views:
                artwork_views[mirrored] = artwork_view(artwork, mirrored=mirrored)
            candidate = _by_details(view, artwork_views[mirrored])
            if candidate is not None:
                yield candidate


def _by_details(photo: PhotoView, artwork: ArtworkView) -> PieceCandidate | None:
    """Match details and let them vote for one similarity in card millimetres."""
    artwork_points, photo_points = _matches(photo, artwork)
    if len(artwork_points) < LEAST_AGREEING:
        return None
    table_points = apply_homography(photo.to_card, photo_points)
    similarity, agreeing = cv2.estimateAffinePartial2D(
        artwork_points,
        table_points.astype(np.float32),
        method=cv2.RANSAC,
        ransacReprojThreshold=CONSENSUS_MM,
        maxIters=3000,
        confidence=0.999,
    )
    if (
        similarity is None
        or int(agreeing.sum()) < LEAST_AGREEING
        or not _plausible(np.asarray(similarity), artwork)
    ):
        return None
    to_card = np.vstack([similarity, [0.0, 0.0, 1.0]]) @ artwork.from_unit
    return PieceCandidate(photo.from_card @ to_card, artwork.mirrored, int(agreeing.sum()))


def _matches(photo: PhotoView, artwork: ArtworkView) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Return matching points (N, 2) in artwork-view and in working photo pixels."""
    if photo.descriptors is None or artwork.descriptors is None or len(photo.descriptors) < 2:
        return np.empty((0, 2), np.float32), np.empty((0, 2), np.float32)
    pairs = cv2.BFMatcher(cv2.NORM_HAMMING).knnMatch(artwork.descriptors, photo.descriptors, k=2)
    kept = [best for best, second in pairs if best.distance < MATCH_RATIO * second.distance]
    return (
        artwork.points[[match.queryIdx for match in kept]],
        photo.points[[match.trainIdx for match in kept]],
    )


def _plausible(similarity: NDArray[np.float64], artwork: ArtworkView) -> bool:
    """Tell whether the piece would have a size that is pressed."""
    millimetres_per_pixel = float(np.hypot(similarity[0, 0], similarity[1, 0]))
    long_side_mm = millimetres_per_pixel * max(artwork.size_px)
    return SMALLEST_PIECE_MM <= long_side_mm <= LARGEST_PIECE_MM
