"""The score: how far a measured picture of the piece lies from what the piece looks like.

Example
-------
The product writes the piece as measured, in the artwork's frame::

    dyecast inspect photo.jpg --artwork artwork.png --json --measured piece.png

and from Python the score of that file is::

    from pathlib import Path
    from benchmark.photo_cases import read_case
    from benchmark.piece_error import piece_error, read_picture

    case = read_case(Path("photos/clear/case_0001"))
    error = piece_error(read_picture(Path("piece.png")), case.reference())
    print(error.median, error.p95, error.judged_share)

An array does as well as a file: ``piece_error(inspection.pictures.piece, case.reference())``, with a
fourth channel (0 = hidden) where part of the piece could not be judged.

Frames: the reference appearance shows the whole piece with its white border; the measured picture only
the artwork. `artwork_frame` cuts the border off the reference, and `piece_error` does the rest.
"""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from skimage.color import deltaE_ciede2000

AVERAGING_SIGMA_SHARE = 0.015
"""Standard deviation of the local average as a share of the picture's width: a shop judges areas of colour,
and neither dither nor an edge a tenth of a millimetre away should count. Set by the score's definition."""

EVALUATED_EVERY_PX = 3
"""Grid step of the differences, in pixels of the reference: the averages have a sigma of 6.6 to 10.8 such
pixels, so little happens between two grid points; measured effect on the medians at most 0.5 %."""

INSIDE_LIMIT = 0.5
"""Coverage (0..1) from which a pixel counts as inside the outline, or as judged: half a pixel."""

SRGB_TO_XYZ_D65 = np.array(
    [[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.0721750], [0.0193339, 0.1191920, 0.9503041]]
)
"""Linear sRGB to XYZ, D65, 2 degree observer, Y = 1 for white (IEC 61966-2-1)."""

BRADFORD_D65_TO_D50 = np.array(
    [
        [1.0478112, 0.0228866, -0.0501270],
        [0.0295424, 0.9904844, -0.0170491],
        [-0.0092345, 0.0150436, 0.7521316],
    ]
)
"""Linear Bradford adaptation of XYZ from D65 to D50 (ICC.1, Annex E)."""

WHITE_D50 = np.array([0.9642, 1.0, 0.8251])
"""XYZ of D50, 2 degree observer, as ICC.1 rounds it."""


@dataclass(frozen=True, slots=True)
class PieceError:
    """CIEDE2000 over the judged pixels of one piece, and how much of the piece was judged (0..1)."""

    median: float
    p95: float
    judged_share: float


def read_picture(file: Path) -> NDArray[np.uint8]:
    """Read a picture as (h, w, 3 or 4) uint8, R, G, B and alpha where there is one; no profile is applied."""
    pixels = cv2.imread(str(file), cv2.IMREAD_UNCHANGED)
    if pixels is None or pixels.dtype != np.uint8 or pixels.ndim != 3:
        raise ValueError(f"{file} is no 8-bit colour picture")
    order = cv2.COLOR_BGRA2RGBA if pixels.shape[2] == 4 else cv2.COLOR_BGR2RGB
    return np.asarray(cv2.cvtColor(pixels, order), dtype=np.uint8)


def artwork_frame(
    reference: NDArray[np.uint8], border_mm: float, width_mm: float, height_mm: float
) -> NDArray[np.uint8]:
    """Cut the white border of `border_mm` off a picture of the whole piece (`width_mm` x `height_mm`).

    The border need not be a whole number of pixels, so the inside is resampled (linear) on its own grid.
    """
    height, width = reference.shape[:2]
    inset_x, inset_y = border_mm / width_mm * width, border_mm / height_mm * height
    inner_width, inner_height = round(width - 2 * inset_x), round(height - 2 * inset_y)
    scale_x, scale_y = (width - 2 * inset_x) / inner_width, (height - 2 * inset_y) / inner_height
    to_reference = np.array(
        [[scale_x, 0, inset_x + scale_x / 2 - 0.5], [0, scale_y, inset_y + scale_y / 2 - 0.5]]
    )
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    inner = cv2.warpAffine(
        reference, to_reference, (inner_width, inner_height), flags=flags, borderMode=cv2.BORDER_REPLICATE
    )
    return np.asarray(inner, dtype=np.uint8)


