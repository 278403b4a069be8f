"""Faults the scene maker draws: they repeat, act on the dye, and leave the rest alone."""

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from scenes.faults import (
    Banding,
    Bubbles,
    Fault,
    Ghost,
    Lint,
    OffCentre,
    Pale,
    Scratch,
    Speck,
    WrongSize,
    coverage_of,
    print_box,
    with_faults,
)
from scenes.faulty import FAULT_KINDS, faultless_scene, faulty_scene

PIXELS_PER_MM = 4.0
MARKS = [
    Lint(15.0, 10.0, 4.0, 0.5),
    Speck(15.0, 10.0, 1.5),
    Scratch(15.0, 10.0, 12.0, 0.5, 30.0),
    Bubbles(((15.0, 10.0, 1.5), (20.0, 10.0, 1.0))),
]


def inked(**_: Any) -> NDArray[np.float32]:
    """Even ink, 20 x 30 mm."""
    return np.ones((80, 120, 4), np.float32)


@pytest.mark.parametrize("mark", MARKS, ids=lambda mark: type(mark).__name__)
def test_a_mark_takes_dye_away_in_its_middle_and_nowhere_far(mark: Lint | Speck | Scratch | Bubbles) -> None:
    left = with_faults(inked(), (mark,), PIXELS_PER_MM)
    assert left[40, 60].max() < 0.8
    assert left[:20].min() == left[60:].min() == 1.0 or isinstance(mark, Scratch)
    assert left[0, 0].min() == 1.0


def test_a_mark_covers_its_area_even_when_it_is_thinner_than_a_pixel() -> None:
    speck, thin = Speck(15.0, 10.0, 2.0), Scratch(15.0, 10.0, 10.0, 0.2, 0.0)
    assert coverage_of(speck, (80, 120), PIXELS_PER_MM).sum() / 16 == pytest.approx(np.pi, rel=0.1)
    assert coverage_of(thin, (80, 120), PIXELS_PER_MM).sum() / 16 == pytest.approx(2.0, rel=0.3)


def test_a_ghost_adds_its_share_of_dye_at_its_distance() -> None:
    dot = np.zeros((80, 120, 4), np.float32)
    dot[40, 60] = 1.0
    ghosted = with_faults(dot, (Ghost(5.0, 90.0, 0.25),), PIXELS_PER_MM)
    assert ghosted[40, 60, 0] == pytest.approx(1.0)
    assert ghosted[60, 60, 0] == pytest.approx(0.25)
    assert ghosted.sum() == pytest.approx(1.25 * dot.sum())


def test_banding_takes_one_dye_only_and_repeats_with_its_period() -> None:
    banded = with_faults(inked(), (Banding(5.0, 0.3, dye=1),), PIXELS_PER_MM)
    assert banded[..., [0, 2, 3]].min() == 1.0
    profile = banded[:, 0, 1]
    assert profile.min() == pytest.approx(0.7, abs=0.01)
    assert profile[:60] == pytest.approx(profile[20:], abs=1e-5)


@pytest.mark.parametrize(
    ("where", "palest"),
    [("top left", (0, 0)), ("bottom right", (-1, -1)), ("left", (40, 0)), ("bottom", (-1, 60))],
)
def test_a_pale_place_is_palest_at_its_edge(where: Any, palest: tuple[int, int]) -> None:
    left = with_faults(inked(), (Pale(where, 8.0, 0.4),), PIXELS_PER_MM)[..., 0]
    assert left[palest] == left.min() == pytest.approx(0.6, abs=0.02)
    assert left[40, 60] == 1.0


def test_size_and_place_move_the_print_on_the_blank() -> None:
    assert print_box(100.0, 80.0, 10.0, ()) == (10.0, 10.0, 80.0, 60.0)
    assert print_box(100.0, 80.0, 10.0, (WrongSize(0.9),)) == pytest.approx((14.0, 13.0, 72.0, 54.0))
    assert print_box(100.0, 80.0, 10.0, (OffCentre(2.0, -3.0),)) == pytest.approx((12.0, 7.0, 80.0, 60.0))


@pytest.mark.parametrize("kind", [*FAULT_KINDS, "mirrored"])
def test_a_drawn_fault_is_the_same_for_the_same_seed_and_changes_nothing_else(kind: str) -> None:
    first, again, faultless = (
        faulty_scene(kind, 3).piece,
        faulty_scene(kind, 3).piece,
        faultless_scene(3).piece,
    )
    assert first is not None
    assert again is not None
    assert faultless is not None
    assert (first.faults, first.mirrored) == (again.faults, again.mirrored)
    assert (first.faults, first.mirrored) != (faultless.faults, faultless.mirrored)
    assert first.pressing == faultless.pressing
    assert (first.artwork == faultless.artwork).all()


def test_no_fault_leaves_the_dye_as_it_is() -> None:
    none: tuple[Fault, ...] = ()
    assert (with_faults(inked(), none, PIXELS_PER_MM) == inked()).all()
