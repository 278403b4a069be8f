"""OpenCV's powers and matrices must be numpy's, to a millionth."""

import numpy as np
import pytest
from numpy.typing import NDArray

from dyecast_shared.single_precision import cube_root, exponential, logarithm, power, times_matrix

LIGHT: NDArray[np.float32] = np.geomspace(1e-6, 20.0, 3000, dtype=np.float32).reshape(50, 20, 3)
EXACT: NDArray[np.float64] = LIGHT.astype(np.float64)


def test_powers_and_roots_are_those_of_double_precision() -> None:
    assert np.allclose(cube_root(LIGHT), np.cbrt(EXACT), rtol=1e-6, atol=0.0)
    assert np.allclose(power(LIGHT, 1 / 2.4), EXACT ** (1 / 2.4), rtol=1e-6, atol=0.0)


def test_exponential_and_logarithm_are_those_of_double_precision() -> None:
    assert np.allclose(exponential(-LIGHT), np.exp(-EXACT), rtol=2e-6, atol=0.0)
    assert np.allclose(logarithm(LIGHT), np.log(EXACT), rtol=1e-6, atol=1e-6)


def test_black_stays_black_and_unknown_stays_unknown() -> None:
    assert np.array_equal(
        cube_root(np.array([0.0, np.nan, 8.0], np.float32)), [0.0, np.nan, 2.0], equal_nan=True
    )


@pytest.mark.parametrize("shape", [(3,), (7, 3), (4, 5, 3), (0, 3)])
def test_colours_of_any_shape_are_multiplied_by_a_matrix(shape: tuple[int, ...]) -> None:
    matrix = np.array([[1.0, 2.0, 3.0], [0.0, -1.0, 0.5], [4.0, 0.0, 1.0]])
    colours = np.random.default_rng(0).random(shape, np.float32)
    found = times_matrix(matrix, colours)
    assert found.dtype == np.float32
    assert np.allclose(found, colours.astype(np.float64) @ matrix.T, atol=1e-6)


def test_a_fourth_column_is_added() -> None:
    shifted = np.column_stack([np.eye(3), [0.5, 0.0, -1.0]])
    assert np.allclose(times_matrix(shifted, LIGHT), EXACT + np.array([0.5, 0.0, -1.0]), atol=1e-5)


def test_every_other_column_of_a_picture_can_be_given() -> None:
    assert np.allclose(cube_root(LIGHT[:, ::2]), np.cbrt(EXACT[:, ::2]), rtol=1e-6)
