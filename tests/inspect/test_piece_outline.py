"""Things beside the card are found by their outline: where, of which shape, with or without a border."""

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from dyecast_calibration.card_layout import known_layouts
from dyecast_inspect.card_sighting import CardSighting
from dyecast_inspect.find_card import find_card
from dyecast_inspect.piece_outline import OutlineShape, PieceOutline, find_outlines
from dyecast_inspect.read_photo import read_photo
from dyecast_shared.geometry import apply_homography
from dyecast_shared.photo import Photo
from inspected_scenes import piece_scene, tiles_scene
from scenes.render import Truth, render, write_photo
from scenes.scenarios import spoil
from scenes.scene import Scene

CORNERS_MM = 2.0
"""The worst corner is off by no more than this; registration does the rest."""

ROUND: dict[str, Any] = {"shape": "round", "width_mm": 100.0, "height_mm": 100.0}


def photographed(scene: Scene, folder: Path) -> tuple[Photo, CardSighting, Truth]:
    rendered = render(scene, 1)
    path = folder / "scene.jpg"
    write_photo(path, rendered)
    photo = read_photo(path)
    return photo, find_card(photo, known_layouts()), rendered.truth


def true_corners_mm(card: CardSighting, photo: Photo, truth: Truth) -> NDArray[np.float64]:
    assert truth.artwork_corners is not None
    working = (truth.artwork_corners + 0.5) / photo.scale - 0.5
    return apply_homography(np.linalg.inv(card.card_to_photo), working)


def apart_mm(found: NDArray[np.float64], true: NDArray[np.float64]) -> float:
    return min(float(np.linalg.norm(np.roll(found, k, axis=0) - true, axis=1).max()) for k in range(4))


@pytest.mark.parametrize(
    "changes",
    [
        {"table": "wood", "rotation_deg": 12.0},
        {"table": "oak", "rotation_deg": -30.0, "tilt_deg": 20.0},
        {"table": "cloth", "shape": "rounded", "corner_radius_mm": 8.0},
        {"table": "dark", "width_mm": 120.0, "height_mm": 90.0, "x_mm": 225.0},
        {"table": "white", "rotation_deg": 5.0, "contact_shadow": 0.6},
        {"table": "laminate", "table_sheen": 0.15, "gradient": 0.2},
    ],
    ids=["wood", "oak", "cloth, rounded", "dark, oblong", "white, in its shadow", "laminate with sheen"],
)
def test_a_piece_is_the_likeliest_outline_on_any_table(changes: dict[str, Any], tmp_path: Path) -> None:
    photo, card, truth = photographed(piece_scene(**changes), tmp_path)
    first = find_outlines(photo, card)[0]
    assert first.shape is OutlineShape.RECTANGLE
    assert apart_mm(first.corners, true_corners_mm(card, photo, truth)) < CORNERS_MM


@pytest.mark.parametrize("table", ["oak", "dark", "laminate"])
def test_a_round_piece_is_told_from_a_square_one(table: str, tmp_path: Path) -> None:
    photo, card, truth = photographed(piece_scene(table=table, **ROUND), tmp_path)
    first = find_outlines(photo, card)[0]
    true = true_corners_mm(card, photo, truth)
    assert first.shape is OutlineShape.ROUND
    assert np.linalg.norm(first.corners.mean(axis=0) - true.mean(axis=0)) < 1.0
    assert np.linalg.norm(first.corners[1] - first.corners[0]) == pytest.approx(100.0, abs=2.0)
    assert first.corners[0, 1] == pytest.approx(first.corners[1, 1])  # its square lies in the card's axes


def test_a_white_border_within_the_outline_is_measured(tmp_path: Path) -> None:
    photo, card, truth = photographed(piece_scene(border_mm=5.0, table="wood"), tmp_path)
    first = find_outlines(photo, card)[0]
    assert first.border_mm == pytest.approx(5.0, abs=1.0)
    printed = first.inset(first.border_mm)
    assert apart_mm(printed, true_corners_mm(card, photo, truth)) < CORNERS_MM


def test_a_print_that_reaches_the_edge_has_no_border(tmp_path: Path) -> None:
    photo, card, _ = photographed(tiles_scene(), tmp_path)
    assert find_outlines(photo, card)[0].border_mm == 0.0


@pytest.mark.parametrize("table", ["wood", "oak", "cloth", "laminate", "dark", "white"])
def test_a_bare_table_has_no_likely_outline(table: str, tmp_path: Path) -> None:
    photo, card, _ = photographed(spoil(piece_scene(table=table), "no_piece"), tmp_path)
    assert all(outline.score < 0.35 for outline in find_outlines(photo, card))


def test_outlines_come_likeliest_first_and_clockwise(tmp_path: Path) -> None:
    photo, card, _ = photographed(piece_scene(table="cloth"), tmp_path)
    outlines = find_outlines(photo, card)
    assert [outline.score for outline in outlines] == sorted((o.score for o in outlines), reverse=True)
    for outline in outlines:
        (x1, y1), (x2, y2) = outline.corners[1] - outline.corners[0], outline.corners[2] - outline.corners[1]
        assert x1 * y2 - y1 * x2 > 0


def test_an_inset_moves_every_side_by_as_much() -> None:
    outline = PieceOutline(np.array([[0.0, 0], [80, 0], [80, 50], [0, 50]]), OutlineShape.RECTANGLE, 0.0, 1.0)
    assert outline.inset(4.0).tolist() == [[4, 4], [76, 4], [76, 46], [4, 46]]
