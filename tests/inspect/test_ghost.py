"""A second print: its dye as a share of the first's, and the ink of both together."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from dyecast_inspect.faults.ghost import Ghost, beside_ghost, ghost_share, light_of_both, printed_twice
from dyecast_inspect.faults.print_residual import PrintResidual
from dyecast_inspect.faults.robust_shares import robust_shares
from dyecast_inspect.intended_ink import IntendedInk

Image = NDArray[np.float32]
PIXELS_PER_MM = 2.0


def pattern() -> Image:
    """Return densities without any likeness to themselves, (80, 120, 3)."""
    coarse = np.random.default_rng(1).uniform(0.0, 1.0, (20, 30, 3)).astype(np.float32)
    return coarse.repeat(4, axis=0).repeat(4, axis=1)


def moved(picture: Image, right_px: int, down_px: int) -> Image:
    """Move a picture by whole pixels; nothing comes in from outside."""
    padded = np.zeros_like(picture)
    padded[down_px:, right_px:] = picture[: picture.shape[0] - down_px, : picture.shape[1] - right_px]
    return padded


def residual(extra: Image) -> PrintResidual:
    ink = pattern()
    return PrintResidual(extra, np.ones_like(ink), ink, ink, PIXELS_PER_MM)


@pytest.mark.parametrize("share", [0.1, 0.25, 0.4])
def test_the_share_of_a_ghost_is_found_whatever_the_fit_made_of_its_mean(share: float) -> None:
    first, fitted_too_high = pattern() * np.float32(1 / 1.2), np.float32(0.2 / 1.2)
    extra = np.float32(share) * moved(first, 6, 4) - fitted_too_high * pattern()
    assert ghost_share(residual(extra), 3.0, 2.0) == pytest.approx(share, abs=0.01)


def test_what_a_ghost_explains_is_no_longer_a_departure() -> None:
    lines = np.zeros_like(pattern())
    lines[::8] = 0.05
    ghosted = np.float32(0.3) * moved(pattern(), 6, 4) - np.float32(0.2) * pattern()
    left = beside_ghost(residual(ghosted + lines), Ghost(3.0, 2.0, 0.3)).density
    assert left == pytest.approx(lines, abs=0.02)


def test_without_a_ghost_its_share_is_nothing() -> None:
    noise = np.random.default_rng(2).normal(scale=0.01, size=pattern().shape).astype(np.float32)
    assert ghost_share(residual(noise), 3.0, 2.0) == pytest.approx(0.0, abs=0.01)


def test_ink_printed_twice_is_the_first_and_a_share_of_it_moved() -> None:
    ink = IntendedInk(pattern(), np.float32(0.5) * pattern())
    both = printed_twice(ink, Ghost(3.0, 2.0, 0.3), PIXELS_PER_MM)
    expected = pattern() + np.float32(0.3) * moved(pattern(), 6, 4)
    assert both.amounts == pytest.approx(expected, abs=1e-5)
    assert both.mixed == pytest.approx(expected / 2, abs=1e-5)


def test_light_through_both_prints_is_as_dense_as_both_together() -> None:
    light = np.power(np.float32(10.0), -pattern())
    both = light_of_both(light, Ghost(3.0, 2.0, 0.3), PIXELS_PER_MM)
    density = pattern() + np.float32(0.3) * moved(pattern(), 6, 4)
    assert -np.log10(both) == pytest.approx(density, abs=1e-4)


@given(st.lists(st.floats(-2.0, 2.0), min_size=1, max_size=4))
def test_shares_are_found_beside_places_that_are_spoilt(shares: list[float]) -> None:
    random = np.random.default_rng(4)
    terms = random.normal(size=(len(shares), 2000)).astype(np.float32)
    values = (np.array(shares, np.float32) @ terms + random.normal(scale=0.01, size=2000)).astype(np.float32)
    values[::20] += 50.0
    found, limit = robust_shares(terms, values, np.ones(2000, np.float32))
    assert found == pytest.approx(shares, abs=0.02)
    assert found.dtype == np.float32
    assert limit > 0.0
