"""From wanted colours to dye amounts (separation) and from dye amounts to reflectance.

Amounts are (..., 4): cyan, magenta, yellow, black in units of each dye's spectrum (1 = peak density 1).
Black follows from the other three, so that three unknowns meet three colour coordinates.
"""

from functools import cache
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from scenes.colorimetry import spectra_to_lab, srgb_to_lab_d50
from scenes.spectra import DyeSpectra, inkjet_dyes, sublimation_dyes

Array = NDArray[np.float64]
Floating = TypeVar("Floating", np.float32, np.float64)

MOST_DYE = 2.8
"""Upper bound of each amount: more dye than a printer lays down. Common practice, no published source."""

BLACK_STARTS_AT = 0.45
BLACK_RATE = 0.6
"""Black per unit by which the smallest of cyan, magenta, yellow passes its start (a plain black curve)."""

GRID_NODES = 17
"""Nodes per sRGB axis of the separation table: mean interpolation error below 0.3 CIEDE2000 (see tests)."""


def with_black(amounts: NDArray[Floating]) -> NDArray[Floating]:
    """Add the black amount that goes with cyan, magenta, yellow: (..., 3) to (..., 4), same dtype."""
    cyan, magenta, yellow = (amounts[..., dye : dye + 1] for dye in range(3))
    smallest = np.minimum(np.minimum(cyan, magenta), yellow)
    return np.concatenate([amounts, BLACK_RATE * np.maximum(smallest - BLACK_STARTS_AT, 0.0)], axis=-1)


def reflectance(amounts: NDArray[np.floating], dyes: DyeSpectra) -> NDArray[np.float32]:
    """Reflectance, (..., 31) float32, of dye amounts, (..., 4), on their base (Beer-Lambert)."""
    density = np.asarray(amounts, dtype=np.float32) @ dyes.density.astype(np.float32)
    seen: NDArray[np.float32] = np.exp(density * np.float32(-np.log(10.0))) * dyes.base.astype(np.float32)
    return seen


def _lab(amounts: Array, dyes: DyeSpectra) -> Array:
    density = with_black(amounts) @ dyes.density
    return spectra_to_lab(np.power(10.0, -density) * dyes.base)


def _jacobian(amounts: Array, here: Array, dyes: DyeSpectra) -> Array:
    """Forward differences of Lab by cyan, magenta, yellow: (N, 3, 3)."""
    step = 1e-4
    return np.stack([(_lab(amounts + step * unit, dyes) - here) / step for unit in np.eye(3)], axis=-1)


def separate_lab(target_lab: NDArray[np.floating], dyes: DyeSpectra, steps: int = 24) -> Array:
    """Dye amounts (N, 4) whose CIELAB under D50 is nearest to (N, 3) targets; out of gamut clips.

    Damped Gauss-Newton in CIELAB with amounts kept in 0..MOST_DYE (Levenberg 1944; projected).
    """
    target = np.asarray(target_lab, dtype=np.float64)
    amounts = np.full(target.shape, 0.5)
    damping = np.full(len(target), 10.0)
    here = _lab(amounts, dyes)
    for _ in range(steps):
        amounts, here, damping = _improve(amounts, here, damping, target, dyes)
    return with_black(amounts)


def _improve(
    amounts: Array, here: Array, damping: Array, target: Array, dyes: DyeSpectra
) -> tuple[Array, Array, Array]:
    """One damped step for every colour; steps that do not help are taken back and damped more."""
    slope, error = _jacobian(amounts, here, dyes), target - here
    stuck = ((amounts <= 0.0) & (_pull(slope, error) < 0.0)) | (
        (amounts >= MOST_DYE) & (_pull(slope, error) > 0.0)
    )
    free = np.where(stuck[:, None, :], 0.0, slope)
    normal = np.swapaxes(free, 1, 2) @ free + damping[:, None, None] * np.eye(3)
    move = np.linalg.solve(normal, _pull(free, error)[..., None])[..., 0]
    tried = np.clip(amounts + move, 0.0, MOST_DYE)
    there = _lab(tried, dyes)
    better = ((target - there) ** 2).sum(-1) < (error**2).sum(-1)
    keep = better[:, None]
    return (
        np.where(keep, tried, amounts),
        np.where(keep, there, here),
        np.where(better, damping * 0.2, np.minimum(damping * 8.0, 1e7)),
    )


def _pull(slope: Array, error: Array) -> Array:
    """Gradient direction J^T e for each colour, (N, 3)."""
    pull: Array = np.einsum("nij,ni->nj", slope, error)
    return pull


@cache
def _separation_table(dye_set: str) -> NDArray[np.float32]:
    """Amounts of cyan, magenta, yellow at every node of the sRGB cube, (n, n, n, 3)."""
    dyes = inkjet_dyes() if dye_set == "inkjet" else sublimation_dyes(dye_set)
    axis = np.linspace(0.0, 1.0, GRID_NODES)
    nodes = np.stack(np.meshgrid(axis, axis, axis, indexing="ij"), axis=-1).reshape(-1, 3)
    amounts = separate_lab(srgb_to_lab_d50(nodes), dyes)[:, :3]
    return amounts.reshape(GRID_NODES, GRID_NODES, GRID_NODES, 3).astype(np.float32)


def separate_artwork(artwork: NDArray[np.uint8], dye_set: str = "sublimation") -> NDArray[np.float32]:
    """Dye amounts (h, w, 4) that reproduce an sRGB artwork (h, w, 3) under D50, by trilinear table."""
    table = _separation_table(dye_set).reshape(-1, 3)
    place = artwork.reshape(-1, 3).astype(np.float32) * np.float32((GRID_NODES - 1) / 255.0)
    low = np.minimum(place.astype(np.int32), GRID_NODES - 2)
    share = place - low
    strides = np.array([GRID_NODES * GRID_NODES, GRID_NODES, 1], dtype=np.int32)
    first = low @ strides
    red, green, blue = (share[:, channel : channel + 1] for channel in range(3))

    def along_blue(offset: int) -> NDArray[np.float32]:
        near, far = table[first + offset], table[first + offset + 1]
        return np.asarray(near + blue * (far - near))

    def along_green(offset: int) -> NDArray[np.float32]:
        near, far = along_blue(offset), along_blue(offset + GRID_NODES)
        return np.asarray(near + green * (far - near))

    near, far = along_green(0), along_green(GRID_NODES * GRID_NODES)
    amounts = with_black(near + red * (far - near))
    return amounts.reshape(*artwork.shape[:2], 4)
