"""Read the piece's colours through the card's correction, in the artwork's frame."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.pressing_model import bands_from_xyz
from dyecast_inspect.card_sighting import CardSighting
from dyecast_inspect.correct_colour import ColourCorrection
from dyecast_inspect.read_artwork import Artwork
from dyecast_inspect.register_piece import Registration
from dyecast_shared.cielab import D50_WHITE
from dyecast_shared.geometry import apply_homography
from dyecast_shared.photo import FloatArray, Photo

FRAME_LONG_SIDE_PX = 320
"""Long side of the frame in which colours are compared: 0.1 megapixels at most, 0.6 mm on a 200 mm board."""

MOST_OVERSAMPLING = 3
"""The photo is read at most this many times denser than the frame along each side, then averaged. Its
readings lie at most one and a half pixels apart, and each blends the four around it: none is left out."""

LEAST_GAIN = 1e-3
"""Light at the piece over that at the card is never taken to be less. Nothing in a photo is; a place tried
far outside of it may be, and would be divided by nothing."""

GAIN_GRID = 12
"""The light's fall-off is smooth: it is worked out on a grid of this many points a side and interpolated."""

CLIPPED_MARGIN_PX = 2
"""Pixels of the frame around a clipped one that its glow may reach."""


@dataclass(frozen=True, slots=True, eq=False)
class MeasuredPiece:
    """The piece as the card's correction alone sees it.

    Attributes
    ----------
    bands
        (h, w, 3) float32 light in the three bands of the pressing model, 1 = perfect white at the card's
        extrapolated light.
    usable
        (h, w) bool: inside the photo and not clipped.
    inside
        (h, w) bool: inside the photo.
    pixels_per_mm
        Pixels of this frame per mm of the print.
    width_mm, height_mm
        Size of the print as the card's plane measures it.
    """

    bands: NDArray[np.float32]
    usable: NDArray[np.bool_]
    inside: NDArray[np.bool_]
    pixels_per_mm: float
    width_mm: float
    height_mm: float


def measure_piece(
    photo: Photo,
    card: CardSighting,
    correction: ColourCorrection,
    registration: Registration,
    artwork: Artwork,
) -> MeasuredPiece:
    """Average the photo's linear light over the frame's pixels and correct it."""
    height, width = frame_size(artwork, registration)
    to_photo = registration.artwork_to_photo @ np.diag([1.0 / width, 1.0 / height, 1.0])
    xyz, inside, clipped = corrected_frame(photo, correction, to_photo, (height, width))
    width_mm, height_mm = size_mm(card, registration)
    return MeasuredPiece(
        bands=bands_from_xyz(xyz),
        usable=inside & ~clipped,
        inside=inside,
        pixels_per_mm=width / width_mm,
        width_mm=width_mm,
        height_mm=height_mm,
    )


def corrected_frame(
    photo: Photo, correction: ColourCorrection, to_photo: NDArray[np.float64], size: tuple[int, int]
) -> tuple[NDArray[np.float32], NDArray[np.bool_], NDArray[np.bool_]]:
    """Read a frame of `size` (height, width) out of the photo through the card's correction.

    `to_photo` is the (3, 3) map from the frame's pixels, counted from its outer corner, to working pixels.
    Returns CIE XYZ (h, w, 3), D50, 2 degree, Y = 1 for white at the card's extrapolated light; where the
    frame lies inside the photo; and where it is clipped, with a margin.
    """
    height, width = size
    linear, inside = _linear_light(photo, to_photo, height, width)
    camera = correction.camera_planes(linear) / _gain_planes(correction, to_photo, height, width)
    relative = np.moveaxis(correction.colour_model.relative_xyz(camera), 0, -1)
    clipped = cv2.dilate(
        correction.clipped(linear).astype(np.uint8), np.ones((2 * CLIPPED_MARGIN_PX + 1,) * 2, np.uint8)
    )
    return relative * D50_WHITE.astype(np.float32), inside, clipped.astype(bool)


