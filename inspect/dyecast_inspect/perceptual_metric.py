"""The CIEDE2000 difference near a colour as a quadratic form, so that least squares can minimise it.

For a small step d in CIELAB from a reference colour, the square of CIEDE2000 is dᵀ G d. The matrix W with
WᵀW = G turns Lab differences into vectors whose length is CIEDE2000 (to first order), rotation term included.
Source of the weights: ISO/CIE 11664-6:2014; the linearisation at the reference is the usual one.
"""

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

_CUBE_BELOW = 6.0 / 29.0


def delta_e_2000_metric(reference_lab: Array) -> Array:
    """Return W, (N, 3, 3), for reference colours (N, 3) in CIELAB: |W d| is CIEDE2000 for small d."""
    lightness, a, b = reference_lab.T
    chroma_7 = np.hypot(a, b) ** 7
    stretch = 1.5 - 0.5 * np.sqrt(chroma_7 / (chroma_7 + 25.0**7))
    chroma, hue = np.hypot(stretch * a, b), np.arctan2(b, stretch * a)
    offset = (lightness - 50.0) ** 2
    scale_lightness = 1.0 + 0.015 * offset / np.sqrt(20.0 + offset)
    scale_chroma = 1.0 + 0.045 * chroma
    scale_hue = 1.0 + 0.015 * chroma * _hue_weighting(hue)
    half_rotation = 0.5 * _rotation(chroma, hue)
    cosine, sine = np.cos(hue), np.sin(hue)
    along_chroma = np.stack([stretch * cosine, sine]) / scale_chroma
    along_hue = np.stack([-stretch * sine, cosine]) / scale_hue
    metric = np.zeros((len(lightness), 3, 3))
    metric[:, 0, 0] = 1.0 / scale_lightness
    metric[:, 1, 1:] = (along_chroma + half_rotation * along_hue).T
    metric[:, 2, 1:] = (np.sqrt(1.0 - half_rotation**2) * along_hue).T
    return metric


def _hue_weighting(hue: Array) -> Array:
    return np.asarray(
        1.0
        - 0.17 * np.cos(hue - np.deg2rad(30.0))
        + 0.24 * np.cos(2.0 * hue)
        + 0.32 * np.cos(3.0 * hue + np.deg2rad(6.0))
        - 0.20 * np.cos(4.0 * hue - np.deg2rad(63.0))
    )


def _rotation(chroma: Array, hue: Array) -> Array:
    degrees = np.rad2deg(hue) % 360.0
    turn = np.deg2rad(60.0 * np.exp(-(((degrees - 275.0) / 25.0) ** 2)))
    return np.asarray(-np.sin(turn) * 2.0 * np.sqrt(chroma**7 / (chroma**7 + 25.0**7)))


def relative_xyz_to_lab(relative_xyz: Array) -> tuple[Array, Array]:
    """Convert XYZ relative to the white, (..., 3), to Lab (..., 3) and dLab/dXYZ (..., 3, 3).

    The same function as `dyecast_shared.cielab.xyz_to_lab` (CIE 15:2004, section 8.2.1), with its slope.
    """
    bright = relative_xyz > _CUBE_BELOW**3
    root = np.cbrt(np.where(bright, relative_xyz, 1.0))
    line = relative_xyz / (3.0 * _CUBE_BELOW**2) + 4.0 / 29.0
    response = np.where(bright, root, line)
    slope = np.where(bright, 1.0 / (3.0 * root * root), 1.0 / (3.0 * _CUBE_BELOW**2))
    lab = response @ _RESPONSE_TO_LAB.T
    lab[..., 0] -= 16.0
    return lab, _RESPONSE_TO_LAB * slope[..., None, :]


_RESPONSE_TO_LAB = np.array([[0.0, 116.0, 0.0], [500.0, -500.0, 0.0], [0.0, 200.0, -200.0]])
