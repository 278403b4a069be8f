"""A soft light mirrored over half a piece: the photo is refused and the place named, a pale piece is not."""

import numpy as np
import pytest
from numpy.typing import NDArray

from dyecast_inspect.inspection import Inspection, Verdict
from dyecast_inspect.pipeline import inspect_photo
from dyecast_inspect.soft_glare import SoftGlare, line_lifts
from inspected_scenes import SeenPieces, piece_scene
from scenes.render import render, write_photo
from scenes.scene import GlareBlob


@pytest.fixture(scope="module")
def seen(tmp_path_factory: pytest.TempPathFactory) -> SeenPieces:
    return SeenPieces(tmp_path_factory.mktemp("soft glare"))


def inspected(seen: SeenPieces, side: str, strength: float) -> Inspection:
    """Inspect the good coaster with a soft light of a share of white mirrored over one half."""
    usual = piece_scene().piece
    assert usual is not None
    width, height = usual.width_mm, usual.height_mm
    blobs = {
        "left": GlareBlob(0.0, height / 2, width / 2, 1.5 * height, 0.0, strength),
        "right": GlareBlob(width, height / 2, width / 2, 1.5 * height, 0.0, strength),
        "bottom": GlareBlob(width / 2, height, 1.5 * width, height / 2, 0.0, strength),
    }
    path = seen.folder / f"{side}-{strength}.jpg"
    write_photo(path, render(piece_scene(glare=(blobs[side],)), 1))
    artwork = seen.artwork(path.stem, usual.artwork)
    return inspect_photo(path, artwork)


@pytest.mark.parametrize("side", ["left", "right", "bottom"])
def test_a_soft_light_over_half_a_good_piece_is_a_photo_to_take_again(seen: SeenPieces, side: str) -> None:
    inspection = inspected(seen, side, 0.25)
    assert inspection.verdict is Verdict.RETAKE
    assert inspection.reasons[0].code == "piece-hidden"
    assert side in inspection.reasons[0].sentence
    assert "dark card" in inspection.advice[0].sentence


@pytest.mark.parametrize("name", ["good", "under-pressed", "under-pressed, another light"])
def test_without_it_a_pale_piece_is_pale_and_a_good_one_good(seen: SeenPieces, name: str) -> None:
    assert seen[name].inspection.verdict is not Verdict.RETAKE


def line_lift(expected: NDArray[np.float64], seen: NDArray[np.float64]) -> tuple[float, float]:
    """Measure the lift of one tile, and its uncertainty."""
    lift, uncertainty = line_lifts(expected[np.newaxis], seen[np.newaxis], np.ones((1, expected.size)))
    return float(lift[0]), float(uncertainty[0])


def test_light_added_to_a_tile_is_measured_whatever_its_scatter() -> None:
    random = np.random.default_rng(1)
    expected = np.linspace(0.05, 0.8, 80)
    lift, uncertainty = line_lift(expected, expected + 0.1 + random.normal(0.0, 0.01, 80))
    assert lift == pytest.approx(0.1, abs=0.01)
    assert uncertainty < 0.02


def test_a_stain_on_a_tile_does_not_lift_it() -> None:
    expected = np.linspace(0.05, 0.8, 80)
    stained = expected.copy()
    stained[::10] = 1.5
    assert line_lift(expected, stained)[0] == pytest.approx(0.0, abs=0.01)


def test_a_tile_of_one_tone_is_uncertain_about_its_lift() -> None:
    flat = np.full(80, 0.6)
    varied = np.linspace(0.05, 0.8, 80)
    assert line_lift(flat, flat)[1] > 3 * line_lift(varied, varied)[1]


@pytest.mark.parametrize(
    ("glare", "is_seen"),
    [
        (SoftGlare(lift=0.12, step=0.2, fall_off=0.1, toward=(1.0, 0.0)), True),
        (SoftGlare(lift=0.06, step=0.02, fall_off=0.1, toward=(1.0, 0.0)), False),
        (SoftGlare(lift=0.02, step=0.2, fall_off=0.1, toward=(1.0, 0.0)), False),
        (SoftGlare(lift=0.0, step=0.0, fall_off=0.8, toward=(1.0, 0.0)), True),
    ],
    ids=["lift with a step", "odd tiles", "spots all over", "light that falls off as no lamp's does"],
)
def test_a_slope_needs_a_step_and_a_fall_off_needs_nothing_else(glare: SoftGlare, *, is_seen: bool) -> None:
    assert glare.seen is is_seen
