"""The light over the table."""

import numpy as np
import pytest

from dyecast_inspect.illumination import (
    BEYOND_SPREAD,
    TERM_COUNT,
    FieldGeometry,
    Illumination,
    field_prior,
    illumination_from_card,
)

CARD_TO_PHOTO = np.array([[4.0, 0.3, 100.0], [-0.2, 4.2, 80.0], [1e-4, 2e-4, 1.0]])
GEOMETRY = FieldGeometry(
    card_to_photo=CARD_TO_PHOTO,
    photo_to_card=np.linalg.inv(CARD_TO_PHOTO),
    card_size=np.array([148.0, 105.0]),
    photo_size=np.array([1000.0, 750.0]),
)


def photo_places(card_mm: np.ndarray) -> np.ndarray:
    moved = np.column_stack([card_mm, np.ones(len(card_mm))]) @ CARD_TO_PHOTO.T
    return np.asarray(moved[:, :2] / moved[:, 2:])


def light(**coefficients: float) -> Illumination:
    names = ["x", "y", "xx", "xy", "yy", "lens"]
    row = np.array([coefficients.get(name, 0.0) for name in names])
    return illumination_from_card(GEOMETRY, np.tile(row, (3, 1)), 1e-4 * np.eye(3 * TERM_COUNT))


def test_the_cards_middle_is_the_measure() -> None:
    middle = photo_places(np.array([[74.0, 52.5]]))

    np.testing.assert_allclose(light(x=0.4, y=-0.2, xx=0.1, lens=-0.3).gain(middle), 1.0, rtol=1e-9)


def test_a_slope_is_a_constant_factor_per_length() -> None:
    places = photo_places(np.array([[-126.0, 52.5], [74.0, 52.5], [174.0, 52.5], [274.0, 52.5]]))

    expected = np.exp([-0.6, 0.0, 0.3, 0.6])
    np.testing.assert_allclose(light(x=0.3).gain(places)[:, 1], expected, rtol=1e-9)


def test_a_place_far_outside_of_the_photo_has_a_finite_light() -> None:
    places = np.array([[1e6, 1e6], [-1e6, 3.0]], np.float32)
    gain = light(x=0.5, lens=-0.3).gain(places)
    assert np.isfinite(gain).all()
    assert (gain > 0.0).all()


def test_curvature_goes_on_as_a_straight_line_beyond_the_card() -> None:
    """A parabola would explode: at three card widths a weak one of 0.1 would make the light 2.7 times."""
    x = np.array([60.0, 74.0, 148.0, 198.0, 248.0, 298.0])
    found = np.log(light(xx=0.1).gain(photo_places(np.column_stack([x, np.full(6, 52.5)])))[:, 0])

    np.testing.assert_allclose(found[:3], 0.1 * ((x[:3] - 74.0) / 100.0) ** 2, atol=1e-9)
    np.testing.assert_allclose(np.diff(found[2:]), 0.1 * 2 * 0.74 * 0.5, rtol=1e-6)


def test_the_lens_darkens_with_the_distance_from_the_photos_middle() -> None:
    middle, corner = np.array([[499.5, 374.5]]), np.array([[999.5, 749.5]])
    lens = light(lens=-0.2)

    assert np.log(lens.gain(corner) / lens.gain(middle)) == pytest.approx(-0.2 * np.ones((1, 3)))


def test_single_and_double_precision_agree() -> None:
    places = np.random.default_rng(1).uniform(0, 750, (50, 2))
    one = light(x=0.3, y=-0.2, xx=0.05, xy=-0.04, yy=0.03, lens=-0.1)

    assert one.gain(places.astype(np.float32)).dtype == np.float32
    np.testing.assert_allclose(one.gain(places.astype(np.float32)), one.gain(places), rtol=1e-4)


def test_distance_is_zero_on_the_card_and_counts_from_its_nearest_edge() -> None:
    places = photo_places(np.array([[10.0, 10.0], [178.0, 50.0], [-30.0, -40.0]]))

    np.testing.assert_allclose(GEOMETRY.distance_outside_mm(places), [0.0, 30.0, 50.0], atol=1e-6)


def test_beyond_the_card_the_uncertainty_grows_by_the_prior_of_what_a_card_cannot_see() -> None:
    places = photo_places(np.array([[148.0, 52.5], [248.0, 52.5]]))
    at_edge, beyond = light().gain_uncertainty(places)

    assert beyond**2 - at_edge**2 > BEYOND_SPREAD**2
    assert beyond < 1.2 * BEYOND_SPREAD


def test_the_prior_is_a_covariance() -> None:
    mean, covariance = field_prior()

    assert mean.shape == (3 * TERM_COUNT,)
    assert np.linalg.eigvalsh(covariance).min() > 0


def test_steep_light_is_less_certain_beyond_the_card_than_even_light() -> None:
    beyond = photo_places(np.array([[248.0, 52.5]]))

    assert light(x=0.6).gain_uncertainty(beyond) > 1.5 * light().gain_uncertainty(beyond)
