"""CIELAB of spectra on the scene grid, and the linear sRGB and Display P3 encodings.

White is the perfect diffuser on the scene's own 31 bands, so the grid's small truncation cancels. The
formulas are written apart from the product's own, so that a test can set one against the other.
"""

import numpy as np
from numpy.typing import NDArray

from scenes.observers import viewing_weights

Array = NDArray[np.float64]

BRADFORD: Array = np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]])
"""Cone response matrix of the Bradford adaptation (Lam 1985; ICC.1:2022 annex E)."""

SRGB_PRIMARIES = ((0.64, 0.33), (0.30, 0.60), (0.15, 0.06))
"""Chromaticities x, y (IEC 61966-2-1)."""

DISPLAY_P3_PRIMARIES = ((0.680, 0.320), (0.265, 0.690), (0.150, 0.060))
"""Chromaticities x, y (SMPTE RP 431-2 primaries with a D65 white)."""

D65_CHROMATICITY = (0.3127, 0.3290)
D50_XYZ: Array = np.array([0.9642, 1.0, 0.8249])
"""The profile connection space's white (ICC.1:2022)."""


def chromaticity_to_xyz(chromaticity: tuple[float, float]) -> Array:
    """XYZ with Y = 1 of a chromaticity x, y."""
    x, y = chromaticity
    return np.array([x / y, 1.0, (1.0 - x - y) / y])


def rgb_to_xyz_matrix(primaries: tuple[tuple[float, float], ...]) -> Array:
    """(3, 3) linear RGB to XYZ, D65 white, from the primaries' chromaticities (SMPTE RP 177)."""
    columns = np.stack([chromaticity_to_xyz(primary) for primary in primaries], axis=1)
    matrix: Array = columns * np.linalg.solve(columns, chromaticity_to_xyz(D65_CHROMATICITY))
    return matrix


def bradford(source_white: Array, target_white: Array) -> Array:
    """(3, 3) Bradford adaptation of XYZ from one white to another (ICC.1:2022 annex E)."""
    gains = (BRADFORD @ target_white) / (BRADFORD @ source_white)
    adaptation: Array = np.linalg.inv(BRADFORD) @ (gains[:, None] * BRADFORD)
    return adaptation


def srgb_to_linear(encoded: NDArray[np.floating]) -> Array:
    """Decode sRGB values in 0..1 (IEC 61966-2-1)."""
    value = np.asarray(encoded, dtype=np.float64)
    return np.where(value <= 0.04045, value / 12.92, ((np.maximum(value, 0.0) + 0.055) / 1.055) ** 2.4)


def srgb_to_lab_d50(encoded: NDArray[np.floating]) -> Array:
    """CIELAB (D50, Bradford-adapted) of sRGB values in 0..1, shape (..., 3)."""
    to_d50 = bradford(chromaticity_to_xyz(D65_CHROMATICITY), D50_XYZ) @ rgb_to_xyz_matrix(SRGB_PRIMARIES)
    return xyz_to_lab(srgb_to_linear(encoded) @ to_d50.T, D50_XYZ)


def xyz_to_lab(xyz: Array, white: Array) -> Array:
    """CIELAB of XYZ, shape (..., 3) (ISO/CIE 11664-4)."""
    ratio = xyz / white
    root = np.where(ratio > 216 / 24389, np.cbrt(ratio), (24389 / 27 * ratio + 16.0) / 116.0)
    x, y, z = np.moveaxis(root, -1, 0)
    return np.stack([116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)], axis=-1)


def spectra_to_lab(reflectance: NDArray[np.floating], illuminant_name: str = "D50") -> Array:
    """CIELAB of reflectances, shape (..., 31), under an illuminant, 2 degree observer."""
    weights = viewing_weights(illuminant_name)
    return xyz_to_lab(np.asarray(reflectance, dtype=np.float64) @ weights, weights.sum(axis=0))
