"""The card as a picture: the right size, every edge where the layout says, markers that can be read."""

from dataclasses import replace
from datetime import date
from pathlib import Path

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from dyecast_calibration.card_drawing import card_drawing, marker_cells
from dyecast_calibration.card_labels import card_labels, measured_boxes
from dyecast_calibration.card_layout import CardLayout, known_layouts, layout_named
from dyecast_calibration.card_png import draw_card_png, write_card_png
from dyecast_shared.errors import BadInput, OutputFailed

TODAY = date(2026, 3, 14)
BOTH = pytest.mark.parametrize("layout", known_layouts(), ids=lambda layout: layout.name)
RESOLUTIONS = pytest.mark.parametrize("dpi", [100.0, 300.0, 406.4])


def found_markers(pixels: NDArray[np.uint8], dictionary: str) -> dict[int, NDArray[np.float64]]:
    """Read the markers with OpenCV's detector: corners by id, in pixels, edges (not centres) whole."""
    parameters = cv2.aruco.DetectorParameters()
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    detector = cv2.aruco.ArucoDetector(
        cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, dictionary)), parameters
    )
    corners, ids, _ = detector.detectMarkers(np.ascontiguousarray(pixels))
    names = [] if ids is None else [int(name) for name in ids.ravel()]
    return {name: quad[0].astype(np.float64) + 0.5 for name, quad in zip(names, corners, strict=True)}


@BOTH
@RESOLUTIONS
def test_opencv_reads_every_marker_where_the_layout_says(layout: CardLayout, dpi: float) -> None:
    found = found_markers(draw_card_png(layout, dpi, printed_on=TODAY), layout.marker_dictionary)
    assert set(found) == layout.marker_ids()
    half_a_pixel = 25.4 / dpi / 2
    for marker in layout.markers:
        places_mm = found[marker.id] * 25.4 / dpi
        assert np.abs(places_mm - np.array(marker.corners())).max() < max(0.05, half_a_pixel)


@BOTH
@RESOLUTIONS
def test_every_patch_is_filled_to_its_edges_and_not_beyond(layout: CardLayout, dpi: float) -> None:
    pixels, scale = draw_card_png(layout, dpi, printed_on=TODAY), dpi / 25.4
    for patch in layout.patches:
        left, right = patch.x * scale, (patch.x + patch.width) * scale
        top, bottom = patch.y * scale, (patch.y + patch.height) * scale
        inside = pixels[int(np.ceil(top)) : int(np.floor(bottom)), int(np.ceil(left)) : int(np.floor(right))]
        assert (inside == patch.srgb).all()
        row = pixels[round((top + bottom) / 2), int(left) - 2 : int(np.ceil(right)) + 2].astype(float)
        darkened = (255.0 - row).sum(axis=0)
        expected = (255.0 - np.array(patch.srgb)) * patch.width * scale
        assert darkened == pytest.approx(expected, abs=1.1)


@BOTH
def test_the_white_areas_and_the_margins_of_the_markers_stay_white(layout: CardLayout) -> None:
    pixels, scale = draw_card_png(layout, 300.0, printed_on=TODAY), 300.0 / 25.4
    for area in layout.white_areas:
        rows = slice(int(area.y * scale), int((area.y + area.height) * scale))
        columns = slice(int(area.x * scale), int((area.x + area.width) * scale))
        assert (pixels[rows, columns] == 255).all()
    covered = np.zeros(pixels.shape[:2], dtype=bool)
    for marker in layout.markers:
        cell = marker.size / 7
        for grown, inside in ((cell, True), (0.1, False)):
            start = np.array([marker.y - grown, marker.x - grown]) * scale
            end = np.array([marker.y + marker.size + grown, marker.x + marker.size + grown]) * scale
            covered[int(start[0]) : int(end[0]), int(start[1]) : int(end[1])] = inside
    assert (pixels[covered] == 255).all()


@pytest.mark.parametrize(
    ("name", "dpi", "size"),
    [
        ("a6", 300.0, (1748, 1240)),
        ("a6", 406.4, (2368, 1680)),
        ("a6", 100.0, (583, 413)),
        ("pocket", 300.0, (1011, 638)),
        ("pocket", 406.4, (1370, 864)),
    ],
)
def test_the_picture_has_the_card_s_size_in_whole_pixels(
    name: str, dpi: float, size: tuple[int, int]
) -> None:
    """A6 at 300 dpi is 1748 × 1240 pixels, the figure every table of paper sizes gives."""
    pixels = draw_card_png(layout_named(name), dpi, printed_on=TODAY)
    assert pixels.shape == (size[1], size[0], 3)
    assert pixels.dtype == np.uint8


