"""The card as a PDF: read back with PDFium, it has its exact size, and its markers can be read."""

import ctypes
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import date
from pathlib import Path

import cv2
import numpy as np
import pypdfium2 as pdfium
import pypdfium2.raw as pdfium_raw
import pytest
from numpy.typing import NDArray

from dyecast_calibration.card_layout import CardLayout, known_layouts, layout_named
from dyecast_calibration.card_pdf import Page, draw_card_pdf
from dyecast_shared.errors import BadInput, OutputFailed

TODAY = date(2026, 3, 14)
MM_PER_POINT = 25.4 / 72
BOTH = pytest.mark.parametrize("layout", known_layouts(), ids=lambda layout: layout.name)

DrawnPath = tuple[bool, NDArray[np.float64]]
"""Whether a path is stroked, and its points (N, 2) in mm from the page's lower left corner."""


@contextmanager
def only_page(path: Path) -> Iterator[pdfium.PdfPage]:
    document = pdfium.PdfDocument(path)
    assert len(document) == 1
    page = document[0]
    try:
        yield page
    finally:
        page.close()
        document.close()


def paths_of(page: pdfium.PdfPage) -> list[DrawnPath]:
    """Return every path of the page with its own matrix applied."""
    found: list[DrawnPath] = []
    for item in page.get_objects(filter=[pdfium_raw.FPDF_PAGEOBJ_PATH]):
        a, b, c, d, e, f = item.get_matrix().get()
        points = []
        for index in range(pdfium_raw.FPDFPath_CountSegments(item)):
            x, y = ctypes.c_float(), ctypes.c_float()
            segment = pdfium_raw.FPDFPath_GetPathSegment(item, index)
            assert pdfium_raw.FPDFPathSegment_GetPoint(segment, x, y)
            points.append((a * x.value + c * y.value + e, b * x.value + d * y.value + f))
        fill, stroke = ctypes.c_int(), ctypes.c_int()
        assert pdfium_raw.FPDFPath_GetDrawMode(item, fill, stroke)
        found.append((bool(stroke.value), np.array(points) * MM_PER_POINT))
    return found


def crop_marks(page: pdfium.PdfPage) -> list[NDArray[np.float64]]:
    return [points for stroked, points in paths_of(page) if stroked]


def rectangles(page: pdfium.PdfPage) -> NDArray[np.float64]:
    """Return left, bottom, width, height in mm of every filled single rectangle."""
    shapes = [points for stroked, points in paths_of(page) if not stroked and len(points) <= 5]
    return np.array([[*points.min(axis=0), *np.ptp(points, axis=0)] for points in shapes])


def rendered_card(path: Path, layout: CardLayout, dpi: float) -> NDArray[np.uint8]:
    """Rasterise the page and cut the card out along its TrimBox, to the nearest pixel."""
    with only_page(path) as page:
        bitmap = page.render(scale=dpi / 72, rev_byteorder=True)
        pixels = np.array(bitmap.to_numpy()[..., :3], dtype=np.uint8)
        left, _, _, top = page.get_trimbox()
        height = page.get_height()
        bitmap.close()
    x, y = round(left * dpi / 72), round((height - top) * dpi / 72)
    width, tall = round(layout.width * dpi / 25.4), round(layout.height * dpi / 25.4)
    return pixels[y : y + tall, x : x + width]


def found_markers(pixels: NDArray[np.uint8], dictionary: str) -> dict[int, NDArray[np.float64]]:
    parameters = cv2.aruco.DetectorParameters()
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    detector = cv2.aruco.ArucoDetector(
        cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, dictionary)), parameters
    )
    corners, ids, _ = detector.detectMarkers(np.ascontiguousarray(pixels))
    names = [] if ids is None else [int(name) for name in ids.ravel()]
    return {name: quad[0].astype(np.float64) + 0.5 for name, quad in zip(names, corners, strict=True)}


