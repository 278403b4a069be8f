"""The inverse of a phone's tone curve."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dyecast_inspect.tone_curve import (
    KNOT_COUNT,
    LEAST_GAMMA,
    ToneCurve,
    black_prior_covariance,
    gamma_slopes,
    tone_basis,
    tone_prior_covariance,
)

WHITE = np.array([0.6, 0.55, 0.5])


def curve(deviation: float | list[float], black: float = 0.0) -> ToneCurve:
    values = np.broadcast_to(np.asarray(deviation, dtype=np.float64), (3, KNOT_COUNT))
    return ToneCurve(values, WHITE, np.full(3, black))


def test_an_honest_photo_is_only_scaled_to_white() -> None:
    light = np.array([[0.0, 0.0, 0.0], [0.3, 0.11, 0.05], [0.6, 0.55, 0.5]])

    np.testing.assert_allclose(curve(0.0).scene_light(light), light / WHITE)


@pytest.mark.parametrize("gamma", [0.6, 1.0, 1.4, 2.2])
def test_one_gamma_everywhere_is_a_power_law(gamma: float) -> None:
    light = np.geomspace(1e-3, 1.0, 20)[:, None] * np.ones(3)

    np.testing.assert_allclose(curve(gamma - 1.0).scene_light(light), (light / WHITE) ** gamma, rtol=1e-9)


@given(st.lists(st.floats(LEAST_GAMMA - 1.0, 1.5), min_size=KNOT_COUNT, max_size=KNOT_COUNT))
def test_the_curve_rises_and_keeps_white_whatever_the_gammas(deviation: list[float]) -> None:
    light = np.linspace(2e-4, 1.0, 400)[:, None] * np.ones(3)
    one = curve(deviation)

    assert (np.diff(one.scene_light(light), axis=0) > 0).all()
    np.testing.assert_allclose(one.scene_light(WHITE), np.ones(3))


@given(st.lists(st.floats(-0.5, 0.8), min_size=KNOT_COUNT, max_size=KNOT_COUNT))
def test_the_table_is_the_curve(deviation: list[float]) -> None:
    one = curve(deviation, black=0.01)
    table = one.table()
    entries = np.arange(100, table.shape[1], 997)
    light = (entries / table.shape[1]) ** 2

    np.testing.assert_allclose(table[:, entries].T, one.scene_light(light[:, None] * np.ones(3)), atol=2e-4)


def test_flare_is_taken_off_after_the_curve() -> None:
    light = np.array([0.2, 0.2, 0.2])

    np.testing.assert_allclose(curve(0.3).scene_light(light) - curve(0.3, 0.02).scene_light(light), 0.02)


def test_the_local_gamma_is_the_slope_of_the_curve_in_logarithms() -> None:
    deviation = np.array([-0.3, 0.1, 0.4, 0.2, 0.6])
    light = np.array([0.02, 0.2, 0.5])
    step = 1e-5
    up, down = (tone_basis(light * factor, WHITE) @ deviation for factor in (1 + step, 1 - step))

    np.testing.assert_allclose(gamma_slopes(light) @ deviation, (up - down) / (2 * step), atol=2e-3)


def test_the_prior_lets_the_channels_bend_alike_rather_than_apart() -> None:
    covariance = tone_prior_covariance()
    red, green = covariance[2, 2], covariance[2, KNOT_COUNT + 2]

    assert np.linalg.eigvalsh(covariance).min() > 0
    assert np.linalg.eigvalsh(black_prior_covariance()).min() > 0
    assert green / red > 0.9
