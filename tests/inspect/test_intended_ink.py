"""The ink an artwork asks for, and what becomes of lines finer than a pixel."""

import numpy as np
import pytest
from numpy.typing import NDArray

from dyecast_calibration.pressing_model import Pressing, pressed_bands, xyz_from_bands
from dyecast_inspect.intended_ink import TIMES_FINER, intended_ink
from dyecast_inspect.read_artwork import Artwork

DARK = (0.5, 0.8, 0.3)
"""Amounts of cyan, magenta and yellow, density units."""


def artwork_of(amounts: NDArray[np.float64]) -> Artwork:
    xyz = xyz_from_bands(pressed_bands(amounts, Pressing(1.0, 1.0, 1.0, 0.0)))
    return Artwork("made.png", xyz, xyz, np.ones(amounts.shape[:2], bool), amounts.shape[:2])


def stripes() -> NDArray[np.float64]:
    """Dark lines one pixel wide on bare coating, 256 x 256."""
    amounts = np.zeros((256, 256, 3))
    amounts[::2] = DARK
    return amounts


def test_ink_is_known_finer_than_the_piece_is_seen() -> None:
    ink = intended_ink(artwork_of(stripes()), (30, 40))
    assert ink.amounts.shape == ink.mixed.shape == (30 * TIMES_FINER, 40 * TIMES_FINER, 3)


def test_a_solid_asks_for_the_same_ink_mixed_or_not() -> None:
    ink = intended_ink(artwork_of(np.full((64, 64, 3), DARK)), (16, 16))
    assert np.allclose(ink.amounts, DARK, atol=1e-3)
    assert np.allclose(ink.mixed, DARK, atol=1e-3)


def test_fine_lines_that_run_into_each_other_get_darker() -> None:
    """The mean of the densities lies above the density of the mean light: the logarithm is convex."""
    ink = intended_ink(artwork_of(stripes()), (32, 32))
    assert (ink.mixed.mean(axis=(0, 1)) > ink.amounts.mean(axis=(0, 1)) + 0.02).all()
    assert ink.mixed.mean(axis=(0, 1)) == pytest.approx(np.array(DARK) / 2, abs=1e-3)


def test_colours_that_dyes_can_show_have_their_full_say() -> None:
    ink = intended_ink(artwork_of(np.full((64, 64, 3), DARK)), (16, 16))
    assert ink.printable() == pytest.approx(np.ones((32, 32)), abs=0.01)


def test_a_colour_purer_than_any_dye_has_hardly_a_say() -> None:
    """More red light than the bare coating sends back, beside much magenta: less than no cyan."""
    artwork = artwork_of(np.full((64, 64, 3), (-0.05, 1.2, 0.4)))
    assert float(intended_ink(artwork, (16, 16)).printable().max()) < 0.05