@BOTH
def test_mirrored_is_the_whole_card_flipped_and_its_markers_cannot_be_read(layout: CardLayout) -> None:
    plain = draw_card_png(layout, 200.0, printed_on=TODAY)
    mirrored = draw_card_png(layout, 200.0, mirrored=True, printed_on=TODAY)
    assert np.array_equal(mirrored[:, ::-1], plain)
    assert not found_markers(mirrored, layout.marker_dictionary)


@BOTH
def test_the_card_says_its_name_edition_and_print_date(layout: CardLayout) -> None:
    texts = [label.text for label in card_labels(layout, TODAY)]
    assert f"dyecast reference card {layout.name} · edition 1 · printed 2026-03-14" in texts
    assert "Measure this line: 50 mm. If it is not, print again at 100 %." in texts
    later = draw_card_png(layout, 200.0, printed_on=date(2026, 3, 15))
    assert not np.array_equal(later, draw_card_png(layout, 200.0, printed_on=TODAY))


@BOTH
def test_no_text_comes_near_anything_that_is_measured_or_other_text(layout: CardLayout) -> None:
    boxes = [label.box for label in card_labels(layout, TODAY)]
    taken = measured_boxes(layout)
    for index, box in enumerate(boxes):
        assert box[0] > 0
        assert box[1] > 1
        assert box[2] < layout.width
        assert box[3] < layout.height - 1
        for other in taken + boxes[index + 1 :]:
            assert box[2] <= other[0] or other[2] <= box[0] or box[3] <= other[1] or other[3] <= box[1]


def test_a_card_without_room_for_text_gets_none() -> None:
    pocket = layout_named("pocket")
    crowded = replace(
        pocket, ruler=None, patches=(replace(pocket.patches[0], x=13.0, y=0.5, width=59.6, height=53.0),)
    )
    assert card_labels(crowded, TODAY) == ()
    assert draw_card_png(crowded, 100.0, printed_on=TODAY).shape[2] == 3


def test_the_ruler_s_ticks_stand_ten_millimetres_apart() -> None:
    layout = layout_named("a6")
    ruler = layout.ruler
    assert ruler is not None
    drawing = card_drawing(layout, TODAY)
    line, *ticks = drawing.rectangles[len(layout.patches) :]
    middles = sorted(tick.x + tick.width / 2 for tick in ticks)
    assert middles == pytest.approx([ruler.x + step for step in (0, 10, 20, 30, 40, 50)])
    assert line.width == pytest.approx(50.0, abs=0.3)


def test_marker_cells_are_those_of_the_dictionary() -> None:
    """The sum of white cells inside the border is the number of ones in OpenCV's table of bits."""
    layout = layout_named("a6")
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_5X5_100)
    for marker in layout.markers:
        cells = np.array(marker_cells(marker, layout.marker_dictionary).white)
        bits = cv2.aruco.Dictionary.getBitsFromByteList(dictionary.bytesList[marker.id : marker.id + 1], 5)
        assert np.array_equal(cells[1:-1, 1:-1], bits.astype(bool))
        assert not cells[0].any()
        assert not cells[:, -1].any()


def test_the_file_says_its_resolution_and_that_it_is_srgb(tmp_path: Path) -> None:
    path = tmp_path / "card.png"
    write_card_png(path, layout_named("pocket"), 300.0, printed_on=TODAY)
    with Image.open(path) as picture:
        assert picture.info["dpi"] == pytest.approx((300.0, 300.0), abs=0.02)
        assert picture.info["srgb"] == 0
        drawn = draw_card_png(layout_named("pocket"), 300.0, printed_on=TODAY)
        assert np.array_equal(np.asarray(picture), drawn)


@pytest.mark.parametrize("dpi", [0.0, -300.0, 49.0, 1e5, float("nan"), float("inf")])
def test_a_resolution_out_of_range_is_refused(dpi: float) -> None:
    with pytest.raises(BadInput, match="between 50 and 1200 dpi"):
        draw_card_png(layout_named("a6"), dpi, printed_on=TODAY)


def test_a_picture_that_cannot_be_written_leaves_nothing_behind(tmp_path: Path) -> None:
    with pytest.raises(OutputFailed, match=r"card\.png"):
        write_card_png(tmp_path / "missing" / "card.png", layout_named("pocket"), 100.0, printed_on=TODAY)
    assert list(tmp_path.iterdir()) == []
