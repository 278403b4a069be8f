"""Lay the artwork exactly over its print in the photo.

Direct alignment (Lucas and Kanade 1981; Baker and Matthews 2004) of the gradients of small grey pictures.
Pressing, light and glare change how grey maps to grey, but all of them smoothly: what survives them is
where grey changes and in which direction. In a window around every pixel the artwork's gradient, times one
gain, foretells the photo's; where they do not go together the gain is near zero and the pixel has no say.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from dyecast_inspect.find_piece import PieceCandidate
from dyecast_inspect.piece_views import grey_8_bit, lightness_picture
from dyecast_inspect.read_artwork import Artwork
from dyecast_shared.geometry import apply_homography
from dyecast_shared.photo import Photo

COARSE_PX, FINE_PX = 128, 256
"""Long side of the pictures, first for every candidate, then for the likeliest."""

COARSE_STEPS, FINE_STEPS = 12, 8
"""Steps at most at each size."""

WINDOW_PX = 9
"""Side of the window in which one gain holds."""

BLUR_PX = 1.1
"""Standard deviation of the blur both pictures get, so that their sharpness is alike."""

THINNING = 2
"""Every second row and column enters the equations: after the blur its neighbours say the same."""

GREY_NOISE = 2.0
"""Grey levels of 255 below which a difference is noise (sensor, JPEG, print grain)."""

GRADIENT_NOISE = GREY_NOISE / (np.sqrt(8 * np.pi) * BLUR_PX**2)
"""The same in grey levels per pixel after the blur: the standard deviation of a Gaussian's derivative of
white noise (by hand from the integral of the squared derivative)."""

MOST_GAIN = 3.0
"""A print is at most this much more contrasty than its artwork; glare edges would ask for more."""

CLIPPED_FROM = 250
"""Code value of 255 from which a pixel is glare or clipped and has no say."""

BEND_SIGMA = 0.006
"""How far, as a share of half the long side, a piece in the card's plane may depart from turned, shifted
and scaled: a bent card (2 mm over 148 mm), lens distortion and the glass's depth stay below it."""

CONVERGED_PX = 0.02
"""A step below this, in pixels of the small picture, ends the search."""

CLEAR_CORRELATION = 0.9
"""A candidate that correlates so well at the coarse size needs no rival. A wrong one reached 0.86: an artwork
of waves and a symmetric tower over its own mirror image (160 rendered and made scenes, a third of them
small, pale or mirrored; three in four right ones lie above)."""

LIKELY_CORRELATION, CLEAR_AGREEING = 0.6, 80
"""Together these are as clear: in the same scenes no wrong candidate that correlated so had more than 63
matches, and the one that had more (repeated tiles, 128) did not correlate to 0.5."""

_CORNERS = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])


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
        Correlation of the gradients of photo and artwork in small windows, weighted by the artwork's
        detail; -1..1.
    uncertainty_px
        Standard uncertainty of the worst corner from the fit's covariance, working pixels; large when
        the artwork's details leave a direction open.
    """

    artwork_to_photo: NDArray[np.float64]
    mirrored: bool
    correlation: float
    uncertainty_px: float


@dataclass(frozen=True, slots=True, eq=False)
class _Template:
    """The artwork at one size.

    `across` and `down` are its gradients (H, W) in grey levels per pixel, `energy` the windowed mean of
    their squares' sum; `slopes` (2 N, 8) tells how both change with each parameter of `_step` at the N
    pixels left by `THINNING`.
    """

    across: NDArray[np.float32]
    down: NDArray[np.float32]
    energy: NDArray[np.float32]
    slopes: NDArray[np.float32]
    frame_to_centred: NDArray[np.float64]
    centred_to_unit: NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class _Place:
    """Where the alignment stands: the map, how it correlates, and the parameters' covariance (8, 8)."""

    to_photo: NDArray[np.float64]
    correlation: float
    covariance: NDArray[np.float64]


def register_piece(photo: Photo, candidate: PieceCandidate, artwork: Artwork) -> Registration:
    """Refine a candidate's place to a fraction of a pixel.

    Eight parameters of a homography; the four that a flat piece beside a flat card cannot have
    (aspect, shear, two of perspective) are held near zero by a prior of `BEND_SIGMA`.
    """
    coarse = _align(photo, _template(artwork, COARSE_PX), candidate.artwork_to_photo, COARSE_STEPS)
    return _refined(photo, coarse, artwork, mirrored=candidate.mirrored)


