"""Take an approved piece for the artwork: its own colours, upright, in its own frame.

What the photo of the approved piece shows is what other pieces are then held against, so a transferred
fraction of 1 means as much ink as the approved piece. The card's systematic error is in both photos and
cancels. What the approved photo adds to the piece does not: the light its glass mirrors, and a trend of the
light over the piece beyond what the card tells; both stay in these colours.
"""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.card_layout import CardLayout
from dyecast_calibration.card_values import CardValues
from dyecast_calibration.grading_limits import grading_limits
from dyecast_inspect.card_sighting import CardSighting
from dyecast_inspect.correct_colour import ColourCorrection
from dyecast_inspect.measure_piece import corrected_frame
from dyecast_inspect.outline import ellipse, rounded
from dyecast_inspect.photo_checks import check_card
from dyecast_inspect.piece_outline import OutlineShape, PieceOutline, find_outlines
from dyecast_inspect.read_artwork import ARTWORK_LONG_SIDE_PX, Artwork
from dyecast_inspect.read_card import read_card
from dyecast_inspect.trail import Trail
from dyecast_shared.errors import PieceClipped, PieceHidden, PieceNotFound
from dyecast_shared.geometry import apply_homography
from dyecast_shared.photo import Photo

LEAST_SCORE: Final = 0.35
"""Score of an outline below which nothing beside the card is taken for a piece; on rendered scenes the least
for a true piece was 0.39, on bare tables the most was 0.2."""

INSET_MM: Final = 0.8
"""The rim is left out: its edge may catch light, and an outline is that uncertain."""

CORNER_RADIUS: Final = 0.1
"""Corners that are left out, as a share of the short side: many blanks are rounded, and a hundredth of the
area is little to lose on one that is not."""

MOST_CLIPPED: Final = 0.25
"""Share of the approved piece that glare may hide."""

NOTES: Final = (
    "compared with the approved piece, not with an artwork: what is said about the artwork is about that "
    "piece, and all of its ink counts as 100 %.",
    "light that it mirrors in its photo, and a trend of the light over it, were left as they are.",
)
"""What a user should know about such an artwork."""


def approved_artwork(
    path: Path,
    *,
    layouts: Sequence[CardLayout] | None = None,
    card_values: Mapping[str, CardValues] | None = None,
) -> Artwork:
    """Read the piece in the photo of an approved one, to inspect others against it without an artwork.

    Raises Retake or BadInput when that cannot be done.
    """
    photo, card, _, correction = read_card(path, layouts, card_values, lambda _: None, Trail())
    check_card(photo, correction, grading_limits())
    return artwork_from_approved(photo, card, correction)


def artwork_from_approved(photo: Photo, card: CardSighting, correction: ColourCorrection) -> Artwork:
    """Read the piece beside the card as an artwork, upright as in the photo, at most 720 px long.

    Raises PieceNotFound, PieceClipped or PieceHidden, each naming the photo.
    """
    outline = _likeliest(photo, card)
    on_table = _upright(card, outline.inset(INSET_MM))
    corners = apply_homography(card.card_to_photo, on_table)
    _check_inside(photo, corners, outline.shape)
    size = _frame_size(on_table, corners)
    xyz, _, clipped = corrected_frame(photo, correction, _to_photo(corners, size), size)
    face = _face(outline, size)
    hidden = float(clipped[face].mean())
    if hidden > MOST_CLIPPED:
        raise PieceHidden(f"Glare hides {100 * hidden:.0f} % of the approved piece.", file=photo.name)
    colours, opaque = np.maximum(xyz, 0.0).astype(np.float32), face & ~clipped
    for array in (colours, opaque):
        array.setflags(write=False)
    return Artwork(
        name=photo.name,
        xyz=colours,
        sampled_xyz=colours,
        opaque=opaque,
        size_px=size,
        notes=(*NOTES, *photo.notes),
        from_approved=True,
        blur_mm2=(card.edge_width_px / card.pixels_per_mm) ** 2,
    )


def _likeliest(photo: Photo, card: CardSighting) -> PieceOutline:
    """Return the likeliest outline of a piece."""
    outlines = find_outlines(photo, card)
    if not outlines or outlines[0].score < LEAST_SCORE:
        raise PieceNotFound("Nothing beside the card has the outline of a piece.", file=photo.name)
    return outlines[0]


def _upright(card: CardSighting, corners: NDArray[np.float64]) -> NDArray[np.float64]:
    """Let the corners (4, 2) card mm begin at the one that is top left in the photo."""
    seen = apply_homography(card.card_to_photo, corners)
    height_of_side = (seen + np.roll(seen, -1, axis=0))[:, 1]
    return np.roll(corners, -int(height_of_side.argmin()), axis=0)


def _check_inside(photo: Photo, corners: NDArray[np.float64], shape: OutlineShape) -> None:
    """Refuse a piece that reaches out of the photo; a round one reaches to the middles of its square."""
    height, width = photo.pixels.shape[:2]
    reach = corners if shape is OutlineShape.RECTANGLE else (corners + np.roll(corners, -1, axis=0)) / 2
    if (reach < 0).any() or (reach > [width - 1, height - 1]).any():
        raise PieceClipped("Part of the approved piece lies outside the photo.", file=photo.name)


def _frame_size(on_table: NDArray[np.float64], in_photo: NDArray[np.float64]) -> tuple[int, int]:
    """Return (height, width) in pixels: no finer than the piece in the photo, no larger than an artwork.

    The ratio is that of the sides on the table; a slanted photo shortens one of them.
    """
    width_mm, height_mm = (float(np.linalg.norm(on_table[k] - on_table[0])) for k in (1, 3))
    longest_px = float(np.linalg.norm(np.roll(in_photo, -1, axis=0) - in_photo, axis=1).max())
    pixels_per_mm = min(longest_px, ARTWORK_LONG_SIDE_PX) / max(width_mm, height_mm)
    return max(16, round(height_mm * pixels_per_mm)), max(16, round(width_mm * pixels_per_mm))


def _to_photo(corners: NDArray[np.float64], size: tuple[int, int]) -> NDArray[np.float64]:
    """Return the (3, 3) map from the frame's pixels, counted from its outer corner, to working pixels."""
    height, width = size
    frame = np.array([[0, 0], [width, 0], [width, height], [0, height]], np.float32)
    return np.asarray(cv2.getPerspectiveTransform(frame, corners.astype(np.float32)), np.float64)


def _face(outline: PieceOutline, size: tuple[int, int]) -> NDArray[np.bool_]:
    """Return what of the frame is surely the piece's face."""
    height, width = size
    return (
        ellipse(height, width)
        if outline.shape is OutlineShape.ROUND
        else rounded(height, width, CORNER_RADIUS)
    )