def linear_light(encoded: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Decode sRGB code values to linear light in 0..1 (IEC 61966-2-1)."""
    levels = np.arange(256) / 255
    table = np.where(levels <= 0.04045, levels / 12.92, ((levels + 0.055) / 1.055) ** 2.4)
    return table.astype(np.float32)[encoded]


def lab_d50(linear_srgb: NDArray[np.floating[Any]]) -> NDArray[np.float32]:
    """Linear sRGB, shape (..., 3), 1 = perfect white, to CIELAB, D50, 2 degree observer (CIE 15:2018)."""
    to_relative_xyz = (BRADFORD_D65_TO_D50 @ SRGB_TO_XYZ_D65) / WHITE_D50[:, None]
    return lab_of_relative_xyz(linear_srgb @ to_relative_xyz.T)


def lab_of_relative_xyz(relative: NDArray[np.floating[Any]]) -> NDArray[np.float32]:
    """XYZ divided by the white's, shape (..., 3), to CIELAB (CIE 15:2018)."""
    cube_root = np.where(
        relative > (6 / 29) ** 3, np.cbrt(np.maximum(relative, 0)), relative * (29 / 6) ** 2 / 3 + 4 / 29
    )
    x, y, z = np.moveaxis(cube_root, -1, 0)
    return np.stack([116 * y - 16, 500 * (x - y), 200 * (y - z)], axis=-1).astype(np.float32)


def local_average(linear: NDArray[np.float32], weight: NDArray[np.float32]) -> NDArray[np.float32]:
    """Gaussian average of linear light over the pixels that `weight` (h, w; 0..1) lets count."""
    sigma = AVERAGING_SIGMA_SHARE * linear.shape[1]
    total = cv2.GaussianBlur(weight, (0, 0), sigma, borderType=cv2.BORDER_CONSTANT)
    light = cv2.GaussianBlur(linear * weight[..., None], (0, 0), sigma, borderType=cv2.BORDER_CONSTANT)
    return np.asarray(light / np.maximum(total, 1e-6)[..., None], dtype=np.float32)


def coverage(pixels: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Alpha in 0..1, shape (h, w); 1 everywhere for a picture without alpha."""
    if pixels.shape[2] == 3:
        return np.ones(pixels.shape[:2], dtype=np.float32)
    return (pixels[..., 3] / 255).astype(np.float32)


def resampled(values: NDArray[np.float32], width: int, height: int) -> NDArray[np.float32]:
    """Bring a float picture to another size: area average where it shrinks, linear where it grows."""
    method = cv2.INTER_AREA if values.shape[1] > width else cv2.INTER_LINEAR
    return np.asarray(cv2.resize(values, (width, height), interpolation=method), dtype=np.float32)


def light_error(
    measured: NDArray[np.float32], judged: NDArray[np.float32], reference: NDArray[np.uint8]
) -> PieceError:
    """Score linear sRGB light (h, w, 3) already on the reference's pixels; `judged` (h, w) is 0..1.

    Both pictures are averaged over the same pixels: inside the reference's outline and not hidden in
    the measured picture.
    """
    every = np.s_[::EVALUATED_EVERY_PX, ::EVALUATED_EVERY_PX]
    outline = coverage(reference)
    weight = judged * outline
    inside, counted = outline[every] >= INSIDE_LIMIT, weight[every] >= INSIDE_LIMIT
    if not counted.any():
        return PieceError(float("nan"), float("nan"), 0.0)
    measured_lab = lab_d50(local_average(measured, weight)[every][counted])
    reference_lab = lab_d50(local_average(linear_light(reference[..., :3]), weight)[every][counted])
    differences = delta_e_2000(reference_lab, measured_lab)
    share = float(counted.sum() / inside.sum())
    return PieceError(float(np.median(differences)), float(np.percentile(differences, 95)), share)


def delta_e_2000(one: NDArray[np.float32], other: NDArray[np.float32]) -> NDArray[np.float64]:
    """CIEDE2000 (CIE 142-2001) of CIELAB colours, shape (..., 3), by scikit-image, not by the product."""
    formula: Callable[..., Any] = deltaE_ciede2000
    return np.asarray(formula(one, other), dtype=np.float64)


def piece_error(measured: NDArray[np.uint8], reference: NDArray[np.uint8]) -> PieceError:
    """Score one measured piece, (h, w, 3 or 4) sRGB, against the reference in the artwork's frame.

    `reference` is (H, W, 4) sRGB, 255 = perfect white diffuser, alpha = outline, without the border
    (`artwork_frame`). With nothing judged the error is NaN and the share 0. It raises ValueError where
    the aspects differ by more than 2 %.
    """
    height, width = reference.shape[:2]
    aspect_ratio = (measured.shape[1] / measured.shape[0]) / (width / height)
    if abs(aspect_ratio - 1) > 0.02:
        raise ValueError(f"not in the artwork's frame: the aspects' ratio is {aspect_ratio:.3f}")
    light = resampled(linear_light(measured[..., :3]), width, height)
    return light_error(light, resampled(coverage(measured), width, height), reference)
