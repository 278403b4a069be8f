"""RGB encodings: from code values to linear light to CIE XYZ under D50, and back.

Linear light is 0 for black and 1 for white. XYZ is for the CIE 1931 2 degree observer, white at Y = 1,
adapted from D65 to the D50 of :mod:`dyecast_shared.cielab` with the linear Bradford transform, as ICC.1
asks of profiles.
"""

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dyecast_shared.adaptation import bradford_matrix
from dyecast_shared.cielab import D50_WHITE, as_colours, lab_to_xyz, read_only, xyz_to_lab
from dyecast_shared.photo import ColourEncoding, FloatArray
from dyecast_shared.single_precision import power, times_matrix

D65_XY: Final = read_only([0.3127, 0.3290])
"""(2,) chromaticity of D65. Source: IEC 61966-2-1, ITU-R BT.709."""

SRGB_PRIMARIES_XY: Final = read_only([[0.64, 0.33], [0.30, 0.60], [0.15, 0.06]])
"""(3, 2) chromaticities of red, green, blue. Source: ITU-R BT.709-6, taken over by IEC 61966-2-1."""

DISPLAY_P3_PRIMARIES_XY: Final = read_only([[0.680, 0.320], [0.265, 0.690], [0.150, 0.060]])
"""(3, 2) chromaticities of red, green, blue. Source: SMPTE EG 432-1, used with D65."""

_LINEAR_BELOW: Final = 0.0031308
_ENCODED_LINEAR_BELOW: Final = 0.04045
"""Linear light, and the code value, below which the sRGB curve is a line. Source: IEC 61966-2-1."""


def _linear_to_xyz_d50(primaries_xy: ArrayLike, white_xy: ArrayLike) -> NDArray[np.float64]:
    """Return the (3, 3) matrix from linear RGB to XYZ, Bradford-adapted from its white to D50."""
    matrix = rgb_to_xyz_matrix(primaries_xy, white_xy)
    return bradford_matrix(matrix.sum(axis=1), D50_WHITE) @ matrix


def rgb_to_xyz_matrix(primaries_xy: ArrayLike, white_xy: ArrayLike) -> NDArray[np.float64]:
    """Build the matrix from linear RGB to XYZ under the encoding's own white.

    Parameters
    ----------
    primaries_xy
        (3, 2) chromaticities x, y of red, green and blue.
    white_xy
        (2,) chromaticity x, y of R = G = B = 1.

    Returns
    -------
    (3, 3) float64; its columns are the primaries' XYZ and add up to the white at Y = 1.

    Source: SMPTE RP 177-1993, sections 3.1 to 3.3.
    """
    x, y = np.asarray(primaries_xy, dtype=np.float64).T
    columns = np.stack([x / y, np.ones(3), (1.0 - x - y) / y])
    white_x, white_y = np.asarray(white_xy, dtype=np.float64)
    white = np.array([white_x / white_y, 1.0, (1.0 - white_x - white_y) / white_y])
    return np.asarray(columns * np.linalg.solve(columns, white), dtype=np.float64)


SRGB_TO_XYZ_D50: Final = read_only(_linear_to_xyz_d50(SRGB_PRIMARIES_XY, D65_XY))
"""(3, 3) linear sRGB (ITU-R BT.709 primaries) to XYZ, D50."""

XYZ_D50_TO_SRGB: Final = read_only(np.linalg.inv(SRGB_TO_XYZ_D50))
"""(3, 3) XYZ, D50, to linear sRGB."""

DISPLAY_P3_TO_XYZ_D50: Final = read_only(_linear_to_xyz_d50(DISPLAY_P3_PRIMARIES_XY, D65_XY))
"""(3, 3) linear Display P3 to XYZ, D50."""

XYZ_D50_TO_DISPLAY_P3: Final = read_only(np.linalg.inv(DISPLAY_P3_TO_XYZ_D50))
"""(3, 3) XYZ, D50, to linear Display P3."""


def srgb_encode(linear: ArrayLike) -> FloatArray:
    """Encode linear light, any shape, 0..1, to sRGB code values in 0..1.

    Values outside 0..1 are carried on, not clipped: the line below zero, the power law above one.
    float32 stays float32, everything else becomes float64. Source: IEC 61966-2-1.

    Light of 18 % is stored as 0.46; black and white stay:

    >>> srgb_encode([0.0, 0.18, 1.0]).round(2).tolist()
    [0.0, 0.46, 1.0]
    """
    light = _as_float(linear)
    curve = 1.055 * _power(np.maximum(light, _LINEAR_BELOW), 1.0 / 2.4) - 0.055
    return np.asarray(np.minimum(12.92 * light, curve))


