"""Lay the artwork exactly over its print in the photo.

Direct alignment (Lucas and Kanade 1981; Baker and Matthews 2004) of small grey pictures. Pressing, light
and glare change how grey maps to grey, so around every pixel the photo is first predicted from the artwork
by a straight line fitted in a window (the local linear model of He, Sun and Tang's guided filter, 2013);
where artwork and photo do not go together the slope is near zero and the pixel has no say.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from dyecast_inspect.find_piece import PieceCandidate
from dyecast_inspect.piece_views import grey_8_bit, lightness_picture
from dyecast_inspect.read_artwork import Artwork
from dyecast_shared.photo import Photo

LEVELS_PX = ((128, 12), (256, 6))
"""(long side of the pictures in px, steps at most), coarse to fine."""

WINDOW_PX = 15
"""Side of the window in which artwork predicts photo by a straight line."""

GREY_NOISE = 3.0
"""Grey levels of 255 below which a difference is noise (sensor, JPEG, print grain)."""

BLUR_PX = 1.1
"""Standard deviation of the blur both pictures get, so that their sharpness is alike."""

CLIPPED_FROM = 250
"""Code value of 255 from which a pixel is glare or clipped and has no say."""

BEND_SIGMA = 0.006
"""How far, as a share of half the long side, a piece in the card's plane may depart from turned, shifted
and scaled: a bent card (2 mm over 148 mm), lens distortion and the glass's depth stay below it."""

CONVERGED_PX = 0.02
"""A step below this, in pixels of the small picture, ends the search."""


@dataclass(frozen=True, slots=True, eq=False)
class Registration:
    """The artwork laid over its print.

    Attributes
    ----------
    artwork_to_photo
        (3, 3) float64 homography from the artwork's unit square to working pixels.
    mirrored
        True when the print runs the wrong way round.
    correlation
        Correlation of photo and artwork in small windows, weighted by the artwork's detail; -1..1.
    uncertainty_px
        Standard uncertainty of the corners from the fit's covariance, working pixels.
    outline_score
        How much speaks for the outline, 0..1, when the place was found by it; None when the artwork's details
        found it. An artwork without detail lies as its outline does, and `correlation` is NaN.
    """

    artwork_to_photo: NDArray[np.float64]
    mirrored: bool
    correlation: float
    uncertainty_px: float
    outline_score: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class _Template:
    """The artwork at one size: its grey, local statistics, and how its grey changes with each parameter."""

    grey: NDArray[np.float32]
    mean: NDArray[np.float32]
    variance: NDArray[np.float32]
    slopes: NDArray[np.float32]
    frame_to_centred: NDArray[np.float64]
    centred_to_unit: NDArray[np.float64]


def register_piece(photo: Photo, candidate: PieceCandidate, artwork: Artwork) -> Registration:
    """Refine a candidate's place to a fraction of a pixel.

    Eight parameters of a homography; the four that a flat piece beside a flat card cannot have
    (aspect, shear, two of perspective) are held near zero by a prior of `BEND_SIGMA`.
    """
    to_photo = candidate.artwork_to_photo
    correlation, covariance = -1.0, np.eye(8)
    for long_side, steps in LEVELS_PX:
        template = _template(artwork, long_side)
        to_photo, correlation, covariance = _align(photo, template, to_photo, steps)
    return Registration(
        artwork_to_photo=to_photo / to_photo[2, 2],
        mirrored=candidate.mirrored,
        correlation=correlation,
        uncertainty_px=_corner_uncertainty_px(covariance, to_photo),
    )


def register_best(
    photo: Photo, candidates: Sequence[PieceCandidate], artwork: Artwork
) -> Registration | None:
    """Register every candidate and return the one that correlates best; None when there is none."""
    registrations = [register_piece(photo, candidate, artwork) for candidate in candidates]
    return max(registrations, key=lambda registration: registration.correlation, default=None)


def _template(artwork: Artwork, long_side_px: int) -> _Template:
    """Prepare the artwork at one size."""
    picture = lightness_picture(artwork.xyz, long_side_px).astype(np.float32)
    grey = np.asarray(cv2.GaussianBlur(picture, (0, 0), BLUR_PX), np.float32)
    height, width = grey.shape
    half = max(height, width) / 2
    mean = _windowed(grey)
    down, across = np.mgrid[0:height, 0:width]
    x, y = (across + 0.5 - width / 2) / half, (down + 0.5 - height / 2) / half
    slope_x = cv2.Sobel(grey, cv2.CV_32F, 1, 0, ksize=3) / 8 * half
    slope_y = cv2.Sobel(grey, cv2.CV_32F, 0, 1, ksize=3) / 8 * half
    return _Template(
        grey=grey,
        mean=mean,
        variance=_windowed(grey * grey) - mean * mean,
        slopes=_slopes(slope_x, slope_y, x, y),
        frame_to_centred=np.array(
            [[1 / half, 0, (0.5 - width / 2) / half], [0, 1 / half, (0.5 - height / 2) / half], [0, 0, 1]]
        ),
        centred_to_unit=np.array([[half / width, 0, 0.5], [0, half / height, 0.5], [0, 0, 1]]),
    )


