"""Explaining a measured piece: pressing, light and veil are told apart, with honest uncertainty."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from dyecast_calibration.pressing_model import Pressing, bands_from_xyz, dye_amounts, pressed_bands
from dyecast_calibration.pressing_prior import PressingPrior
from dyecast_inspect.fit_pressing import BLEED, BLUR, PieceSample, PressingFit, _Problem, fit_pressing
from dyecast_inspect.intended_ink import IntendedInk
from dyecast_inspect.outline import ellipse, find_outline, rounded
from dyecast_shared.cielab import lab_to_xyz

PRIOR = PressingPrior()


def ink() -> NDArray[np.float32]:
    """Dye amounts of forty patches of all tones and hues with an unprinted one, (64, 80, 3)."""
    random = np.random.default_rng(7)
    lab = np.stack(
        [random.uniform(20, 95, (8, 10)), random.uniform(-35, 35, (8, 10)), random.uniform(-35, 35, (8, 10))],
        -1,
    )
    lab[0, 0] = (100.0, 0.0, 0.0)
    xyz = np.clip(lab_to_xyz(lab), 0.01, None)
    return np.repeat(np.repeat(dye_amounts(bands_from_xyz(xyz)), 8, axis=0), 8, axis=1)


def sample(pressing: Pressing, gain: float = 1.0, veil: float = 0.0) -> PieceSample:
    """A piece pressed so, in that light, with that veil, seen without noise at (32, 40)."""
    amounts = ink()
    fine = pressed_bands(amounts, pressing) * np.float32(gain) + np.float32(veil)
    seen = fine.reshape(32, 2, 40, 2, 3).mean(axis=(1, 3))
    return PieceSample(seen, np.ones((32, 40), np.float32), IntendedInk(amounts, amounts), pixels_per_mm=0.5)


def all_dyes(fraction: float, yellowing: float = 0.0) -> Pressing:
    return Pressing(fraction, fraction, fraction, yellowing)


@settings(max_examples=15, deadline=None)
@given(fraction=st.floats(0.4, 1.0), gain=st.floats(0.8, 1.25), veil=st.floats(0.0, 0.04))
def test_ink_light_and_veil_are_told_apart(fraction: float, gain: float, veil: float) -> None:
    fit = fit_pressing(sample(all_dyes(fraction), gain, veil), PRIOR)
    assert fit.pressing().magenta == pytest.approx(fraction, abs=0.04)
    assert float(fit.gain(1, 1).mean()) == pytest.approx(gain, rel=0.08)
    assert float(fit.veil(1, 1).mean()) == pytest.approx(veil, abs=0.012)


def test_a_yellow_coating_is_not_taken_for_missing_ink() -> None:
    fit = fit_pressing(sample(all_dyes(0.95, yellowing=0.12)), PRIOR)
    assert fit.pressing().yellowing > 0.06
    assert fit.pressing().magenta == pytest.approx(0.95, abs=0.05)


def test_glare_on_a_quarter_of_the_piece_loses_its_say() -> None:
    piece = sample(all_dyes(0.7))
    glaring = piece.measured.copy()
    glaring[:16, :20] += 0.5
    fit = fit_pressing(PieceSample(glaring, piece.weight, piece.ink, piece.pixels_per_mm), PRIOR)
    assert fit.pressing().magenta == pytest.approx(0.7, abs=0.05)
    assert fit.agreement[:16, :20].mean() < 0.3
    assert fit.agreement[16:].mean() > 0.7


def test_the_slopes_are_those_of_the_model() -> None:
    problem = _Problem(sample(all_dyes(0.8)), PRIOR)
    start = problem.start()
    start[[3, BLUR, BLEED]] = 0.02, 0.6, 0.3
    _, slopes = problem.model(start)
    for place in range(len(start)):
        if place in (BLUR, BLEED):
            continue
        step = np.zeros_like(start)
        step[place] = 1e-3
        numeric = (problem.model(start + step)[0] - problem.model(start - step)[0]) / 2e-3
        assert np.abs(slopes[..., place] - numeric).max() < 2e-3 * max(1.0, float(np.abs(numeric).max()))


def test_fewer_pixels_leave_more_doubt() -> None:
    piece = sample(all_dyes(0.8))

    def doubt(fit: PressingFit) -> float:
        return float(np.sqrt(fit.covariance[0, 0]))

    flat = np.full_like(piece.ink.amounts, 0.3)
    plain = PieceSample(piece.measured * 0 + 0.6, piece.weight, IntendedInk(flat, flat), piece.pixels_per_mm)
    assert doubt(fit_pressing(plain, PRIOR)) > 2.0 * doubt(fit_pressing(piece, PRIOR))


@pytest.mark.parametrize("radius", [0.0, 0.1, 0.22])
def test_the_outline_is_the_largest_shape_whose_corners_agree(radius: float) -> None:
    agreement = np.where(rounded(64, 80, radius), 0.9, 0.05).astype(np.float32)
    found = find_outline(agreement, np.ones((64, 80), bool), 128, 160)
    assert np.mean(found != rounded(128, 160, radius)) < 0.01


def test_a_round_piece_is_seen_as_round() -> None:
    agreement = np.where(ellipse(64, 64), 0.9, 0.05).astype(np.float32)
    found = find_outline(agreement, np.ones((64, 64), bool), 64, 64)
    assert found.mean() == pytest.approx(np.pi / 4, abs=0.01)
