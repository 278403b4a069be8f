"""Lay one small picture over another by their gradients.

Direct alignment (Lucas and Kanade 1981; Baker and Matthews 2004) of the gradients of small grey pictures.
Pressing, light and glare change how grey maps to grey, but all of them smoothly: what survives them is
where grey changes and in which direction. In a window around every pixel the artwork's gradient, times one
gain, foretells the photo's; where they do not go together the gain is near zero and the pixel has no say.
"""

import math
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from dyecast_inspect.piece_views import grey_8_bit, lightness_picture
from dyecast_inspect.read_artwork import Artwork
from dyecast_shared.photo import Photo

WINDOW_PX = 9
"""Side of the window in which one gain holds."""

BLUR_PX = 1.1
"""Standard deviation of the blur both pictures get, so that their sharpness is alike."""

THINNING = 2
"""Every second row and column enters the equations: after the blur its neighbours say the same."""

GREY_NOISE = 2.0
"""Grey levels of 255 below which a difference is noise (sensor, JPEG, print grain)."""

GRADIENT_NOISE = GREY_NOISE / (math.sqrt(8 * math.pi) * BLUR_PX**2)
"""The same in grey levels per pixel after the blur: the standard deviation of a Gaussian's derivative of
white noise (by hand from the integral of the squared derivative)."""

MOST_GAIN = 3.0
"""A print is at most this much more contrasty than its artwork; glare edges would ask for more."""

CLIPPED_FROM = 250
"""Code value of 255 from which a pixel is glare or clipped and has no say."""

CLIPPED_AROUND_PX = 2
"""Pixels around a clipped one that have no say either: the blur and the gradient reach that far."""

LEAST_VISIBLE = 0.02
"""Share of the artwork's detail (in squared gradients) that must be open to view for its correlation to
count in full; a few pixels are like many things. With it 95 wrong artworks correlate to 0.15 at most."""

BEND_SIGMA = 0.006
"""How far, as a share of half the long side, a piece in the card's plane may depart from turned, shifted
and scaled: a bent card (2 mm over 148 mm), lens distortion and the glass's depth stay below it (in rendered
and made scenes the root mean square is 0.0025, the worst 0.007)."""

CONVERGED_PX = 0.02
"""A step below this, in pixels of the small picture, ends the search."""


@dataclass(frozen=True, slots=True, eq=False)
class Template:
    """The artwork at one size.

    Attributes
    ----------
    across, down
        (H, W) float32 gradients, grey levels per pixel.
    energy
        (h, w) float32 windowed mean of the gradients' squared length, thinned by `THINNING`.
    say
        (h, w) float32, 1 where the print shows, 0 where it is covered.
    slopes
        (2 h w, 8) float32: how both gradients change with each parameter of `small_step`, across first.
    frame_to_centred, centred_to_unit
        (3, 3) float64 from pixels to coordinates centred in the picture, in half its long side, and from
        those to the artwork's unit square.
    """

    across: NDArray[np.float32]
    down: NDArray[np.float32]
    energy: NDArray[np.float32]
    say: NDArray[np.float32]
    slopes: NDArray[np.float32]
    frame_to_centred: NDArray[np.float64]
    centred_to_unit: NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Alignment:
    """Where the artwork came to lie.

    Attributes
    ----------
    centred_to_photo
        (3, 3) float64 from the template's centred coordinates to working pixels.
    centred_to_unit
        (3, 3) float64, the template's.
    correlation
        Of the gradients in small windows, weighted by the artwork's detail where the photo shows it,
        before the last step; -1..1.
    covariance
        (8, 8) float64 of the parameters of `small_step`, from the fit and the prior.
    """

    centred_to_photo: NDArray[np.float64]
    centred_to_unit: NDArray[np.float64]
    correlation: float
    covariance: NDArray[np.float64]

    @property
    def unit_to_photo(self) -> NDArray[np.float64]:
        """(3, 3) float64 homography from the artwork's unit square to working pixels; last element 1."""
        to_photo = self.centred_to_photo @ np.linalg.inv(self.centred_to_unit)
        return np.asarray(to_photo / to_photo[2, 2], np.float64)


def artwork_template(artwork: Artwork, long_side_px: int, say: NDArray[np.bool_] | None = None) -> Template:
    """Prepare the artwork at one size; `say`, (h, w) bool of any size, tells which part of it shows."""
    if artwork.parts is not None and say is None and long_side_px in artwork.parts.templates:
        return artwork.parts.templates[long_side_px]
    across, down = _gradients(lightness_picture(artwork.coarse(), long_side_px))
    height, width = across.shape
    half = max(height, width) / 2
    rows, columns = np.mgrid[0:height:THINNING, 0:width:THINNING].astype(np.float32)
    x, y = (columns + 0.5 - width / 2) / half, (rows + 0.5 - height / 2) / half
    slopes = []
    for gradient in (across, down):
        slope_x, slope_y = _sobel(gradient)
        slopes.append(_slopes(half * _thinned(slope_x), half * _thinned(slope_y), x, y))
    return Template(
        across=across,
        down=down,
        energy=_thinned(_windowed(across * across + down * down)),
        say=_say(say, height, width),
        slopes=np.concatenate(slopes),
        frame_to_centred=np.array(
            [[1 / half, 0, (0.5 - width / 2) / half], [0, 1 / half, (0.5 - height / 2) / half], [0, 0, 1]]
        ),
        centred_to_unit=np.array([[half / width, 0, 0.5], [0, half / height, 0.5], [0, 0, 1]]),
    )


