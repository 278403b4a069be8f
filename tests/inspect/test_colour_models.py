"""The candidate colour corrections."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from dyecast_inspect.colour_models import (
    TERM_COUNT,
    ColourModel,
    ModelKind,
    coefficient_prior,
    terms_and_slopes,
)

LIGHT = st.floats(0.01, 1.2)
RANDOM = np.random.default_rng(3)


def model(kind: ModelKind) -> ColourModel:
    return ColourModel(kind, np.random.default_rng(5).normal(0.0, 0.4, (3, TERM_COUNT[kind])))


def test_the_terms_are_those_of_the_paper() -> None:
    """Finlayson, Mackiewicz, Hurlbert 2015, equation 9: r, g, b, √rg, √gb, √rb at degree 2."""
    terms, _ = terms_and_slopes(np.array([[0.04, 0.25, 0.81]]), ModelKind.ROOT_POLYNOMIAL_2)

    np.testing.assert_allclose(terms[0], [0.04, 0.25, 0.81, 0.1, 0.45, 0.18])


def test_degree_three_adds_the_cube_roots_of_products_of_three() -> None:
    terms, _ = terms_and_slopes(np.array([[0.1, 0.4, 0.8]]), ModelKind.ROOT_POLYNOMIAL_3)
    red, green, blue = 0.1, 0.4, 0.8
    products = [red**2 * green, green**2 * red, green**2 * blue, blue**2 * green]
    products += [red**2 * blue, blue**2 * red, red * green * blue]

    np.testing.assert_allclose(terms[0, 6:], np.cbrt(products))


@pytest.mark.parametrize("kind", list(ModelKind))
def test_the_slopes_are_the_derivatives(kind: ModelKind) -> None:
    camera = np.random.default_rng(2).uniform(0.02, 1.0, (20, 3))
    _, slopes = terms_and_slopes(camera, kind)
    for channel in range(3):
        step = np.zeros(3)
        step[channel] = 1e-6
        up, _ = terms_and_slopes(camera + step, kind)
        down, _ = terms_and_slopes(camera - step, kind)
        np.testing.assert_allclose(slopes[..., channel], (up - down) / 2e-6, atol=1e-6)


@given(LIGHT, LIGHT, LIGHT, st.floats(0.1, 4.0))
def test_more_light_makes_every_colour_lighter_and_none_different(
    red: float, green: float, blue: float, exposure: float
) -> None:
    camera = np.array([[red], [green], [blue]], dtype=np.float32)
    for kind in ModelKind:
        once = model(kind).relative_xyz(camera)
        brighter = model(kind).relative_xyz(camera * np.float32(exposure))
        np.testing.assert_allclose(brighter, exposure * once, rtol=2e-4, atol=2e-5)


@pytest.mark.parametrize("kind", list(ModelKind))
def test_pictures_and_fitting_use_the_same_terms(kind: ModelKind) -> None:
    camera = np.random.default_rng(4).uniform(0.0, 1.0, (40, 3))
    terms, _ = terms_and_slopes(camera, kind)

    found = model(kind).relative_xyz(camera.T.astype(np.float32))

    np.testing.assert_allclose(found.T, terms @ model(kind).matrix.T, atol=1e-5)


@pytest.mark.parametrize("kind", list(ModelKind))
def test_nothing_explodes_at_or_below_black(kind: ModelKind) -> None:
    camera = np.linspace(-0.01, 0.001, 30, dtype=np.float32)[None] * np.ones((3, 1), dtype=np.float32)

    found = model(kind).relative_xyz(camera)

    assert np.isfinite(found).all()
    assert np.abs(found).max() < 0.05


def test_the_prior_is_the_photos_own_encoding_white_for_white() -> None:
    plain: NDArray[np.float64] = RANDOM.uniform(0.1, 1.0, (3, 3))
    for kind in ModelKind:
        mean, spread = coefficient_prior(kind, plain)
        np.testing.assert_allclose(mean.sum(axis=1), 1.0)
        np.testing.assert_allclose(mean[:, 3:], 0.0)
        assert (spread > 0).all()
