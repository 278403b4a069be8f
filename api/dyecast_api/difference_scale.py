"""The colour scale of the difference map: even to the eye, safe for every kind of colour vision.

The scale is a straight line in OKLab from dark blue to pale yellow. Equal steps of the value are equal steps
of that line, so no step looks like an edge; lightness rises all the way, so it reads the same in grey; and
blue to yellow is the axis that the common red-green deficiencies keep.

Source of OKLab: B. Ottosson, "A perceptual color space for image processing", 2020 (matrices from memory,
checked in the tests against a reference library).
"""

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dyecast_shared.cielab import read_only
from dyecast_shared.encodings import srgb_encode

SCALE_TOP: Final = 10.0
"""CIEDE2000 that the palest colour stands for; anything above looks the same. Fixed, so that two reports can
be compared by eye. Our own choice: twice the 5.0 that ISO 12647-7:2016 allows a proof at the 95th percentile
(secondary source)."""

SCALE_TICKS: Final = (0, 2, 4, 6, 8, 10)
"""CIEDE2000 numbers printed under the scale."""

DARK_END: Final = read_only([0.24, -0.015, -0.125])
PALE_END: Final = read_only([0.965, -0.030, 0.105])
"""OKLab (D65) of 0 and of SCALE_TOP: a dark blue and a pale yellow, both inside sRGB. Our own choice."""

_OKLAB_TO_ROOT_CONES: Final = read_only(
    [
        [1.0, 0.3963377774, 0.2158037573],
        [1.0, -0.1055613458, -0.0638541728],
        [1.0, -0.0894841775, -1.2914855480],
    ]
)
_CONES_TO_LINEAR_SRGB: Final = read_only(
    [
        [4.0767416621, -3.3077115913, 0.2309699292],
        [-1.2684380046, 2.6097574011, -0.3413193965],
        [-0.0041960863, -0.7034186147, 1.7076147010],
    ]
)

HATCH_DARK: Final = 118
HATCH_PALE: Final = 168
HATCH_PERIOD_PX: Final = 10
"""The two neutral greys (8-bit sRGB) and the width of the stripes that stand for "not judged"."""


def scale_colours(delta_e_2000: ArrayLike) -> NDArray[np.uint8]:
    """Colour CIEDE2000 values of any shape (...): (..., 3) uint8 sRGB; NaN counts as zero."""
    position = np.clip(np.nan_to_num(np.asarray(delta_e_2000, dtype=np.float64)) / SCALE_TOP, 0.0, 1.0)
    oklab = DARK_END + position[..., np.newaxis] * (PALE_END - DARK_END)
    linear = (oklab @ _OKLAB_TO_ROOT_CONES.T) ** 3 @ _CONES_TO_LINEAR_SRGB.T
    return np.asarray(np.rint(255.0 * srgb_encode(np.clip(linear, 0.0, 1.0))), dtype=np.uint8)


def hatching(height: int, width: int) -> NDArray[np.uint8]:
    """Draw diagonal grey stripes, (height, width, 3) uint8 sRGB: the sign for "not judged"."""
    row, column = np.ogrid[:height, :width]
    dark = (row + column) % HATCH_PERIOD_PX < HATCH_PERIOD_PX // 2
    grey = np.where(dark, HATCH_DARK, HATCH_PALE).astype(np.uint8)
    return np.repeat(grey[..., np.newaxis], 3, axis=2)


def coloured_map(delta_e_map: NDArray[np.float32], judged: NDArray[np.bool_]) -> NDArray[np.uint8]:
    """Colour a map of CIEDE2000, (h, w) float32 with its mask: (h, w, 3) uint8 sRGB, the rest hatched."""
    shown = judged & np.isfinite(delta_e_map)
    height, width = delta_e_map.shape
    colours = np.where(shown[..., np.newaxis], scale_colours(delta_e_map), hatching(height, width))
    return np.asarray(colours, dtype=np.uint8)


def legend_strip(width: int = 300, height: int = 14) -> NDArray[np.uint8]:
    """Draw the scale from 0 (left) to SCALE_TOP (right): (height, width, 3) uint8 sRGB."""
    values = np.linspace(0.0, SCALE_TOP, width)
    return np.broadcast_to(scale_colours(values), (height, width, 3)).copy()