def _say(shown: NDArray[np.bool_] | None, height: int, width: int) -> NDArray[np.float32]:
    """Return the part that shows at the thinned size; all of it when nothing is covered."""
    if shown is None:
        return _thinned(np.ones((height, width), np.float32))
    whole = cv2.resize(shown.astype(np.float32), (width, height), interpolation=cv2.INTER_LINEAR)
    return _thinned(np.asarray(whole, np.float32))


def _slopes(
    slope_x: NDArray[np.float32], slope_y: NDArray[np.float32], x: NDArray[np.float32], y: NDArray[np.float32]
) -> NDArray[np.float32]:
    """Change of a value with the parameters of `small_step`, (H * W, 8), from its change with place."""
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


def small_step(parameters: NDArray[np.float64]) -> NDArray[np.float64]:
    """Homography of a small change in centred coordinates.

    The parameters (8,) are shift x, y; scale; turn; aspect; shear; perspective x, y.
    """
    shift_x, shift_y, scale, turn, aspect, shear, tilt_x, tilt_y = parameters
    return np.array(
        [
            [1.0 + scale + aspect, shear - turn, shift_x],
            [shear + turn, 1.0 + scale - aspect, shift_y],
            [tilt_x, tilt_y, 1.0],
        ]
    )


def align(photo: Photo, template: Template, unit_to_photo: NDArray[np.float64], steps: int) -> Alignment:
    """Move the artwork by at most `steps` Gauss-Newton steps to where its gradients lie in the photo.

    Eight parameters of a homography; the four that a flat piece beside a flat card cannot have
    (aspect, shear, two of perspective) are held near zero by a prior of `BEND_SIGMA`.
    """
    precision = np.array([1e-9] * 4 + [BEND_SIGMA**-2] * 4)
    half = max(template.across.shape) / 2
    current, moved = unit_to_photo @ template.centred_to_unit, np.zeros(8)
    covariance, correlation = np.asarray(np.eye(8), np.float64), -1.0
    for _ in range(steps):
        normal, right, correlation = _normal_equations(photo, template, current)
        covariance = np.asarray(np.linalg.inv(normal + np.diag(precision)), np.float64)
        change = covariance @ (right - precision * moved)
        current, moved = current @ small_step(change), moved + change
        current = current / current[2, 2]
        if np.abs(change).max() * half < CONVERGED_PX:
            break
    return Alignment(current, template.centred_to_unit, correlation, covariance)


def _normal_equations(
    photo: Photo, template: Template, current: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64], float]:
    """Weighted normal equations (8, 8), (8,) of one step, and the windowed correlation."""
    noise = GRADIENT_NOISE**2
    across, down, open_to_view = _photo_gradients(photo, template, current)
    open_to_view = open_to_view * template.say
    together = _thinned(_windowed(across * template.across + down * template.down))
    energy, strength = template.energy, _thinned(_windowed(across * across + down * down))
    gain = np.clip(together / (energy + 4 * noise), 0.0, MOST_GAIN)
    unlike = np.maximum(strength + gain * (gain * energy - 2 * together), 0.0) / 2
    weight = open_to_view / (noise + unlike)
    weight *= THINNING**2 / (4 * math.pi * BLUR_PX**2)  # blurred pixels are not independent
    pull = weight * gain
    say = np.tile((pull * gain).ravel(), 2)
    normal = (template.slopes.T * say) @ template.slopes
    pairs = ((across, template.across), (down, template.down))
    residual = [(pull * (_thinned(seen) - gain * _thinned(meant))).ravel() for seen, meant in pairs]
    right = -(template.slopes.T @ np.concatenate(residual))
    likeness = together / np.sqrt(np.maximum(energy * strength, noise * noise))
    detail = energy * open_to_view
    enough = max(float(detail.sum()), LEAST_VISIBLE * float(energy.sum()), 1e-9)
    correlation = float((likeness * detail).sum()) / enough
    return normal.astype(np.float64), right.astype(np.float64), correlation


def _photo_gradients(
    photo: Photo, template: Template, current: NDArray[np.float64]
) -> tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.float32]]:
    """Return the photo's gradients in the template's frame, (H, W) each.

    The third, (h, w) thinned, is 1 where the photo is not clipped; 0 where it is, and outside of it.
    """
    height, width = template.across.shape
    flags = cv2.WARP_INVERSE_MAP | cv2.INTER_LINEAR
    to_photo = current @ template.frame_to_centred
    levels = 257 if photo.pixels.dtype == np.uint16 else 1
    pixels = cv2.warpPerspective(
        photo.pixels, to_photo, (width, height), flags=flags, borderValue=(255 * levels,) * 3
    )
    red, green, blue = cv2.split(pixels)
    top = CLIPPED_FROM * levels
    clipped = (cv2.max(cv2.max(red, green), blue) >= top).astype(np.uint8)
    side = 2 * CLIPPED_AROUND_PX + 1
    spread = np.asarray(cv2.dilate(clipped, np.ones((side, side), np.uint8)))
    open_to_view = (spread[::THINNING, ::THINNING] == 0).astype(np.float32)
    return *_gradients(grey_8_bit(np.asarray(pixels))), open_to_view


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
