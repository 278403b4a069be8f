"""What the artwork leaves unexplained of the photo, at the photo's own sharpness.

Tile by tile the photo is predicted from the artwork by least squares: its light, its slopes (a small slip),
their length (ink that spread over an edge), its curvature (a blur), and a plane (light and glare). A speck is
what is left.
"""

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.pressing_model import bands_from_xyz
from dyecast_inspect.explain_surface import GLARE_MARGIN_PX, ExplainedPiece
from dyecast_inspect.faults.ghost import Ghost, light_of_both
from dyecast_inspect.read_artwork import Artwork
from dyecast_inspect.register_piece import Registration
from dyecast_shared.geometry import local_scale
from dyecast_shared.photo import Photo, channel_light

TILE_PX: Final = 24
"""Side of a tile: many times a speck, few times a letter."""

LONG_SIDE_PX: Final = 720
"""Long side at most: 0.3 mm on a 200 mm board."""

BLUR_PX: Final = 0.8
"""Blur of the artwork, standard deviation: about a photo's own."""

OUTLIER: Final = 6.0
"""Residual, in robust deviations of its tile, from which a tile is fitted again without such pixels."""

THINNED: Final = 4
"""Every fourth pixel is enough for a tile's robust deviation."""

CLIPPED_FROM: Final = 250
"""Code value of 255 from which a pixel is glare or clipped."""

LAMP_MM: Final = 3.5
"""A hidden place at least this wide is a mirrored lamp; narrower ones may be the fault itself."""

EDGE_MM: Final = 1.5
"""The outline's own edge reaches this far."""

GLOW_MM: Final = 3.0
"""The soft rim of a lamp reaches this far."""

LEAST_COVERED: Final = 0.4
"""Share of a tile's pixels that must be usable."""

RIDGE: Final = 1e-3
"""Keeps a tile without detail solvable; a tile holds 576 pixels of light near 0.25."""

Image = NDArray[np.float32]


@dataclass(frozen=True, slots=True, eq=False)
class FineResidual:
    """The unexplained part of the photo in the artwork's frame.

    Attributes
    ----------
    rise
        (h, w) float32 square root of light in the middle band of the photo, above the prediction.
    edges
        (h, w) float32 slope of the predicted square root of light, per pixel.
    seen, intended
        (h, w) float32 square root of light in the middle band, of the photo and of the artwork.
    usable
        (h, w) bool: on the piece, not clipped, not under a lamp.
    pixels_per_mm
        Pixels per mm of the print.
    """

    rise: Image
    edges: Image
    seen: Image
    intended: Image
    usable: NDArray[np.bool_]
    pixels_per_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class FineView:
    """The photo and the artwork side by side at the photo's own sharpness, before either is explained.

    Attributes
    ----------
    seen
        (h, w) float32 square root of light in the middle band of the photo, whole tiles.
    clipped
        (h, w) bool: glare or clipped.
    intended
        (h, w) float32 square root of light in the middle band of the artwork, softened.
    terms
        (tiles, terms, pixels) float32: what each tile of the photo may be made of.
    factors
        (tiles, 1, terms) float32: how much of each it is made of, if every pixel counts.
    """

    seen: Image
    clipped: NDArray[np.bool_]
    intended: Image
    terms: Image
    factors: Image