def register_best(
    photo: Photo, candidates: Iterable[PieceCandidate], artwork: Artwork
) -> Registration | None:
    """Register the candidate that correlates best; None when there is none.

    Candidates are asked for one by one, and no more of them once one correlates clearly.
    """
    template = _template(artwork, COARSE_PX)
    best: tuple[_Place, bool] | None = None
    for candidate in candidates:
        place = _align(photo, template, candidate.artwork_to_photo, COARSE_STEPS)
        if best is None or place.correlation > best[0].correlation:
            best = place, candidate.mirrored
        if _clear(place.correlation, candidate.agreeing):
            break
    return None if best is None else _refined(photo, best[0], artwork, mirrored=best[1])


def _clear(correlation: float, agreeing: int) -> bool:
    """Tell whether a candidate at the coarse size is beyond doubt."""
    likely = correlation >= LIKELY_CORRELATION and agreeing >= CLEAR_AGREEING
    return likely or correlation >= CLEAR_CORRELATION


def _refined(photo: Photo, coarse: _Place, artwork: Artwork, *, mirrored: bool) -> Registration:
    """Align at the fine size."""
    fine = _align(photo, _template(artwork, FINE_PX), coarse.to_photo, FINE_STEPS)
    return Registration(
        artwork_to_photo=fine.to_photo / fine.to_photo[2, 2],
        mirrored=mirrored,
        correlation=fine.correlation,
        uncertainty_px=_corner_uncertainty_px(fine, artwork.xyz.shape),
    )


def _template(artwork: Artwork, long_side_px: int) -> _Template:
    """Prepare the artwork at one size."""
    across, down = _gradients(lightness_picture(artwork.xyz, long_side_px))
    height, width = across.shape
    half = max(height, width) / 2
    rows, columns = np.mgrid[0:height, 0:width].astype(np.float32)
    x, y = (columns + 0.5 - width / 2) / half, (rows + 0.5 - height / 2) / half
    slopes = [
        _slopes(*(half * _thinned(slope) for slope in _sobel(gradient)), _thinned(x), _thinned(y))
        for gradient in (across, down)
    ]
    return _Template(
        across=across,
        down=down,
        energy=_windowed(across * across + down * down),
        slopes=np.concatenate(slopes),
        frame_to_centred=np.array(
            [[1 / half, 0, (0.5 - width / 2) / half], [0, 1 / half, (0.5 - height / 2) / half], [0, 0, 1]]
        ),
        centred_to_unit=np.array([[half / width, 0, 0.5], [0, half / height, 0.5], [0, 0, 1]]),
    )


def _slopes(
    slope_x: NDArray[np.float32], slope_y: NDArray[np.float32], x: NDArray[np.float32], y: NDArray[np.float32]
) -> NDArray[np.float32]:
    """Change of a value with the parameters of `_step`, (H * W, 8), from its change with place."""
    radial = slope_x * x + slope_y * y
    columns = [
        slope_x,
        slope_y,
        radial,
        slope_y * x - slope_x * y,
        slope_x * x - slope_y * y,
        slope_x * y + slope_y * x,
        -radial * x,
        -radial * y,
    ]
    return np.stack([column.ravel() for column in columns], axis=1)


def _step(parameters: NDArray[np.float64]) -> NDArray[np.float64]:
    """Homography of a small change: shift x, y; scale; turn; aspect; shear; perspective x, y."""
    shift_x, shift_y, scale, turn, aspect, shear, tilt_x, tilt_y = parameters
    return np.array(
        [
            [1.0 + scale + aspect, shear - turn, shift_x],
            [shear + turn, 1.0 + scale - aspect, shift_y],
            [tilt_x, tilt_y, 1.0],
        ]
    )


def _align(photo: Photo, template: _Template, to_photo: NDArray[np.float64], steps: int) -> _Place:
    """Gauss-Newton at one size; the correlation is the one before the last step."""
    precision = np.array([1e-9] * 4 + [BEND_SIGMA**-2] * 4)
    half = max(template.across.shape) / 2
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
    return _Place(current @ np.linalg.inv(template.centred_to_unit), correlation, covariance)


