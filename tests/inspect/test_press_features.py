"""The signs of a pressing, on made-up pieces whose answer is known."""

from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest
from numpy.typing import NDArray

from dyecast_calibration.grading_limits import grading_limits
from dyecast_calibration.pressing_model import (
    Pressing,
    bands_from_xyz,
    dye_amounts,
    pressed_bands,
)
from dyecast_inspect.compare import compare
from dyecast_inspect.explain_surface import ExplainedPiece
from dyecast_inspect.fit_pressing import BLEED, VEIL, YELLOWING, PressingFit
from dyecast_inspect.inspection import Estimate, PressFeatures
from dyecast_inspect.press_features import bleed_variance, press_features, yellowing_density
from dyecast_inspect.trail import MeasuredPhoto
from dyecast_shared.cielab import lab_to_xyz

LIMITS = grading_limits()
SIZE = 64
DEVIATION = 0.02
"""Standard deviation of every parameter of the made-up fits."""


def grey_steps(*lightness: float) -> NDArray[np.float32]:
    """An artwork of upright grey stripes, XYZ D50."""
    stripes = np.repeat(np.array(lightness, np.float64), SIZE // len(lightness))
    lab = np.zeros((SIZE, len(stripes), 3))
    lab[..., 0] = stripes
    return np.asarray(lab_to_xyz(lab), np.float32)


ALL_TONES = grey_steps(90.0, 75.0, 50.0, 25.0)


def pressed(xyz: NDArray[np.float32], pressing: Pressing, *, slackening_to: float = 1.0) -> MeasuredPhoto:
    """A piece pressed exactly so, without noise; its share of ink may fall off downwards."""
    amounts = dye_amounts(bands_from_xyz(xyz))
    amounts *= np.linspace(1.0, slackening_to, SIZE, dtype=np.float32)[:, np.newaxis, np.newaxis]
    bands = pressed_bands(amounts, pressing)
    parameters = np.zeros(17)
    parameters[:3] = (
        np.log(pressing.magenta),
        np.log(pressing.cyan / pressing.magenta),
        np.log(pressing.yellow / pressing.magenta),
    )
    parameters[YELLOWING], parameters[VEIL.start], parameters[BLEED] = pressing.yellowing, 0.03, 0.04
    everywhere = np.ones(bands.shape[:2], bool)
    agreement = np.ones(bands.shape[:2], np.float32)
    fit = PressingFit(parameters, DEVIATION**2 * np.eye(17), bands, agreement, 0.01)
    explained = ExplainedPiece(bands, everywhere, everywhere, fit)
    correction = SimpleNamespace(leave_one_out_mean=1.0)
    return cast(MeasuredPhoto, SimpleNamespace(explained=explained, correction=correction, bleed=None))


def features_of(xyz: NDArray[np.float32], measured: MeasuredPhoto) -> PressFeatures:
    return press_features(measured, compare(measured.explained, xyz), LIMITS)


def evenly(fraction: float, yellowing: float = 0.0) -> Pressing:
    return Pressing(cyan=fraction, magenta=fraction, yellow=fraction, yellowing=yellowing)


@pytest.mark.parametrize("fraction", [0.4, 0.7, 1.0])
def test_the_share_of_ink_is_the_same_in_every_dye_and_tone_of_an_even_pressing(fraction: float) -> None:
    found = features_of(ALL_TONES, pressed(ALL_TONES, evenly(fraction)))
    assert found.transferred_fraction.value == pytest.approx(fraction)
    assert found.transferred_by_dye == pytest.approx(dict.fromkeys(("cyan", "magenta", "yellow"), fraction))
    assert found.transferred_by_tone == pytest.approx(
        dict.fromkeys(("highlights", "midtones", "shadows"), fraction), abs=0.01
    )
    assert found.unevenness == pytest.approx(0.0, abs=1e-3)


def test_a_dye_of_its_own_mind_is_named_and_the_share_is_the_mean() -> None:
    found = features_of(ALL_TONES, pressed(ALL_TONES, Pressing(0.9, 0.8, 0.4, 0.0)))
    assert found.transferred_by_dye == pytest.approx({"cyan": 0.9, "magenta": 0.8, "yellow": 0.4})
    assert found.transferred_fraction.value == pytest.approx(0.7)


def test_the_uncertainty_of_the_share_holds_the_fits_own_and_the_models() -> None:
    found = features_of(ALL_TONES, pressed(ALL_TONES, evenly(1.0)))
    expected = np.hypot(DEVIATION, LIMITS.fraction_uncertainty)
    assert found.transferred_fraction.uncertainty == pytest.approx(expected)


def test_tones_that_the_artwork_does_not_have_are_not_reported() -> None:
    pale = grey_steps(90.0, 88.0)
    assert set(features_of(pale, pressed(pale, evenly(1.0))).transferred_by_tone) == {"highlights"}


@pytest.mark.parametrize("end", [1.0, 0.8, 0.5])
def test_the_more_a_pressing_slackens_towards_one_side_the_more_uneven_it_is(end: float) -> None:
    found = features_of(ALL_TONES, pressed(ALL_TONES, evenly(1.0), slackening_to=end))
    tiles = np.linspace(1.0, end, 11)[1::2]
    spread = 1.4826 * float(np.median(np.abs(tiles - np.median(tiles))))
    assert found.unevenness == pytest.approx(spread, abs=0.015)


def test_yellowing_at_its_limit_is_the_b_star_that_the_limit_was_set_for() -> None:
    found = features_of(ALL_TONES, pressed(ALL_TONES, evenly(1.0, LIMITS.most_yellowing)))
    assert found.coating_yellowing.value == pytest.approx(2.6, abs=0.1)  # as grading_limits.json says
    none = features_of(ALL_TONES, pressed(ALL_TONES, evenly(1.0)))
    assert none.coating_yellowing.value == pytest.approx(0.0, abs=0.01)


def test_a_poor_card_makes_the_yellowing_less_certain() -> None:
    measured = pressed(ALL_TONES, evenly(1.0, 0.02))
    expected = np.hypot(DEVIATION, LIMITS.yellowing_uncertainty_per_delta_e * 1.0)
    assert yellowing_density(measured, LIMITS).value == pytest.approx(0.02)
    assert yellowing_density(measured, LIMITS).uncertainty == pytest.approx(expected)


def test_the_veil_is_the_fits() -> None:
    veil = features_of(ALL_TONES, pressed(ALL_TONES, evenly(1.0))).veil
    assert (veil.value, veil.uncertainty) == pytest.approx((0.03, DEVIATION))


def test_brown_darks_are_warm_and_an_artwork_without_darks_says_nothing_of_them() -> None:
    brown = Pressing(cyan=0.6, magenta=0.8, yellow=1.0, yellowing=0.0)
    assert features_of(ALL_TONES, pressed(ALL_TONES, brown)).warmth_of_darks.value > 3.0
    assert features_of(ALL_TONES, pressed(ALL_TONES, evenly(1.0))).warmth_of_darks.value == pytest.approx(
        0.0, abs=0.1
    )
    pale = grey_steps(90.0, 70.0)
    assert np.isnan(features_of(pale, pressed(pale, evenly(1.0))).warmth_of_darks.value)


def test_bleed_is_measured_on_detail_or_else_taken_from_the_fit() -> None:
    measured = pressed(ALL_TONES, evenly(1.0))
    assert bleed_variance(measured).value == pytest.approx(0.04)
    seen = Estimate(0.09, 0.01, "mm²")
    with_detail = cast(MeasuredPhoto, SimpleNamespace(explained=measured.explained, bleed=seen))
    assert bleed_variance(with_detail) is seen


def test_lost_detail_is_the_square_root_of_the_bleed_and_never_negative() -> None:
    measured = pressed(ALL_TONES, evenly(1.0))
    for variance, expected in ((0.09, 0.3), (-0.01, 0.0)):
        told = SimpleNamespace(
            explained=measured.explained,
            correction=measured.correction,
            bleed=Estimate(variance, 0.01, "mm²"),
        )
        loss = features_of(ALL_TONES, cast(MeasuredPhoto, told)).detail_loss
        assert loss.value == pytest.approx(expected)
        assert 0.0 < loss.uncertainty <= 0.1