def fine_view(
    photo: Photo,
    registration: Registration,
    artwork: Artwork,
    ghost: Ghost | None = None,
    width_mm: float = 1.0,
) -> FineView:
    """Read photo and artwork in the artwork's frame; how the piece was pressed is not needed for it.

    With a `ghost` the artwork is printed twice; only then `width_mm`, the width of the print, is needed.
    """
    height, width = _size(registration, artwork)
    frame = np.array([[1 / width, 0, 0.5 / width], [0, 1 / height, 0.5 / height], [0, 0, 1]])
    flags = cv2.WARP_INVERSE_MAP | cv2.INTER_LINEAR
    to_photo = registration.artwork_to_photo @ frame
    codes = np.asarray(cv2.warpPerspective(photo.pixels, to_photo, (width, height), flags=flags))
    middle = np.ascontiguousarray(codes[..., 1])
    bands = bands_from_xyz(artwork.at_size(height, width))
    if ghost is not None:
        bands = light_of_both(bands, ghost, width / width_mm)
    intended = np.sqrt(np.maximum(bands, 1e-4))
    soft = np.asarray(cv2.GaussianBlur(intended, (0, 0), BLUR_PX), np.float32)
    seen, terms = np.sqrt(channel_light(photo.encoding, middle, 1)), _terms(soft)
    return FineView(
        seen=seen,
        clipped=middle >= CLIPPED_FROM * (257 if codes.dtype == np.uint16 else 1),
        intended=np.ascontiguousarray(soft[..., 1]),
        terms=terms,
        factors=_solved(terms, terms, tiled(seen)),
    )


def fine_residual(view: FineView, explained: ExplainedPiece, width_mm: float) -> FineResidual:
    """Take off the photo what the artwork explains."""
    pixels_per_mm = view.seen.shape[1] / width_mm
    usable = _usable(explained, view.clipped, pixels_per_mm)
    rise, edges = _unexplained(view, usable)
    usable &= _well_covered(usable)
    return FineResidual(rise, edges, view.seen, view.intended, usable, pixels_per_mm)


def _size(registration: Registration, artwork: Artwork) -> tuple[int, int]:
    """Return (height, width), whole tiles, no finer than the photo or the artwork."""
    height, width = artwork.xyz.shape[:2]
    from_pixels = registration.artwork_to_photo @ np.diag([1.0 / width, 1.0 / height, 1.0])
    ratio = min(1.0, local_scale(from_pixels, [width / 2, height / 2]), LONG_SIDE_PX / max(height, width))
    rows, columns = max(1, round(height * ratio / TILE_PX)), max(1, round(width * ratio / TILE_PX))
    return rows * TILE_PX, columns * TILE_PX


def _unexplained(view: FineView, usable: NDArray[np.bool_]) -> tuple[Image, Image]:
    """Return what the artwork leaves unexplained, and the slope of the prediction, both (h, w)."""
    height, width = view.seen.shape
    terms, light, kept = view.terms, tiled(view.seen), tiled(usable.astype(np.float32))
    some = np.asarray(kept.any(axis=1))
    part = np.asarray(some != kept.all(axis=1))
    factors = view.factors * some[:, np.newaxis, np.newaxis]
    factors[part] = _solved(terms[part] * kept[part, np.newaxis], terms[part], light[part])
    left = light - (factors @ terms)[:, 0]
    limit = OUTLIER * 1.4826 * np.median(np.abs(left[:, ::THINNED]), axis=1, keepdims=True)
    spoilt = ((np.abs(left) > limit) & (kept > 0.0)).any(axis=1)
    if spoilt.any():
        good = kept[spoilt] * (np.abs(left[spoilt]) <= limit[spoilt])
        factors[spoilt] = _solved(terms[spoilt] * good[:, np.newaxis], terms[spoilt], light[spoilt])
        left[spoilt] = light[spoilt] - (factors[spoilt] @ terms[spoilt])[:, 0]
    predicted = untiled(light - left, height, width)
    return untiled(left, height, width), np.asarray(cv2.magnitude(*slopes(predicted)), np.float32)


def slopes(picture: Image) -> tuple[Image, Image]:
    """Return the change of a picture per pixel, to the right and downwards."""
    across = cv2.Sobel(picture, cv2.CV_32F, 1, 0, scale=1 / 8)
    down = cv2.Sobel(picture, cv2.CV_32F, 0, 1, scale=1 / 8)
    return np.asarray(across, np.float32), np.asarray(down, np.float32)


