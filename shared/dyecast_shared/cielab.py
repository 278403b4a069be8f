"""CIE XYZ, CIELAB and its polar form, and the whites they are relative to.

All values are for the CIE 1931 2 degree observer, with Y = 1 for white.

Which D50
---------
Three sets of digits are in use for D50:

* ICC.1 (profile connection space): 0.9642, 1, 0.8249.
* ISO 13655 and ASTM E308 (spectrophotometers): 0.96422, 1, 0.82521.
* CIE 15 (rounded table): 0.9642, 1, 0.8251.

dyecast uses the ICC digits everywhere, because every photo and every artwork reaches it through the ICC
profile connection space. CIELAB values measured under ISO 13655 need no conversion: neutral is neutral in
both. XYZ values measured under ISO 13655 have to be converted with ``white=(0.96422, 1, 0.82521)``; with the
ICC digits b* of a white patch would be wrong by 0.025, far below what a phone can resolve.
(All digits above are quoted from memory of the named standards.)
"""

from collections.abc import Callable
from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dyecast_shared.photo import FloatArray
from dyecast_shared.single_precision import cube_root, times_matrix


def read_only(values: ArrayLike) -> NDArray[np.float64]:
    """Return a float64 copy of ``values`` that cannot be written to, for use as a constant."""
    constant = np.array(values, dtype=np.float64)
    constant.setflags(write=False)
    return constant


D50_WHITE: Final = read_only([0.9642, 1.0, 0.8249])
"""(3,) XYZ of D50, 2 degree observer, Y = 1. Source: ICC.1, profile connection space illuminant."""

D65_WHITE: Final = read_only([0.3127 / 0.3290, 1.0, (1.0 - 0.3127 - 0.3290) / 0.3290])
"""(3,) XYZ of D65, 2 degree observer, Y = 1, from x = 0.3127, y = 0.3290. Source: IEC 61966-2-1."""

_LINEAR_BELOW: Final = 6.0 / 29.0
"""Cube root of the relative value below which CIELAB is linear. Source: CIE 15:2004, section 8.2.1."""

_LINEAR_SLOPE: Final = 841.0 / 108.0
"""Slope of that linear part, (29/6)² / 3. Source: CIE 15:2004, section 8.2.1."""

_LINEAR_OFFSET: Final = 4.0 / 29.0
"""Its value at zero. Source: CIE 15:2004, section 8.2.1."""

_RESPONSE_TO_LAB: Final = read_only(
    [[0.0, 116.0, 0.0, -16.0], [500.0, -500.0, 0.0, 0.0], [0.0, 200.0, -200.0, 0.0]]
)
"""(3, 4) from the responses to X, Y, Z to L*, a*, b*; the last column is added. Source: CIE 15:2004."""


def as_colours(*colours: ArrayLike) -> tuple[FloatArray, ...]:
    """Return the inputs as arrays of shape (..., 3) in one precision.

    float32 when every input is a float32 array, otherwise float64.

    Raises
    ------
    ValueError
        When the last axis of an input does not hold three values.
    """
    arrays = [np.asarray(colour) for colour in colours]
    if any(array.shape[-1:] != (3,) for array in arrays):
        raise ValueError(f"colours need three values on the last axis, got {[a.shape for a in arrays]}")
    single = all(array.dtype == np.float32 for array in arrays)
    dtype: type[np.floating[Any]] = np.float32 if single else np.float64
    return tuple(array.astype(dtype, copy=False) for array in arrays)


