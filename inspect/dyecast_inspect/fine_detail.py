"""How far the dyes have spread: the blur of the print beyond the blur of the photo.

Where the artwork has most detail, small tiles of the photo are compared with the artwork blurred more and
more (a straight line in light, with a small shift allowed); the best blur of all tiles together is the
print's and the photo's. The photo's own is known from the edges of the card's markers.
"""

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from dyecast_inspect.card_sighting import CardSighting
from dyecast_inspect.inspection import Estimate
from dyecast_inspect.read_artwork import Artwork
from dyecast_inspect.register_piece import Registration
from dyecast_shared.geometry import local_scale
from dyecast_shared.photo import Photo, channel_light

TILE_PX: Final = 28
"""Side of a tile, pixels of the finer of photo and artwork: several lines or one clear edge."""

MARGIN_PX: Final = 17
"""Artwork around a tile that its blur may draw from: four times the widest blur, and one for its slope."""

MOST_TILES: Final = 12
"""Tiles compared, those with most detail first."""

BLURS_PX: Final = (0.35, 0.6, 0.9, 1.3, 1.9, 2.7, 3.9)
"""Blurs tried, standard deviation in pixels; a parabola finds the best between them."""

MOST_CLIPPED: Final = 0.02
"""Share of clipped pixels from which a tile is not used."""

LEAST_DETAIL: Final = 0.05
"""Sum of squared slopes of the artwork's light in the best tile below which there is nothing to compare."""

LEAST_TERM: Final = 1e-6
"""Share of all terms' strength added to each, so that a tile whose blurred artwork is flat can be solved."""

CLIPPED_FROM: Final = 250
"""Code value of 255 from which a pixel is glare or clipped."""

BLUR_SHARE: Final = 0.15
"""Uncertainty of the difference of two blurs, as a share of the sum of their variances: focus differs between
card and piece, sharpening acts on both (spread on rendered scenes that show no bleed)."""

LEAST_UNCERTAINTY_MM2: Final = 0.006
"""Uncertainty that remains in sharp photos, mm²: a third of a pixel at 5 pixels a millimetre."""


@dataclass(frozen=True, slots=True, eq=False)
class _Tiles:
    """N tiles: the photo's light (N, T * T) float32, and the artwork around, (N, T + 2 margins, same)."""

    seen: NDArray[np.float32]
    around: NDArray[np.float32]


def measure_bleed(
    photo: Photo, card: CardSighting, registration: Registration, artwork: Artwork
) -> Estimate | None:
    """Return the variance of the dyes' bleed, mm²; slightly negative is noise. None without detail to see.

    Against an approved piece it is the bleed beyond that piece's: the blur of its photo is allowed for.
    """
    if not np.isfinite(registration.correlation):
        return None
    intended = _intended(registration, artwork)
    height, width = intended.shape
    frame = np.array([[1 / width, 0, 0.5 / width], [0, 1 / height, 0.5 / height], [0, 0, 1]])
    to_photo = registration.artwork_to_photo @ frame
    tiles = _tiles(photo, to_photo, intended)
    if tiles is None:
        return None
    middle = [width / 2, height / 2]
    blur_mm = _best_blur_px(tiles) * local_scale(np.linalg.inv(card.card_to_photo) @ to_photo, middle)
    photo_blur_mm = card.edge_width_px / _photo_pixels_per_mm(card, registration)
    uncertainty = BLUR_SHARE * (blur_mm**2 + photo_blur_mm**2 + artwork.blur_mm2) + LEAST_UNCERTAINTY_MM2
    return Estimate(blur_mm**2 + artwork.blur_mm2 - photo_blur_mm**2, uncertainty, "mm²")


def _photo_pixels_per_mm(card: CardSighting, registration: Registration) -> float:
    """Return working pixels per mm on the table where the piece lies."""
    to_card = np.linalg.inv(card.card_to_photo) @ registration.artwork_to_photo
    middle = to_card @ np.array([0.5, 0.5, 1.0])
    return local_scale(card.card_to_photo, middle[:2] / middle[2])


def _intended(registration: Registration, artwork: Artwork) -> NDArray[np.float32]:
    """Return the artwork's light, (h, w) float32, no finer than its print in the photo."""
    height, width = artwork.xyz.shape[:2]
    from_pixels = registration.artwork_to_photo @ np.diag([1.0 / width, 1.0 / height, 1.0])
    ratio = min(1.0, local_scale(from_pixels, [width / 2, height / 2]))
    size = (max(TILE_PX, round(width * ratio)), max(TILE_PX, round(height * ratio)))
    light = np.ascontiguousarray(artwork.xyz[..., 1])
    return np.asarray(cv2.resize(light, size, interpolation=cv2.INTER_AREA), np.float32)


