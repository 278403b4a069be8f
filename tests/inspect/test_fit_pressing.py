"""The fit on prints that were made exactly as it believes: it must find what was put in."""

from dataclasses import replace

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from dyecast_calibration.pressing_model import Pressing, pressed_bands
from dyecast_calibration.pressing_prior import PressingPrior
from dyecast_inspect.fit_pressing import (
    BLEED,
    BLUR,
    LEAST_VEIL,
    MOST_VEIL,
    VEIL,
    YELLOWING,
    PieceSample,
    PressingFit,
    _Problem,
    field_terms,
    fit_pressing,
)
from dyecast_inspect.intended_ink import IntendedInk

SIDE = 48
"""Pixels of the sample; its ink is known at twice that."""


def patchwork(seed: int = 0) -> NDArray[np.float32]:
    """Amounts of cyan, magenta, yellow in 8 x 8 patches with soft edges, some of them bare."""
    random = np.random.default_rng(seed)
    amounts = random.uniform(0.0, 1.0, (8, 8, 3)) * (random.random((8, 8, 1)) > 0.2)
    large = cv2.resize(amounts.astype(np.float32), (2 * SIDE, 2 * SIDE), interpolation=cv2.INTER_NEAREST)
    return np.asarray(cv2.GaussianBlur(large, (0, 0), 1.5), np.float32)


def sample_of(fraction: float, yellowing: float = 0.0, gain: float = 1.0, veil: float = 0.012) -> PieceSample:
    ink = patchwork()
    pressed = pressed_bands(ink, Pressing(fraction, fraction, fraction, yellowing))
    seen = cv2.GaussianBlur(cv2.resize(pressed, (SIDE, SIDE), interpolation=cv2.INTER_AREA), (0, 0), 1.0)
    measured = np.asarray(gain * seen + veil, np.float32)
    return PieceSample(measured, np.ones((SIDE, SIDE), np.float32), IntendedInk(ink, ink), SIDE / 100.0)


def deviations(fit: PressingFit) -> NDArray[np.float64]:
    return np.sqrt(np.diag(fit.covariance))


@settings(max_examples=15)
@given(
    fraction=st.floats(0.5, 1.0),
    yellowing=st.floats(0.0, 0.08),
    gain=st.floats(0.85, 1.15),
    veil=st.floats(0.0, 0.03),
)
def test_what_was_put_in_is_found_within_the_stated_uncertainty(
    fraction: float, yellowing: float, gain: float, veil: float
) -> None:
    fit = fit_pressing(sample_of(fraction, yellowing, gain, veil), PressingPrior())
    true = [np.log(fraction), yellowing, np.log(gain), veil]
    places = [0, YELLOWING, 4, 12]
    assert (np.abs(fit.parameters[places] - true) <= 2.0 * deviations(fit)[places]).all()


def test_the_stated_uncertainty_is_small_enough_to_tell_pieces_apart() -> None:
    fraction, yellowing = deviations(fit_pressing(sample_of(0.8), PressingPrior()))[[0, YELLOWING]]
    assert 0.0 < fraction < 0.08
    assert 0.0 < yellowing < 0.03


def test_a_good_explanation_leaves_little_and_agrees_everywhere() -> None:
    fit = fit_pressing(sample_of(0.8, 0.02), PressingPrior())
    assert fit.residual < PressingPrior().noise / 2
    assert float(fit.agreement.min()) > 0.5


def test_paler_prints_are_found_paler_and_yellower_ones_yellower() -> None:
    pale, full = (fit_pressing(sample_of(share), PressingPrior()).pressing() for share in (0.5, 0.95))
    clear, yellow = (fit_pressing(sample_of(0.9, much), PressingPrior()).pressing() for much in (0.0, 0.1))
    assert pale.magenta < 0.65
    assert full.magenta > 0.85
    assert yellow.yellowing > clear.yellowing + 0.05


def test_a_lamp_mirrored_in_a_corner_does_not_change_what_is_found_elsewhere() -> None:
    clean = sample_of(0.8)
    lit = clean.measured.copy()
    lit[:12, :12] += 0.6
    spotted = PieceSample(lit, clean.weight, clean.ink, clean.pixels_per_mm)
    found, without = (fit_pressing(each, PressingPrior()) for each in (spotted, clean))
    assert abs(found.pressing().magenta - without.pressing().magenta) < 0.06
    assert float(found.agreement[2:10, 2:10].mean()) < 0.3 < float(found.agreement[16:, 16:].mean())


