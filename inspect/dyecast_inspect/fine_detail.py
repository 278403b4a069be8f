"""How far the dyes have spread: the blur of the print beyond the blur of the photo.

Where the artwork has most detail, small tiles of the photo are compared with the artwork blurred more and
more (a straight line in light, with a small shift allowed); the best blur of all tiles together is the
print's and the photo's. The photo's own is known from the edges of the card's markers.
"""

from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from dyecast_inspect.card_sighting import CardSighting
from dyecast_inspect.inspection import Estimate
from dyecast_inspect.read_artwork import Artwork
from dyecast_inspect.register_piece import Registration
from dyecast_shared.geometry import local_scale
from dyecast_shared.photo import Photo

TILE_PX: Final = 28
"""Side of a tile, pixels of the finer of photo and artwork: several lines or one clear edge."""

MARGIN_PX: Final = 12
"""Artwork around a tile that its blur may draw from: three times the widest blur."""

MOST_TILES: Final = 14
"""Tiles compared, those with most detail first."""

BLURS_PX: Final = (0.3, 0.5, 0.75, 1.05, 1.5, 2.1, 3.0, 4.2)
"""Blurs tried, standard deviation in pixels; a parabola finds the best between them."""

MOST_CLIPPED: Final = 0.02
"""Share of clipped pixels from which a tile is not used."""

LEAST_DETAIL: Final = 0.05
"""Sum of squared slopes of the artwork's light in the best tile below which there is nothing to compare."""

CLIPPED_FROM: Final = 250
"""Code value of 255 from which a pixel is glare or clipped."""

BLUR_SHARE: Final = 0.15
"""Uncertainty of the difference of two blurs, as a share of the sum of their variances: focus differs between
card and piece, sharpening acts on both (spread on rendered scenes that show no bleed)."""

LEAST_UNCERTAINTY_MM2: Final = 0.006
"""Uncertainty that remains in sharp photos, mm²: a third of a pixel at 5 pixels a millimetre."""


def measure_bleed(
    photo: Photo, card: CardSighting, registration: Registration, artwork: Artwork
) -> Estimate | None:
    """Return the variance of the dyes' bleed, mm²; slightly negative is noise. None without detail to see."""
    intended, seen, clipped, pixels_per_mm = _side_by_side(photo, card, registration, artwork)
    tiles = _detailed_tiles(intended, clipped)
    if not tiles:
        return None
    blur_mm = _best_blur_px(intended, seen, tiles) / pixels_per_mm
    photo_blur_mm = card.edge_width_px / _photo_pixels_per_mm(card, registration)
    uncertainty = BLUR_SHARE * (blur_mm**2 + photo_blur_mm**2) + LEAST_UNCERTAINTY_MM2
    return Estimate(blur_mm**2 - photo_blur_mm**2, uncertainty, "mm²")


def _photo_pixels_per_mm(card: CardSighting, registration: Registration) -> float:
    """Return working pixels per mm on the table where the piece lies."""
    to_card = np.linalg.inv(card.card_to_photo) @ registration.artwork_to_photo
    middle = to_card @ np.array([0.5, 0.5, 1.0])
    return local_scale(card.card_to_photo, middle[:2] / middle[2])