def _slopes(
    slope_x: NDArray[np.float32], slope_y: NDArray[np.float32], x: NDArray[np.float64], y: NDArray[np.float64]
) -> NDArray[np.float32]:
    """Change of the grey with the parameters of `_step`, (H * W, 8)."""
    radial = slope_x * x + slope_y * y
    columns: list[NDArray[np.floating[Any]]] = [
        slope_x,
        slope_y,
        radial,
        slope_y * x - slope_x * y,
        slope_x * x - slope_y * y,
        slope_x * y + slope_y * x,
        -radial * x,
        -radial * y,
    ]
    return np.stack([column.ravel() for column in columns], axis=1).astype(np.float32)


def _step(parameters: NDArray[np.float64]) -> NDArray[np.float64]:
    """Homography of a small change: shift x, y; scale; turn; aspect; shear; perspective x, y."""
    shift_x, shift_y, scale, turn, aspect, shear, tilt_x, tilt_y = parameters
    return np.array(
        [
            [1 + scale + aspect, shear - turn, shift_x],
            [shear + turn, 1 + scale - aspect, shift_y],
            [tilt_x, tilt_y, 1.0],
        ]
    )


def _align(
    photo: Photo, template: _Template, to_photo: NDArray[np.float64], steps: int
) -> tuple[NDArray[np.float64], float, NDArray[np.float64]]:
    """Gauss-Newton at one size: the map, the correlation before the last step, the covariance (8, 8)."""
    precision = np.array([1e-9] * 4 + [BEND_SIGMA**-2] * 4)
    half = max(template.grey.shape) / 2
    current, moved = to_photo @ template.centred_to_unit, np.zeros(8)
    covariance, correlation = np.asarray(np.eye(8), np.float64), -1.0
    for _ in range(steps):
        normal, right, correlation = _normal_equations(photo, template, current)
        covariance = np.asarray(np.linalg.inv(normal + np.diag(precision)), np.float64)
        change = covariance @ (right - precision * moved)
        current, moved = current @ _step(change), moved + change
        current = current / current[2, 2]
        if np.abs(change).max() * half < CONVERGED_PX:
            break
    return current @ np.linalg.inv(template.centred_to_unit), correlation, covariance


def _normal_equations(
    photo: Photo, template: _Template, current: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64], float]:
    """Weighted normal equations (8, 8), (8,) of one step, and the windowed correlation."""
    grey, clipped = _photo_in_frame(photo, current @ template.frame_to_centred, template.grey.shape)
    mean = _windowed(grey)
    covariance = _windowed(grey * template.grey) - mean * template.mean
    gain = np.clip(covariance / (template.variance + 4 * GREY_NOISE**2), 0.0, 3.0)
    residual = grey - mean - gain * (template.grey - template.mean)
    weight = np.where(clipped, 0.0, 1.0 / (GREY_NOISE**2 + _windowed(residual * residual)))
    weight = weight.ravel() / (4 * np.pi * BLUR_PX**2)  # blurred pixels are not independent
    slopes = template.slopes * gain.ravel()[:, np.newaxis]
    weighted = slopes * weight[:, np.newaxis]
    normal = (weighted.T @ slopes).astype(np.float64)
    right = -(weighted.T @ residual.ravel()).astype(np.float64)
    deviation = np.sqrt(np.maximum(template.variance * (_windowed(grey * grey) - mean * mean), 1e-6))
    say = template.variance * ~clipped
    correlation = float((covariance / deviation * say).sum() / max(float(say.sum()), 1e-9))
    return normal, right, correlation


def _photo_in_frame(
    photo: Photo, frame_to_photo: NDArray[np.float64], shape: tuple[int, ...]
) -> tuple[NDArray[np.float32], NDArray[np.bool_]]:
    """Return the photo's grey in the small picture's frame, float32 (H, W), and where it is clipped."""
    size = (shape[1], shape[0])
    flags = cv2.WARP_INVERSE_MAP | cv2.INTER_LINEAR
    pixels = cv2.warpPerspective(
        photo.pixels, frame_to_photo, size, flags=flags, borderMode=cv2.BORDER_REPLICATE
    )
    top = CLIPPED_FROM * (257 if pixels.dtype == np.uint16 else 1)
    clipped = cv2.dilate((pixels.max(axis=2) >= top).astype(np.uint8), np.ones((5, 5), np.uint8))
    grey = grey_8_bit(np.asarray(pixels)).astype(np.float32)
    return cv2.GaussianBlur(grey, (0, 0), BLUR_PX).astype(np.float32), clipped.astype(bool)


def _windowed(values: NDArray[np.float32]) -> NDArray[np.float32]:
    """Mean over the window around each pixel."""
    return np.asarray(cv2.boxFilter(values, -1, (WINDOW_PX, WINDOW_PX)), np.float32)


def _corner_uncertainty_px(covariance: NDArray[np.float64], to_photo: NDArray[np.float64]) -> float:
    """Return the standard uncertainty of the corners' place, working pixels, from shift, scale and turn."""
    shares = np.sqrt(np.maximum(np.diag(covariance), 0.0))
    centre = np.array([0.5, 0.5, 1.0])
    depth = float(to_photo[2] @ centre)
    half_px = np.sqrt(abs(np.linalg.det(to_photo)) / abs(depth) ** 3) / 2
    return float(half_px * np.hypot(np.hypot(shares[0], shares[1]), np.hypot(shares[2], shares[3])))
