"""An artwork without detail is found by the outline of its blank, and refused when the colours are others."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from dyecast_inspect.inspection import Inspection
from dyecast_inspect.piece_by_outline import LITTLE_DETAIL, OUTLINE_NOTE, detail
from dyecast_inspect.pipeline import inspect_photo
from dyecast_inspect.read_artwork import Artwork, read_artwork
from inspected_scenes import SeenPieces, piece_scene
from scenes.artworks import ARTWORKS, artwork
from scenes.render import Truth, render, write_photo
from scenes.scenarios import spoil
from scenes.scene import Scene

Pixels = NDArray[np.uint8]
BLUE = np.full((300, 300, 3), (40, 80, 170), np.uint8)
PINK = np.full((300, 300, 3), (230, 150, 180), np.uint8)
SHARE = np.linspace(0.0, 1.0, 300)[:, np.newaxis, np.newaxis]
DUSK = np.broadcast_to(
    np.rint((1 - SHARE) * (30, 60, 160) + SHARE * (240, 190, 90)), (300, 300, 3)
).astype(np.uint8)  # fmt: skip

Ask = Callable[[Scene, Pixels], tuple[Inspection, Truth]]


@pytest.fixture
def ask(tmp_path: Path) -> Ask:
    """Photograph a scene and inspect it against an artwork."""

    def asked(scene: Scene, pixels: Pixels) -> tuple[Inspection, Truth]:
        rendered = render(scene, 3)
        write_photo(tmp_path / "photo.jpg", rendered)
        return inspect_photo(tmp_path / "photo.jpg", read(tmp_path, pixels)), rendered.truth

    return asked


def read(folder: Path, pixels: Pixels) -> Artwork:
    Image.fromarray(pixels).save(folder / "artwork.png")
    return read_artwork(folder / "artwork.png")


def lying(pixels: Pixels, dose: float = 1.0, **changes: Any) -> Scene:
    return piece_scene(dose, artwork=pixels, table="wood", rotation_deg=12.0, **changes)


def worst_corner_mm(inspection: Inspection, truth: Truth) -> float:
    assert inspection.piece is not None
    assert truth.artwork_corners is not None
    away = np.linalg.norm(inspection.piece.corners_px - truth.artwork_corners, axis=1)
    return float(away.max()) / truth.pixels_per_mm


@pytest.mark.parametrize(("dose", "verdict"), [(1.0, "good"), (0.6, "under-pressed")])
@pytest.mark.parametrize("pixels", [BLUE, DUSK], ids=["one colour", "a gradient"])
def test_a_piece_without_detail_is_judged_where_its_outline_lies(
    ask: Ask, pixels: Pixels, dose: float, verdict: str
) -> None:
    inspection, truth = ask(lying(pixels, dose), pixels)
    assert inspection.verdict == verdict
    assert worst_corner_mm(inspection, truth) < 1.0
    assert OUTLINE_NOTE in inspection.notes
    check = next(check for check in inspection.checks if check.name == "outline-match")
    assert check.passed
    assert check.value >= check.limit


def test_a_gradient_lies_the_way_its_colours_run(ask: Ask) -> None:
    inspection, truth = ask(lying(DUSK).changed(rotation_deg=192.0), DUSK)
    assert worst_corner_mm(inspection, truth) < 1.0
    assert inspection.piece is not None
    assert not inspection.piece.mirrored


def test_a_print_within_a_white_border_is_found_by_the_border(ask: Ask) -> None:
    inspection, truth = ask(lying(BLUE, border_mm=5.0), BLUE)
    assert worst_corner_mm(inspection, truth) < 2.0


def test_a_piece_of_another_colour_is_not_the_artwork(ask: Ask) -> None:
    inspection, _ = ask(lying(BLUE), PINK)
    assert [reason.code for reason in inspection.reasons] == ["piece-not-found"]
    assert "not its colours" in inspection.reasons[0].sentence


@pytest.mark.parametrize("wanted", [BLUE, DUSK], ids=["one colour", "a gradient"])
def test_a_piece_with_a_picture_is_not_the_artwork_without_one(ask: Ask, wanted: Pixels) -> None:
    inspection, _ = ask(piece_scene(), wanted)
    assert [reason.code for reason in inspection.reasons] == ["piece-not-found"]


def test_a_piece_of_another_format_is_not_the_artwork(ask: Ask) -> None:
    inspection, _ = ask(lying(BLUE, width_mm=120.0, height_mm=80.0, x_mm=235.0), BLUE)
    assert [reason.code for reason in inspection.reasons] == ["piece-not-found"]


def test_an_empty_table_holds_no_piece_of_any_artwork(ask: Ask) -> None:
    inspection, _ = ask(spoil(lying(BLUE), "no_piece"), BLUE)
    assert [reason.code for reason in inspection.reasons] == ["piece-not-found"]


def test_a_piece_found_by_its_details_says_nothing_of_outlines(seen: SeenPieces) -> None:
    inspection = seen["good"].inspection
    assert OUTLINE_NOTE not in inspection.notes
    assert "outline-match" not in [check.name for check in inspection.checks]


def test_detail_tells_smooth_artworks_from_all_others(tmp_path: Path) -> None:
    assert detail(read(tmp_path, BLUE)) == 0.0
    assert detail(read(tmp_path, DUSK)) < LITTLE_DETAIL / 3
    assert detail(read(tmp_path, np.ascontiguousarray(BLUE[:64]))) == 0.0  # a strip
    for name in ARTWORKS:
        assert detail(read(tmp_path, artwork(name, 3, 300, 300))) > LITTLE_DETAIL