def test_what_has_no_weight_has_no_say() -> None:
    clean = sample_of(0.8)
    weight, lit = clean.weight.copy(), clean.measured.copy()
    weight[:20], lit[:20] = 0.0, 5.0
    covered = fit_pressing(PieceSample(lit, weight, clean.ink, clean.pixels_per_mm), PressingPrior())
    again = fit_pressing(PieceSample(clean.measured, weight, clean.ink, clean.pixels_per_mm), PressingPrior())
    assert np.allclose(covered.parameters, again.parameters, atol=1e-3)


def night(seed: int = 0) -> NDArray[np.float32]:
    """Amounts of a dark picture: nearly black, with a soft violet light and a few small bright windows."""
    random = np.random.default_rng(seed)
    sky = cv2.resize(random.random((4, 4)).astype(np.float32), (2 * SIDE, 2 * SIDE))
    amounts = np.stack([1.7 - 0.7 * sky, 1.7 - 0.5 * sky, 1.5 - 0.9 * sky], axis=-1)
    for row, column in random.integers(0, 2 * SIDE - 6, (12, 2)):
        amounts[row : row + 6, column : column + 6] = (0.0, 0.1, 0.5)
    return np.asarray(cv2.GaussianBlur(amounts, (0, 0), 1.5), np.float32)


def test_blacks_of_which_too_much_light_was_taken_off_do_not_make_a_dark_picture_pale() -> None:
    """A glossy card under a flaring lens: 1.4 to 2 % of white too much, and blacks are less than no light."""
    ink = night()
    pressed = pressed_bands(ink, Pressing(0.95, 0.95, 0.95, 0.0))
    small = cv2.GaussianBlur(cv2.resize(pressed, (SIDE, SIDE), interpolation=cv2.INTER_AREA), (0, 0), 1.0)
    noise = np.random.default_rng(1).normal(0.0, 0.002, small.shape)
    seen = np.asarray(small - np.array([0.020, 0.014, 0.016]) + noise, np.float32)
    weight = np.ones((SIDE, SIDE), np.float32)
    fit = fit_pressing(PieceSample(seen, weight, IntendedInk(ink, ink), SIDE / 100.0), PressingPrior())
    assert fit.parameters[0] == pytest.approx(np.log(0.95), abs=0.06)
    assert fit.parameters[YELLOWING] < 0.03


def test_light_and_veil_of_a_fit_are_pictures_of_any_size() -> None:
    fit = fit_pressing(sample_of(0.8, gain=1.1, veil=0.02), PressingPrior())
    assert fit.gain(5, 7).shape == (5, 7, 3)
    assert fit.veil(5, 7).shape == (5, 7)
    assert np.allclose(fit.veil(9, 9).mean(), fit.parameters[VEIL][0], atol=1e-6)


def test_the_terms_of_a_field_are_centred() -> None:
    terms = field_terms(6, 8)
    assert np.allclose(terms[..., 0], 1.0)
    assert np.allclose(terms[..., [1, 2, 4]].mean(axis=(0, 1)), 0.0)
    assert float(terms[..., 1].max()) < 1.0


def test_the_change_with_every_parameter_is_what_small_steps_show() -> None:
    """Central differences, in single precision; the blurs' is the heat equation on a pixel grid."""
    problem = _Problem(sample_of(0.8, 0.02), PressingPrior())
    middle = problem.mean.copy()
    middle[:4] = (-0.2, 0.03, -0.02, 0.03)
    middle[4:15] = (0.05, 0.02, -0.03, 0.01, 0.02, -0.01, 0.02, -0.01, 0.02, 0.003, -0.002)
    middle[BLUR], middle[BLEED] = 1.5, 4.0
    slopes = problem.slopes(problem.at(middle))
    for place in range(17):
        step = np.zeros(17)
        step[place] = 0.1 if place in {BLUR, BLEED} else 0.01
        ahead, behind = problem.at(middle + step).predicted, problem.at(middle - step).predicted
        seen = (ahead.astype(np.float64) - behind) / (2.0 * step[place])
        tolerance = 0.15 if place in {BLUR, BLEED} else 0.01
        assert np.linalg.norm(slopes[place] - seen) <= tolerance * np.linalg.norm(seen), place


def test_a_piece_under_a_lamp_is_not_explained_by_a_veil_that_cannot_be() -> None:
    piece = sample_of(1.0)
    drowned = replace(piece, measured=piece.measured * np.float32(0.1) + np.float32(0.8))
    veil = float(fit_pressing(drowned, PressingPrior()).veil(1, 1).mean())
    assert LEAST_VEIL <= veil <= MOST_VEIL