def srgb_decode(encoded: ArrayLike) -> FloatArray:
    """Decode sRGB code values, any shape, 0..1, to linear light in 0..1.

    Values outside 0..1 are carried on, not clipped: the line below zero, the power law above one.
    float32 stays float32, everything else becomes float64. Source: IEC 61966-2-1.

    Half the code value is a fifth of the light:

    >>> srgb_decode([0.0, 0.5, 1.0]).round(2).tolist()
    [0.0, 0.21, 1.0]
    """
    code = _as_float(encoded)
    curve = ((np.maximum(code, _ENCODED_LINEAR_BELOW) + 0.055) / 1.055) ** 2.4
    return np.asarray(np.where(code <= _ENCODED_LINEAR_BELOW, code / 12.92, curve))


def srgb_table(bits: int) -> NDArray[np.float32]:
    """Return the linear light of every sRGB code value: (2**bits,) float32, 0..1; bits is 8 or 16.

    Also the table of Display P3, which uses the same curve. ValueError for other depths.
    """
    if bits not in (8, 16):
        raise ValueError(f"pictures have 8 or 16 bits per channel, not {bits}")
    return srgb_decode(np.linspace(0.0, 1.0, 2**bits)).astype(np.float32)


def srgb_encoding(*, assumed: bool = False, bits: int = 8) -> ColourEncoding:
    """Return sRGB as a photo's encoding; ``assumed`` when the file does not say so itself."""
    return _with_srgb_curve("sRGB", assumed, bits, SRGB_TO_XYZ_D50)


def display_p3_encoding(*, assumed: bool = False, bits: int = 8) -> ColourEncoding:
    """Return Display P3 as a photo's encoding; ``assumed`` when the file does not say so itself."""
    return _with_srgb_curve("Display P3", assumed, bits, DISPLAY_P3_TO_XYZ_D50)


def srgb8_to_lab(srgb8: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Convert 8 bit sRGB, (..., 3) uint8, to CIELAB, (..., 3) float32, D50, 2 degree observer."""
    codes = np.asarray(srgb8)
    if codes.dtype != np.uint8:
        raise ValueError(f"expected uint8 code values, got {codes.dtype}")
    xyz = _SRGB_TABLE_8[codes] @ SRGB_TO_XYZ_D50.T.astype(np.float32)
    return xyz_to_lab(xyz).astype(np.float32, copy=False)


def xyz_d50_to_srgb8(xyz: ArrayLike) -> NDArray[np.uint8]:
    """Convert XYZ, (..., 3), D50, Y = 1 for white, to 8 bit sRGB, (..., 3) uint8.

    Colours outside the gamut are clipped channel by channel; NaN becomes 0.
    """
    (values,) = as_colours(xyz)
    single = values.dtype == np.float32
    linear = times_matrix(XYZ_D50_TO_SRGB, values) if single else values @ XYZ_D50_TO_SRGB.T
    codes = 255.0 * srgb_encode(np.clip(linear, 0.0, 1.0)) + 0.5
    codes[np.isnan(codes)] = 0.0
    return np.asarray(codes, dtype=np.uint8)


def lab_to_srgb8(lab: ArrayLike) -> NDArray[np.uint8]:
    """Convert CIELAB, (..., 3), D50, 2 degree observer, to 8 bit sRGB, (..., 3) uint8, clipped.

    >>> print(lab_to_srgb8([[0.0, 0.0, 0.0], [100.0, 0.0, 0.0]]))
    [[ 0 0 0]
     [255 255 255]]
    """
    return xyz_d50_to_srgb8(lab_to_xyz(lab))


def _as_float(values: ArrayLike) -> FloatArray:
    """Return float32 arrays as they are and everything else as float64."""
    array = np.asarray(values)
    return array if array.dtype == np.float32 else array.astype(np.float64, copy=False)


def _power(values: FloatArray, exponent: float) -> FloatArray:
    """Raise values > 0 to a power, in their own precision."""
    return power(values, exponent) if values.dtype == np.float32 else np.asarray(values**exponent)


def _with_srgb_curve(name: str, assumed: bool, bits: int, to_xyz_d50: NDArray[np.float64]) -> ColourEncoding:
    """Build an encoding whose three channels share the sRGB curve."""
    tables = np.ascontiguousarray(np.broadcast_to(srgb_table(bits), (3, 2**bits)))
    tables.setflags(write=False)
    return ColourEncoding(name=name, assumed=assumed, decode_tables=tables, to_xyz_d50=to_xyz_d50)


_SRGB_TABLE_8: Final = srgb_table(8)