def _normal_equations(
    photo: Photo, template: _Template, current: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64], float]:
    """Weighted normal equations (8, 8), (8,) of one step, and the windowed correlation."""
    noise = GRADIENT_NOISE**2
    across, down, clipped = _photo_gradients(
        photo, current @ template.frame_to_centred, template.across.shape
    )
    together = _windowed(across * template.across + down * template.down)
    gain = np.clip(together / (template.energy + 4 * noise), 0.0, MOST_GAIN)
    beside, below = across - gain * template.across, down - gain * template.down
    unlike = _windowed(beside * beside + below * below) / 2
    weight = np.where(clipped, 0.0, 1.0 / (noise + unlike)).astype(np.float32)
    weight *= THINNING**2 / (4 * np.pi * BLUR_PX**2)  # blurred pixels are not independent
    pull = weight * gain
    say = np.tile(_thinned(pull * gain).ravel(), 2)
    normal = ((template.slopes.T * say) @ template.slopes).astype(np.float64)
    residual = np.concatenate([_thinned(pull * beside).ravel(), _thinned(pull * below).ravel()])
    right = -(template.slopes.T @ residual).astype(np.float64)
    both = template.energy * _windowed(across * across + down * down)
    likeness = together / np.sqrt(np.maximum(both, noise * noise))
    detail = template.energy * ~clipped
    return normal, right, float((likeness * detail).sum() / max(float(detail.sum()), 1e-9))


def _photo_gradients(
    photo: Photo, frame_to_photo: NDArray[np.float64], shape: tuple[int, ...]
) -> tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.bool_]]:
    """Return the photo's gradients in the small picture's frame, (H, W) each, and where it is clipped."""
    size = (shape[1], shape[0])
    flags = cv2.WARP_INVERSE_MAP | cv2.INTER_LINEAR
    pixels = cv2.warpPerspective(
        photo.pixels, frame_to_photo, size, flags=flags, borderMode=cv2.BORDER_REPLICATE
    )
    top = CLIPPED_FROM * (257 if pixels.dtype == np.uint16 else 1)
    clipped = cv2.dilate((pixels.max(axis=2) >= top).astype(np.uint8), np.ones((5, 5), np.uint8))
    return *_gradients(grey_8_bit(np.asarray(pixels))), clipped.astype(bool)


def _gradients(grey: NDArray[np.uint8]) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Gradients across and down of the blurred picture, grey levels per pixel."""
    return _sobel(np.asarray(cv2.GaussianBlur(grey.astype(np.float32), (0, 0), BLUR_PX), np.float32))


def _sobel(values: NDArray[np.float32]) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Change of the values per pixel, across and down."""
    across: NDArray[Any] = cv2.Sobel(values, cv2.CV_32F, 1, 0, ksize=3, scale=1 / 8)
    down: NDArray[Any] = cv2.Sobel(values, cv2.CV_32F, 0, 1, ksize=3, scale=1 / 8)
    return across, down


def _thinned(values: NDArray[np.float32]) -> NDArray[np.float32]:
    """Keep every `THINNING`-th row and column."""
    return values[::THINNING, ::THINNING]


def _windowed(values: NDArray[np.float32]) -> NDArray[np.float32]:
    """Mean over the window around each pixel."""
    return np.asarray(cv2.boxFilter(values, -1, (WINDOW_PX, WINDOW_PX)), np.float32)


def _corner_uncertainty_px(place: _Place, shape: tuple[int, ...]) -> float:
    """Return the standard uncertainty of the worst corner's place, working pixels.

    `shape` is the artwork's; a small change of each parameter is carried to the corners.
    """
    height, width = shape[:2]
    half = max(height, width) / 2
    to_unit = np.array([[half / width, 0, 0.5], [0, half / height, 0.5], [0, 0, 1]])
    centred = apply_homography(np.linalg.inv(to_unit), _CORNERS)
    still = apply_homography(place.to_photo, _CORNERS)
    small = 1e-4
    moved = [apply_homography(place.to_photo @ to_unit @ _step(row), centred) for row in small * np.eye(8)]
    slopes = (np.stack(moved, axis=-1) - still[..., np.newaxis]) / small
    variance = np.einsum("ijk,kl,ijl->i", slopes, place.covariance, slopes)
    return float(np.sqrt(np.maximum(variance, 0.0).max()))