def xyz_to_lab(xyz: ArrayLike, white: ArrayLike = D50_WHITE) -> FloatArray:
    """Convert CIE XYZ to CIELAB.

    Parameters
    ----------
    xyz
        (..., 3), 2 degree observer, Y = 1 for white. Small negative values are allowed.
    white
        (3,) XYZ of the white that becomes L* = 100, a* = b* = 0.

    Returns
    -------
    (..., 3) L* in 0..100, a*, b*; float32 for float32 input, otherwise float64. NaN stays NaN.

    Source: CIE 15:2004, section 8.2.1 (ISO/CIE 11664-4).

    White has L* 100; a grey of 18.42 % luminance is the middle, L* 50:

    >>> print(xyz_to_lab(D50_WHITE))
    [100. 0. 0.]
    >>> print(xyz_to_lab(0.1842 * D50_WHITE).round(1) + 0.0)
    [50. 0. 0.]
    """
    (values,) = as_colours(xyz)
    if values.dtype == np.float32:
        relative = times_matrix(np.diag(1.0 / np.asarray(white, dtype=np.float64)), values)
        return times_matrix(_RESPONSE_TO_LAB, _response(relative, cube_root))
    response = _response(values / np.asarray(white, dtype=np.float64), np.cbrt)
    lab = np.empty_like(response)
    lab[..., 0] = 116.0 * response[..., 1] - 16.0
    lab[..., 1] = 500.0 * (response[..., 0] - response[..., 1])
    lab[..., 2] = 200.0 * (response[..., 1] - response[..., 2])
    return lab


def _response(relative: FloatArray, root: Callable[..., FloatArray]) -> FloatArray:
    """Return the cube root of the relative values, and near black the line that touches it from above."""
    line = _LINEAR_SLOPE * relative + _LINEAR_OFFSET
    return np.asarray(np.minimum(line, root(np.maximum(relative, _LINEAR_BELOW**3))))


def lab_to_xyz(lab: ArrayLike, white: ArrayLike = D50_WHITE) -> FloatArray:
    """Convert CIELAB to CIE XYZ, the inverse of :func:`xyz_to_lab`.

    Parameters
    ----------
    lab
        (..., 3) L*, a*, b*.
    white
        (3,) XYZ of the white that L* = 100, a* = b* = 0 stands for.

    Returns
    -------
    (..., 3) XYZ, 2 degree observer, Y = 1 for white; float32 for float32 input, otherwise float64.

    Source: CIE 15:2004, appendix D.

    >>> print(lab_to_xyz([100.0, 0.0, 0.0]))
    [0.9642 1. 0.8249]
    """
    (values,) = as_colours(lab)
    response = np.empty_like(values)
    response[..., 1] = (values[..., 0] + 16.0) / 116.0
    response[..., 0] = response[..., 1] + values[..., 1] / 500.0
    response[..., 2] = response[..., 1] - values[..., 2] / 200.0
    linear = (response - _LINEAR_OFFSET) / _LINEAR_SLOPE
    relative = np.where(response > _LINEAR_BELOW, response**3, linear)
    return np.asarray(relative * np.asarray(white, dtype=values.dtype))


def lab_to_lch(lab: ArrayLike) -> FloatArray:
    """Convert CIELAB to lightness, chroma and hue angle.

    Parameters
    ----------
    lab
        (..., 3) L*, a*, b*.

    Returns
    -------
    (..., 3) L*, C*ab >= 0, h_ab in degrees, 0 <= h_ab < 360, 0 for a neutral; precision as the input's.

    Source: CIE 15:2004, section 8.2.1.

    A triangle of sides 3, 4 and 5, and pure yellow at a right angle:

    >>> print(lab_to_lch([60.0, 3.0, 4.0]).round(2))
    [60. 5. 53.13]
    >>> print(lab_to_lch([90.0, 0.0, 80.0]))
    [90. 80. 90.]
    """
    (values,) = as_colours(lab)
    lch = np.empty_like(values)
    lch[..., 0] = values[..., 0]
    lch[..., 1] = np.hypot(values[..., 1], values[..., 2])
    hue = np.mod(np.rad2deg(np.arctan2(values[..., 2], values[..., 1])), 360.0)
    neutral_or_full_turn = (lch[..., 1] == 0.0) | (hue >= 360.0)
    lch[..., 2] = np.where(neutral_or_full_turn, 0.0, hue)
    return lch
