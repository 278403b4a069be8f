"""How pressing changes a picture, in optical density."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dyecast_calibration.pressing_model import (
    BANDS_TO_XYZ,
    Pressing,
    bands_from_xyz,
    dye_amounts,
    pressed_bands,
    xyz_from_bands,
)
from dyecast_calibration.pressing_prior import PressingPrior
from dyecast_shared.cielab import D50_WHITE

WHOLE = Pressing(1.0, 1.0, 1.0, 0.0)
lights = st.floats(0.02, 1.0)


def test_white_in_the_three_bands_is_the_white_of_d50() -> None:
    assert np.allclose(BANDS_TO_XYZ @ np.ones(3), D50_WHITE, atol=1e-4)


@given(lights, lights, lights)
def test_all_the_ink_gives_the_artwork_back(long: float, middle: float, short: float) -> None:
    bands = np.array([long, middle, short], np.float32)
    assert np.allclose(pressed_bands(dye_amounts(bands), WHOLE), bands, rtol=1e-4)
    assert np.allclose(bands_from_xyz(xyz_from_bands(bands)), bands, atol=1e-5)


@given(lights, st.floats(0.2, 1.0))
def test_density_is_multiplied_by_the_transferred_fraction(light: float, fraction: float) -> None:
    """Beer and Lambert's law: half the dye, half the density, so the square root of the light."""
    grey = np.full(3, light, np.float32)
    pressed = pressed_bands(dye_amounts(grey), Pressing(fraction, fraction, fraction, 0.0))
    assert np.allclose(pressed, light**fraction, rtol=1e-4)


def test_unprinted_coating_shows_the_yellowing_and_nothing_else() -> None:
    pale = pressed_bands(np.zeros(3), Pressing(0.3, 0.3, 0.3, 0.0))
    yellow = pressed_bands(np.zeros(3), Pressing(1.0, 1.0, 1.0, 0.1))
    assert np.allclose(pale, 1.0)
    assert yellow[2] == pytest.approx(10**-0.1, rel=1e-5)
    assert yellow[2] < yellow[1] < yellow[0] < 1.0


def test_a_poor_card_and_a_measured_bleed_change_what_is_believed() -> None:
    prior = PressingPrior()
    told = prior.informed(card_error=2.0, bleed=(0.09, 0.01))
    assert told.band_gain == pytest.approx(prior.band_gain + 2.0 * prior.band_gain_per_delta_e)
    assert (told.bleed, told.bleed_spread) == (0.09, 0.01)
    assert prior.informed(card_error=0.0, bleed=(-0.02, 0.01)).bleed == 0.0
    assert prior.informed(card_error=0.0, bleed=None).bleed_spread == prior.bleed_spread