def _side_by_side(
    photo: Photo, card: CardSighting, registration: Registration, artwork: Artwork
) -> tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.bool_], float]:
    """Return intended and seen light in one frame, where it is clipped, and the frame's pixels per mm."""
    height, width = artwork.xyz.shape[:2]
    from_pixels = registration.artwork_to_photo @ np.diag([1.0 / width, 1.0 / height, 1.0])
    ratio = min(1.0, local_scale(from_pixels, [width / 2, height / 2]))
    size = (max(TILE_PX, round(width * ratio)), max(TILE_PX, round(height * ratio)))
    intended = cv2.resize(np.ascontiguousarray(artwork.xyz[..., 1]), size, interpolation=cv2.INTER_AREA)
    frame = np.array([[1 / size[0], 0, 0.5 / size[0]], [0, 1 / size[1], 0.5 / size[1]], [0, 0, 1]])
    to_photo = registration.artwork_to_photo @ frame
    pixels = cv2.warpPerspective(photo.pixels, to_photo, size, flags=cv2.WARP_INVERSE_MAP | cv2.INTER_CUBIC)
    codes = np.asarray(pixels, photo.pixels.dtype)
    top = CLIPPED_FROM * (257 if codes.dtype == np.uint16 else 1)
    green = photo.encoding.decode_tables[1][codes[..., 1]]
    to_card = np.linalg.inv(card.card_to_photo) @ to_photo
    pixels_per_mm = 1.0 / local_scale(to_card, [size[0] / 2, size[1] / 2])
    return np.asarray(intended, np.float32), green, codes.max(axis=2) >= top, pixels_per_mm


def _detailed_tiles(intended: NDArray[np.float32], clipped: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Return top left corners (row, column) of the tiles with most detail that are not clipped."""
    slope = cv2.Sobel(intended, cv2.CV_32F, 1, 0) ** 2 + cv2.Sobel(intended, cv2.CV_32F, 0, 1) ** 2
    found = []
    for row in range(0, intended.shape[0] - TILE_PX + 1, TILE_PX):
        for column in range(0, intended.shape[1] - TILE_PX + 1, TILE_PX):
            tile = np.s_[row : row + TILE_PX, column : column + TILE_PX]
            if clipped[tile].mean() <= MOST_CLIPPED:
                found.append((float(slope[tile].sum()), row, column))
    found.sort(reverse=True)
    return [(row, column) for detail, row, column in found[:MOST_TILES] if detail > LEAST_DETAIL]


def _best_blur_px(
    intended: NDArray[np.float32], seen: NDArray[np.float32], tiles: list[tuple[int, int]]
) -> float:
    """Return the blur, standard deviation in pixels, that explains all tiles together best."""
    misfit = np.array([[_misfit(intended, seen, tile, blur) for blur in BLURS_PX] for tile in tiles])
    total = np.log(misfit + 1e-4).sum(axis=0)
    best = int(np.clip(total.argmin(), 1, len(BLURS_PX) - 2))
    places = np.log(BLURS_PX[best - 1 : best + 2])
    curve = np.polyfit(places, total[best - 1 : best + 2], 2)
    lowest = -curve[1] / (2 * curve[0]) if curve[0] > 0 else places[1]
    return float(np.exp(np.clip(lowest, places[0], places[2])))


def _misfit(
    intended: NDArray[np.float32], seen: NDArray[np.float32], tile: tuple[int, int], blur: float
) -> float:
    """Return the share of a tile's variance that the blurred artwork leaves unexplained."""
    row, column = tile
    top, left = max(0, row - MARGIN_PX), max(0, column - MARGIN_PX)
    around = intended[top : row + TILE_PX + MARGIN_PX, left : column + TILE_PX + MARGIN_PX]
    soft = cv2.GaussianBlur(around, (0, 0), blur)
    inside = np.s_[row - top : row - top + TILE_PX, column - left : column - left + TILE_PX]
    shift_x, shift_y = cv2.Sobel(soft, cv2.CV_32F, 1, 0)[inside], cv2.Sobel(soft, cv2.CV_32F, 0, 1)[inside]
    light = seen[row : row + TILE_PX, column : column + TILE_PX].ravel()
    terms = np.stack([soft[inside].ravel(), shift_x.ravel(), shift_y.ravel(), np.ones_like(light)], axis=1)
    normal, right = terms.T @ terms, terms.T @ light
    fitted = terms @ np.linalg.solve(normal + 1e-9 * np.eye(4, dtype=np.float32), right)
    return float(((light - fitted) ** 2).mean() / max(float(light.var()), 1e-8))