@pytest.mark.parametrize(("name", "width", "height"), [("a6", 148.0, 105.0), ("pocket", 85.60, 54.0)])
def test_the_crop_marks_enclose_the_card_s_exact_size(
    tmp_path: Path, name: str, width: float, height: float
) -> None:
    """ISO 216: A6 is 148 × 105 mm; ISO/IEC 7810: ID-1 is 85.60 mm wide."""
    draw_card_pdf(layout_named(name), tmp_path / "card.pdf", printed_on=TODAY)
    with only_page(tmp_path / "card.pdf") as page:
        marks = crop_marks(page)
        trim = np.array(page.get_trimbox()) * MM_PER_POINT
    upright = sorted({round(float(mark[0, 0]), 3) for mark in marks if np.ptp(mark[:, 0]) < 1e-3})
    level = sorted({round(float(mark[0, 1]), 3) for mark in marks if np.ptp(mark[:, 1]) < 1e-3})
    assert len(marks) == 8
    assert upright[-1] - upright[0] == pytest.approx(width, abs=0.01)
    assert level[-1] - level[0] == pytest.approx(height, abs=0.01)
    assert trim == pytest.approx([upright[0], level[0], upright[-1], level[-1]], abs=0.01)


def test_crop_marks_stay_two_millimetres_off_the_card(tmp_path: Path) -> None:
    draw_card_pdf(layout_named("a6"), tmp_path / "card.pdf", printed_on=TODAY)
    with only_page(tmp_path / "card.pdf") as page:
        left, bottom, right, top = np.array(page.get_trimbox()) * MM_PER_POINT
        for mark in crop_marks(page):
            outside = np.maximum(
                np.array([left, bottom]) - mark.max(axis=0), mark.min(axis=0) - np.array([right, top])
            )
            assert outside.max() == pytest.approx(2.0, abs=0.01)


@BOTH
def test_the_ruler_is_fifty_millimetres_long(tmp_path: Path, layout: CardLayout) -> None:
    draw_card_pdf(layout, tmp_path / "card.pdf", printed_on=TODAY)
    with only_page(tmp_path / "card.pdf") as page:
        boxes = rectangles(page)
    ticks = boxes[np.isclose(boxes[:, 2], 0.25, atol=0.01)]
    ends = ticks[np.isclose(ticks[:, 3], 3.0, atol=0.01)]
    middles = ends[:, 0] + ends[:, 2] / 2
    assert len(ticks) == 6
    assert len(ends) == 2
    assert np.ptp(middles) == pytest.approx(50.0, abs=0.01)


@BOTH
def test_every_patch_stands_where_the_layout_says(tmp_path: Path, layout: CardLayout) -> None:
    draw_card_pdf(layout, tmp_path / "card.pdf", printed_on=TODAY)
    with only_page(tmp_path / "card.pdf") as page:
        boxes = rectangles(page)
        left, _, _, top = np.array(page.get_trimbox()) * MM_PER_POINT
    for patch in layout.patches:
        expected = [left + patch.x, top - patch.y - patch.height, patch.width, patch.height]
        assert np.abs(boxes - expected).max(axis=1).min() < 0.01


@BOTH
def test_opencv_reads_the_markers_of_the_page_at_300_dpi(tmp_path: Path, layout: CardLayout) -> None:
    draw_card_pdf(layout, tmp_path / "card.pdf", printed_on=TODAY)
    found = found_markers(rendered_card(tmp_path / "card.pdf", layout, 300), layout.marker_dictionary)
    assert set(found) == layout.marker_ids()
    for marker in layout.markers:
        assert np.abs(found[marker.id] * 25.4 / 300 - np.array(marker.corners())).max() < 0.1


@BOTH
def test_the_mirrored_page_reads_right_once_flipped_as_pressing_does(
    tmp_path: Path, layout: CardLayout
) -> None:
    draw_card_pdf(layout, tmp_path / "card.pdf", mirrored=True, printed_on=TODAY)
    page = rendered_card(tmp_path / "card.pdf", layout, 300)
    assert not found_markers(page, layout.marker_dictionary)
    found = found_markers(page[:, ::-1], layout.marker_dictionary)
    assert set(found) == layout.marker_ids()
    for marker in layout.markers:
        assert np.abs(found[marker.id] * 25.4 / 300 - np.array(marker.corners())).max() < 0.1


