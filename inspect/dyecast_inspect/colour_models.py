"""Candidate colour corrections: from camera RGB (linear, white = 1) to CIE XYZ relative to the white.

* linear: a 3×3 matrix.
* root-polynomial of degree 2: R, G, B, √RG, √GB, √RB (Finlayson, Mackiewicz and Hurlbert, "Color correction
  using root-polynomial regression", IEEE Trans. Image Processing 24(5), 2015). It does not change hue or
  saturation with the exposure.
* root-polynomial of degree 3: the cube roots of all products of three as well, held small by the prior.

All are linear in their coefficients, which a Gaussian prior holds near a plain matrix: the photo's own
encoding, white for white.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from dyecast_shared.photo import FloatArray

Array = NDArray[np.float64]

LEAST_LIGHT = 1e-4
"""Camera light, relative to white, below which the roots are not followed: their slope grows without end."""

MATRIX_SPREAD = 0.5
"""Prior standard deviation of the matrix about the photo's own encoding; XYZ relative to white."""

SQUARE_ROOT_SPREAD = 0.3
"""Prior standard deviation of the coefficients of the square roots."""

CUBE_ROOT_SPREAD = 0.2
"""Prior standard deviation of the coefficients of the cube roots: thirteen terms on some thirty patches."""

CUBE_ROOT_EXPONENTS = (
    np.array([[2, 1, 0], [1, 2, 0], [0, 2, 1], [0, 1, 2], [2, 0, 1], [1, 0, 2], [1, 1, 1]]) / 3.0
)
"""Exponents of R, G, B in the cube-root terms."""


class ModelKind(StrEnum):
    """The candidates, in the words a report prints."""

    LINEAR = "linear"
    ROOT_POLYNOMIAL_2 = "root-polynomial 2"
    ROOT_POLYNOMIAL_3 = "root-polynomial 3"


TERM_COUNT = {ModelKind.LINEAR: 3, ModelKind.ROOT_POLYNOMIAL_2: 6, ModelKind.ROOT_POLYNOMIAL_3: 13}
"""Number of terms of each candidate."""


@dataclass(frozen=True, slots=True, eq=False)
class ColourModel:
    """A fitted candidate; `matrix` is (3, terms) float64, to XYZ relative to the white."""

    kind: ModelKind
    matrix: Array

    def relative_xyz(self, camera: NDArray[np.float32]) -> NDArray[np.float32]:
        """Convert planes of camera light, (3, ...) float32, white = 1, to planes of XYZ relative to white."""
        flat = camera.reshape(3, -1)
        weights = self.matrix.astype(np.float32)
        total = weights[:, :3] @ flat
        if self.kind is not ModelKind.LINEAR:
            light = np.maximum(flat, np.float32(LEAST_LIGHT))
            total += weights[:, 3:6] @ _square_roots(light.T).T
            if self.kind is ModelKind.ROOT_POLYNOMIAL_3:
                total += weights[:, 6:] @ _cube_roots(light.T).T
        return np.asarray(total.reshape(camera.shape))


def terms_only(camera: Array, kind: ModelKind) -> Array:
    """Return the terms (..., T) at camera light (..., 3)."""
    if kind is ModelKind.LINEAR:
        return camera
    light = np.maximum(camera, LEAST_LIGHT)
    terms = [camera, _square_roots(light)]
    if kind is ModelKind.ROOT_POLYNOMIAL_3:
        terms.append(_cube_roots(light))
    return np.concatenate(terms, axis=-1)


def terms_and_slopes(camera: Array, kind: ModelKind) -> tuple[Array, Array]:
    """Return the terms (..., T) at camera light (..., 3), and their slopes (..., T, 3)."""
    identity = np.broadcast_to(np.eye(3), (*camera.shape[:-1], 3, 3))
    if kind is ModelKind.LINEAR:
        return camera, identity
    light = np.maximum(camera, LEAST_LIGHT)
    followed = (camera > LEAST_LIGHT)[..., None, :] / light[..., None, :]
    roots = _square_roots(light)
    exponents = 0.5 * np.array([[1, 1, 0], [0, 1, 1], [1, 0, 1]])
    terms, slopes = [camera, roots], [identity, roots[..., None] * exponents * followed]
    if kind is ModelKind.ROOT_POLYNOMIAL_3:
        cubes = _cube_roots(light)
        terms.append(cubes)
        slopes.append(cubes[..., None] * CUBE_ROOT_EXPONENTS * followed)
    return np.concatenate(terms, axis=-1), np.concatenate(slopes, axis=-2)


def coefficient_prior(kind: ModelKind, plain_matrix: Array) -> tuple[Array, Array]:
    """Return mean and standard deviation, (3, T) each, of the coefficients.

    `plain_matrix` is the (3, 3) matrix from camera light to XYZ, both relative to white, if the photo's
    encoding told the truth.
    """
    mean = np.zeros((3, TERM_COUNT[kind]))
    mean[:, :3] = plain_matrix / plain_matrix.sum(axis=1, keepdims=True)
    spread = np.array([MATRIX_SPREAD] * 3 + [SQUARE_ROOT_SPREAD] * 3 + [CUBE_ROOT_SPREAD] * 7)
    return mean, np.tile(spread[: TERM_COUNT[kind]], (3, 1))


def _square_roots(light: FloatArray) -> FloatArray:
    """√RG, √GB, √RB of (..., 3); the terms are laid out as planes in memory."""
    red, green, blue = _planes(np.sqrt(light))
    return _interleaved([red * green, green * blue, red * blue])


def _cube_roots(light: FloatArray) -> FloatArray:
    """∛ of R²G, G²R, G²B, B²G, R²B, B²R, RGB of (..., 3): (..., 7), laid out as planes in memory."""
    red, green, blue = _planes(np.cbrt(light))
    products = [red * red * green, green * green * red, green * green * blue, blue * blue * green]
    products += [red * red * blue, blue * blue * red, red * green * blue]
    return _interleaved(products)


def _planes(colours: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return the three planes of (..., 3)."""
    return colours[..., 0], colours[..., 1], colours[..., 2]


def _interleaved(planes: Sequence[FloatArray]) -> FloatArray:
    """Return K planes (...) as (..., K), laid out as planes in memory."""
    stacked = np.array(planes)
    return stacked.transpose(*range(1, stacked.ndim), 0)