def _tiles(photo: Photo, to_photo: NDArray[np.float64], intended: NDArray[np.float32]) -> _Tiles | None:
    """Return the tiles with most detail that are not clipped, None when there is none."""
    padded = cv2.copyMakeBorder(intended, MARGIN_PX, MARGIN_PX, MARGIN_PX, MARGIN_PX, cv2.BORDER_REFLECT_101)
    side = TILE_PX + 2 * MARGIN_PX
    seen, around = [], []
    for row, column in _most_detailed(intended):
        light = _seen(photo, to_photo @ np.array([[1, 0, column], [0, 1, row], [0, 0, 1]]))
        if light is not None:
            seen.append(light.ravel())
            around.append(padded[row : row + side, column : column + side])
        if len(seen) == MOST_TILES:
            break
    return _Tiles(np.stack(seen), np.stack(around)) if seen else None


def _most_detailed(intended: NDArray[np.float32]) -> list[tuple[int, int]]:
    """Return top left corners (row, column) of tiles with enough detail, the most detailed first."""
    slope = cv2.Sobel(intended, cv2.CV_32F, 1, 0) ** 2 + cv2.Sobel(intended, cv2.CV_32F, 0, 1) ** 2
    rows, columns = intended.shape[0] // TILE_PX, intended.shape[1] // TILE_PX
    blocks = slope[: rows * TILE_PX, : columns * TILE_PX].reshape(rows, TILE_PX, columns, TILE_PX)
    detail = blocks.sum(axis=(1, 3))
    order = np.argsort(-detail, axis=None)
    places = [divmod(int(place), columns) for place in order if detail.flat[place] > LEAST_DETAIL]
    return [(row * TILE_PX, column * TILE_PX) for row, column in places]


def _seen(photo: Photo, to_photo: NDArray[np.float64]) -> NDArray[np.float32] | None:
    """Return one tile of the photo's light, None where it is clipped."""
    flags = cv2.WARP_INVERSE_MAP | cv2.INTER_CUBIC
    codes = np.asarray(cv2.warpPerspective(photo.pixels, to_photo, (TILE_PX, TILE_PX), flags=flags))
    top = CLIPPED_FROM * (257 if codes.dtype == np.uint16 else 1)
    if (codes.max(axis=2) >= top).mean() > MOST_CLIPPED:
        return None
    return channel_light(photo.encoding, codes[..., 1], 1)


def _best_blur_px(tiles: _Tiles) -> float:
    """Return the blur, standard deviation in pixels, that explains all tiles together best."""
    total = np.array([np.log(_misfit(tiles, blur) + 1e-4).sum() for blur in BLURS_PX])
    best = int(np.clip(total.argmin(), 1, len(BLURS_PX) - 2))
    places = np.log(BLURS_PX[best - 1 : best + 2])
    curve = np.polyfit(places, total[best - 1 : best + 2], 2)
    lowest = -curve[1] / (2 * curve[0]) if curve[0] > 0 else places[1]
    return float(np.exp(np.clip(lowest, places[0], places[2])))


def _misfit(tiles: _Tiles, blur: float) -> NDArray[np.float32]:
    """Return the share of each tile's variance that the blurred artwork leaves unexplained, (N,).

    The tiles are blurred as one tall picture: their margins are as wide as the blur reaches.
    """
    count, side = tiles.around.shape[:2]
    soft = cv2.GaussianBlur(tiles.around.reshape(count * side, side), (0, 0), blur)
    pictures = (soft, cv2.Sobel(soft, cv2.CV_32F, 1, 0), cv2.Sobel(soft, cv2.CV_32F, 0, 1))
    inside = np.s_[:, MARGIN_PX:-MARGIN_PX, MARGIN_PX:-MARGIN_PX]
    columns = [picture.reshape(count, side, side)[inside].reshape(count, -1) for picture in pictures]
    terms = np.stack([*columns, np.ones_like(tiles.seen)], axis=1)
    normal = (terms @ terms.transpose(0, 2, 1)).astype(np.float64)
    normal += LEAST_TERM * np.eye(4) * np.trace(normal, axis1=1, axis2=2)[:, np.newaxis, np.newaxis]
    weights = np.linalg.solve(normal, (terms @ tiles.seen[..., np.newaxis]).astype(np.float64))
    left = tiles.seen - (weights.transpose(0, 2, 1) @ terms)[:, 0]
    return np.asarray((left**2).mean(axis=1) / np.maximum(tiles.seen.var(axis=1), 1e-8), np.float32)
