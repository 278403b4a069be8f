"""Without an artwork: a piece that a person approved stands for it."""

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from dyecast_inspect.artwork_from_approved import NOTES, approved_artwork
from dyecast_inspect.inspection import Inspection, Reference
from dyecast_inspect.outline import ellipse
from dyecast_inspect.pipeline import inspect_photo
from dyecast_inspect.read_artwork import Artwork
from dyecast_shared.cielab import xyz_to_lab
from dyecast_shared.errors import PieceNotFound, Retake
from inspected_scenes import SeenPieces, piece_scene
from scenes.render import render, write_photo

ANOTHER_WAY: dict[str, Any] = {"tilt_deg": 14.0, "roll_deg": 40.0, "rotation_deg": 8.0, "exposure": 0.68}
"""The same table, photographed from elsewhere, the piece moved."""


@pytest.fixture(scope="module")
def approved(seen: SeenPieces) -> Artwork:
    return approved_artwork(seen["good"].path)


def inspected(folder: Path, approved: Artwork, dose: float) -> Inspection:
    write_photo(folder / "another.jpg", render(piece_scene(dose, **ANOTHER_WAY), 2))
    return inspect_photo(folder / "another.jpg", approved)


def test_the_same_piece_photographed_again_is_good(approved: Artwork, tmp_path: Path) -> None:
    inspection = inspected(tmp_path, approved, dose=1.0)
    assert inspection.verdict == "good"
    assert inspection.features is not None
    assert inspection.features.transferred_fraction.value == pytest.approx(1.0, abs=0.05)
    assert inspection.features.detail_loss.value < 0.2
    assert inspection.delta_e_2000 is not None
    assert inspection.delta_e_2000.mean < 1.8  # between two photos of one thing, lens and noise included


def test_a_paler_piece_is_under_pressed_against_the_approved_one(approved: Artwork, tmp_path: Path) -> None:
    inspection = inspected(tmp_path, approved, dose=0.6)
    assert inspection.verdict == "under-pressed"
    assert inspection.features is not None
    assert inspection.features.transferred_fraction.value == pytest.approx(0.6, abs=0.1)


def test_an_over_pressed_piece_is_known_by_what_the_approved_one_has_not(
    approved: Artwork, tmp_path: Path
) -> None:
    inspection = inspected(tmp_path, approved, dose=1.65)
    assert inspection.verdict == "over-pressed"
    assert inspection.features is not None
    assert inspection.features.coating_yellowing.value > 2.0


def test_the_result_says_what_it_was_compared_with(
    approved: Artwork, seen: SeenPieces, tmp_path: Path
) -> None:
    inspection = inspected(tmp_path, approved, dose=1.0)
    assert inspection.compared_with is Reference.APPROVED_PIECE
    assert inspection.artwork == seen["good"].path.name
    assert f"Approved piece: {NOTES[0]}" in inspection.notes
    assert seen["good"].inspection.compared_with is Reference.ARTWORK


def test_the_approved_piece_comes_upright_with_its_own_colours(approved: Artwork, seen: SeenPieces) -> None:
    height, width = approved.xyz.shape[:2]
    assert (height, width) == approved.size_px
    assert width / height == pytest.approx(1.0, abs=0.03)
    true = seen["good"].truth.reference_lab
    assert true is not None
    rows, columns = (np.linspace(0.3, 0.7, 5),) * 2
    found = xyz_to_lab(approved.xyz)
    at = [(r, c) for r in rows for c in columns]
    pairs = [
        (found[round(r * height), round(c * width)], true[round(r * len(true)), round(c * len(true[0]))])
        for r, c in at
    ]
    away = [float(np.linalg.norm(ours - theirs)) for ours, theirs in pairs]
    assert np.median(away) < 8.0  # another way up would be far off


def test_of_a_round_piece_only_the_round_face_counts(seen: SeenPieces) -> None:
    round_one = approved_artwork(seen["round"].path)
    assert round_one.opaque.mean() == pytest.approx(np.pi / 4, abs=0.02)
    assert not (round_one.opaque & ~ellipse(*round_one.opaque.shape)).any()


def test_glare_on_the_approved_piece_is_left_out(seen: SeenPieces) -> None:
    assert approved_artwork(seen["under a lamp"].path).opaque.mean() < 0.97


def test_another_piece_is_not_found(approved: Artwork, seen: SeenPieces) -> None:
    inspection = inspect_photo(seen["glare_over_piece"].path, approved)  # it shows tiles
    assert inspection.verdict == "retake"
    assert inspection.compared_with is Reference.APPROVED_PIECE


def test_a_photo_without_a_piece_cannot_stand_for_an_artwork(seen: SeenPieces) -> None:
    with pytest.raises(PieceNotFound, match="outline of a piece"):
        approved_artwork(seen["no_piece"].path)


@pytest.mark.parametrize("fault", ["blurred", "no_card", "piece_cut"])
def test_a_spoiled_photo_cannot_stand_for_an_artwork(seen: SeenPieces, fault: str) -> None:
    with pytest.raises(Retake):
        approved_artwork(seen[fault].path)