@BOTH
def test_the_patches_have_exactly_the_layout_s_code_values(tmp_path: Path, layout: CardLayout) -> None:
    draw_card_pdf(layout, tmp_path / "card.pdf", printed_on=TODAY)
    pixels = rendered_card(tmp_path / "card.pdf", layout, 150)
    for patch in layout.patches:
        row, column = (patch.y + patch.height / 2) * 150 / 25.4, (patch.x + patch.width / 2) * 150 / 25.4
        assert tuple(pixels[int(row), int(column)]) == patch.srgb


@BOTH
def test_the_page_says_how_to_print_and_which_card_it_is(tmp_path: Path, layout: CardLayout) -> None:
    draw_card_pdf(layout, tmp_path / "card.pdf", mirrored=True, printed_on=TODAY)
    with only_page(tmp_path / "card.pdf") as page:
        text = page.get_textpage()
        words = text.get_text_bounded()
        text.close()
    assert "Measure this line: 50 mm. If it is not, print again at 100 %." in words
    assert f"dyecast reference card {layout.name} · edition 1 · printed 2026-03-14" in words
    assert f"{layout.width:g} × {layout.height:g} mm, cut along the crop marks" in words
    assert "Mirrored for transfer" in words


def test_the_viewer_is_asked_not_to_scale_and_no_picture_is_embedded(tmp_path: Path) -> None:
    draw_card_pdf(layout_named("a6"), tmp_path / "card.pdf", printed_on=TODAY)
    content = (tmp_path / "card.pdf").read_bytes()
    assert b"/PrintScaling /None" in content
    assert b"/XObject" not in content
    assert b"DCTDecode" not in content
    document = pdfium.PdfDocument(content)
    assert not pdfium_raw.FPDF_VIEWERREF_GetPrintScaling(document)
    document.close()


@pytest.mark.parametrize(
    ("name", "page", "size"),
    [
        ("a6", Page.A4, (210.0, 297.0)),
        ("a6", Page.LETTER, (215.9, 279.4)),
        ("a6", Page.A5, (210.0, 148.0)),
        ("pocket", Page.A5, (148.0, 210.0)),
    ],
)
def test_the_page_is_a_standard_sheet_turned_if_the_card_needs_it(
    tmp_path: Path, name: str, page: Page, size: tuple[float, float]
) -> None:
    """ISO 216: A4 is 210 × 297, A5 148 × 210 mm. US Letter is 8.5 × 11 inch."""
    draw_card_pdf(layout_named(name), tmp_path / "card.pdf", printed_on=TODAY, page=page)
    with only_page(tmp_path / "card.pdf") as sheet:
        assert np.array(sheet.get_size()) * MM_PER_POINT == pytest.approx(size, abs=0.01)
        points = np.concatenate([points for _, points in paths_of(sheet)])
    assert points.min() > 3.0
    assert (points < np.array(size) - 3.0).all()


def test_a_page_too_small_for_the_card_is_refused(tmp_path: Path) -> None:
    large = replace(layout_named("a6"), width=250.0, height=190.0)
    with pytest.raises(BadInput, match=r"Card a6 \(250 × 190 mm\).*A5 paper. Choose a larger page"):
        draw_card_pdf(large, tmp_path / "card.pdf", printed_on=TODAY, page=Page.A5)
    assert list(tmp_path.iterdir()) == []


def test_the_same_card_and_date_give_the_same_bytes(tmp_path: Path) -> None:
    for name in ("one.pdf", "two.pdf"):
        draw_card_pdf(layout_named("pocket"), tmp_path / name, printed_on=TODAY)
    assert (tmp_path / "one.pdf").read_bytes() == (tmp_path / "two.pdf").read_bytes()


def test_a_page_that_cannot_be_written_leaves_nothing_behind(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Neither a missing folder nor a disk that fills up at the last moment harms what is there."""
    with pytest.raises(OutputFailed, match=r"card\.pdf"):
        draw_card_pdf(layout_named("a6"), tmp_path / "missing" / "card.pdf", printed_on=TODAY)
    kept = tmp_path / "card.pdf"
    kept.write_bytes(b"the card printed last week")

    def disk_full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", disk_full)
    with pytest.raises(OutputFailed, match="No space left on device"):
        draw_card_pdf(layout_named("a6"), kept, printed_on=TODAY)
    assert kept.read_bytes() == b"the card printed last week"
    assert list(tmp_path.iterdir()) == [kept]