def _well_covered(usable: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return where the tile has enough usable pixels for its fit, (h, w)."""
    height, width = usable.shape
    share = tiled(usable.astype(np.float32)).mean(axis=1) >= LEAST_COVERED
    covered = share.reshape(height // TILE_PX, width // TILE_PX)
    return np.repeat(np.repeat(covered, TILE_PX, axis=0), TILE_PX, axis=1)


def _terms(intended: Image) -> Image:
    """Return the artwork's light (h, w, 3), its slopes, their length, its curvature and a plane, by tiles."""
    middle = np.ascontiguousarray(intended[..., 1])
    bands = [np.ascontiguousarray(intended[..., band]) for band in range(3)]
    across, down = slopes(middle)
    bent = (cv2.magnitude(across, down), cv2.Laplacian(middle, cv2.CV_32F))
    pictures = (*bands, across, down, *(np.asarray(picture, np.float32) for picture in bent))
    ramp = np.linspace(-1.0, 1.0, TILE_PX, dtype=np.float32)
    plane = (np.ones((TILE_PX, TILE_PX)), np.tile(ramp, (TILE_PX, 1)), np.tile(ramp[:, np.newaxis], TILE_PX))
    height, width = pictures[0].shape
    terms = np.empty((height * width // TILE_PX**2, len(pictures) + 3, TILE_PX**2), np.float32)
    for index, picture in enumerate(pictures):
        terms[:, index] = tiled(picture)
    terms[:, len(pictures) :] = np.stack(plane).reshape(3, TILE_PX**2)
    return terms


def _solved(weighted: Image, terms: Image, light: Image) -> Image:
    """Return the least-squares factors of every tile, (tiles, 1, terms), given its terms also weighted."""
    normal = weighted @ terms.transpose(0, 2, 1) + np.float32(RIDGE) * np.eye(
        terms.shape[1], dtype=np.float32
    )
    factors = np.linalg.solve(normal, weighted @ light[..., np.newaxis])
    return np.asarray(factors.transpose(0, 2, 1), np.float32)


def tiled(picture: Image) -> Image:
    """Cut (h, w) into tiles, (tiles, pixels)."""
    rows, columns = picture.shape[0] // TILE_PX, picture.shape[1] // TILE_PX
    blocks = picture.reshape(rows, TILE_PX, columns, TILE_PX).transpose(0, 2, 1, 3)
    return blocks.reshape(rows * columns, TILE_PX * TILE_PX)


def untiled(tiles: Image, height: int, width: int) -> Image:
    """Put tiles together again, (h, w)."""
    blocks = tiles.reshape(height // TILE_PX, width // TILE_PX, TILE_PX, TILE_PX)
    return np.ascontiguousarray(blocks.transpose(0, 2, 1, 3).reshape(height, width))


def _usable(explained: ExplainedPiece, clipped: NDArray[np.bool_], pixels_per_mm: float) -> NDArray[np.bool_]:
    """Return where specks can be looked for: inside the outline, away from lamps and clipped places."""
    height, width = clipped.shape
    hidden = explained.outline & ~explained.judged
    frame_per_mm = pixels_per_mm * explained.judged.shape[1] / width
    lamp = _wider(hidden, 2 * GLARE_MARGIN_PX + LAMP_MM * frame_per_mm).astype(np.uint8)
    glowing = cv2.resize(lamp, (width, height), interpolation=cv2.INTER_NEAREST)
    glowing = cv2.max(glowing, _wider(clipped, LAMP_MM * pixels_per_mm).astype(np.uint8))
    outline = explained.outline.astype(np.uint8)
    inside = cv2.resize(outline, (width, height), interpolation=cv2.INTER_NEAREST)
    margin = _disc(2 * EDGE_MM * pixels_per_mm)
    inside = cv2.erode(inside, margin, borderType=cv2.BORDER_CONSTANT, borderValue=0)
    return np.asarray((inside > 0) & (cv2.dilate(glowing, _disc(2 * GLOW_MM * pixels_per_mm)) == 0))


def _wider(mask: NDArray[np.bool_], size_px: float) -> NDArray[np.bool_]:
    """Keep what is at least `size_px` wide in every direction."""
    opened = cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_OPEN, _disc(size_px))
    return opened.astype(bool)


def _disc(size_px: float) -> NDArray[np.uint8]:
    """Return a square of odd size."""
    return np.ones((2 * round(size_px / 2) + 1,) * 2, np.uint8)