def frame_size(artwork: Artwork, registration: Registration) -> tuple[int, int]:
    """Return (height, width) of the artwork's frame: no larger than the print in the photo."""
    height, width = artwork.xyz.shape[:2]
    corners = apply_homography(registration.artwork_to_photo, [[0, 0], [1, 0], [1, 1], [0, 1]])
    sides = np.linalg.norm(corners - np.roll(corners, -1, axis=0), axis=1)
    long_side = min(FRAME_LONG_SIDE_PX, max(64, round(float(sides.max()))))
    ratio = long_side / max(height, width)
    return max(16, round(height * ratio)), max(16, round(width * ratio))


def _linear_light(
    photo: Photo, to_photo: NDArray[np.float64], height: int, width: int
) -> tuple[NDArray[np.float32], NDArray[np.bool_]]:
    """Return the photo's linear light averaged over the frame's pixels, and which lie inside the photo."""
    depth = abs(float(to_photo[2] @ [width / 2, height / 2, 1.0]))
    density = float(np.sqrt(abs(np.linalg.det(to_photo)) / depth**3))
    times = int(np.clip(np.rint(density), 1, MOST_OVERSAMPLING))
    fine = to_photo @ np.array([[1 / times, 0, 0.5 / times], [0, 1 / times, 0.5 / times], [0, 0, 1]])
    flags = cv2.WARP_INVERSE_MAP | cv2.INTER_LINEAR
    pixels = cv2.warpPerspective(
        photo.pixels, fine, (width * times, height * times), flags=flags, borderMode=cv2.BORDER_REPLICATE
    )
    linear = cv2.resize(
        photo.linear(np.asarray(pixels, photo.pixels.dtype)), (width, height), interpolation=cv2.INTER_AREA
    )
    return np.asarray(linear, np.float32), _inside(photo, to_photo, height, width)


def _inside(photo: Photo, to_photo: NDArray[np.float64], height: int, width: int) -> NDArray[np.bool_]:
    """Tell which of the frame's pixels lie inside the photo: all of them if its four outermost do."""
    across, down = np.arange(width) + 0.5, np.arange(height) + 0.5
    bounds = np.array(photo.pixels.shape[1::-1]) - 1

    def within(x: FloatArray, y: FloatArray) -> NDArray[np.bool_]:
        places = apply_homography(to_photo, np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2))
        return np.asarray(((places >= 0) & (places <= bounds)).all(axis=1))

    if within(across[[0, -1]], down[[0, -1]]).all():
        return np.ones((height, width), bool)
    return within(across, down).reshape(height, width)


def _gain_planes(
    correction: ColourCorrection, to_photo: NDArray[np.float64], height: int, width: int
) -> NDArray[np.float32]:
    """Return the light at the frame's pixels over that at the card's middle, (3, height, width)."""
    u, v = np.meshgrid((np.arange(GAIN_GRID) + 0.5) / GAIN_GRID, (np.arange(GAIN_GRID) + 0.5) / GAIN_GRID)
    places = np.stack([u.ravel() * width, v.ravel() * height], axis=1)
    coarse = correction.illumination.gain_planes(apply_homography(to_photo, places))
    grids = coarse.reshape(3, GAIN_GRID, GAIN_GRID).astype(np.float32)
    planes = [cv2.resize(grid, (width, height), interpolation=cv2.INTER_CUBIC) for grid in grids]
    return np.maximum(np.stack(planes), np.float32(LEAST_GAIN))


def size_mm(card: CardSighting, registration: Registration) -> tuple[float, float]:
    """Return width and height of the print in mm, measured in the card's plane."""
    to_card = np.linalg.inv(card.card_to_photo) @ registration.artwork_to_photo
    corners = apply_homography(to_card, [[0, 0], [1, 0], [1, 1], [0, 1]])
    sides = np.linalg.norm(corners - np.roll(corners, -1, axis=0), axis=1)
    return float((sides[0] + sides[2]) / 2), float((sides[1] + sides[3]) / 2)
