"""CIEDE2000 as a quadratic form near a colour."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from dyecast_inspect.perceptual_metric import delta_e_2000_metric, relative_xyz_to_lab
from dyecast_shared.cielab import D50_WHITE, xyz_to_lab
from dyecast_shared.delta_e import delta_e_2000

STEP = st.floats(-0.02, 0.02)


@given(st.floats(5.0, 98.0), st.floats(5.0, 90.0), st.floats(0.0, 2 * np.pi), st.tuples(STEP, STEP, STEP))
def test_a_small_step_has_the_length_ciede2000_gives_it(
    lightness: float, chroma: float, hue: float, step: tuple[float, float, float]
) -> None:
    reference = np.array([[lightness, chroma * np.cos(hue), chroma * np.sin(hue)]])
    length = np.linalg.norm(delta_e_2000_metric(reference)[0] @ np.array(step))

    assert abs(length - float(delta_e_2000(reference[0] + step, reference[0]))) < 0.02 * length + 1e-4


def test_lab_is_the_shared_lab() -> None:
    relative = np.random.default_rng(1).uniform(-0.002, 1.1, (200, 3))

    np.testing.assert_allclose(relative_xyz_to_lab(relative)[0], xyz_to_lab(relative * D50_WHITE), atol=1e-9)


def test_its_slopes_are_the_derivatives() -> None:
    relative = np.random.default_rng(2).uniform(0.0, 1.0, (50, 3))
    _, slopes = relative_xyz_to_lab(relative)
    for axis in range(3):
        step = np.zeros(3)
        step[axis] = 1e-7
        change = relative_xyz_to_lab(relative + step)[0] - relative_xyz_to_lab(relative - step)[0]
        np.testing.assert_allclose(slopes[..., axis], change / 2e-7, rtol=1e-4, atol=1e-4)
