"""Faults as they are shown: in the document, numbered on the page, on the terminal, in one line."""

import json
from typing import Any

import jsonschema
import pytest
import typer

from api.inspections import good, retake
from dyecast_api.inspection_document import inspection_document, inspection_schema
from dyecast_api.inspection_text import inspection_line, inspection_text
from dyecast_api.print_size import check_aspect, print_size_mm
from dyecast_api.report_page import report_page
from dyecast_inspect.inspection import Fault, FaultSize, Inspection, Reason

CORNER = Fault(
    "uneven",
    "The upper left corner is pale.",
    0.97,
    ((0.0, 0.0), (0.4, 0.0), (0.0, 0.4)),
    (FaultSize("lack at the edge", 31.2, "%"),),
)
GHOST = Fault("ghosting", "A faint <second> print.", 0.9, ((0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)))


def faulty(**changes: Any) -> Inspection:
    usual: dict[str, Any] = {
        "faults": (CORNER, GHOST),
        "faults_not_judged": (Reason("border-not-seen", "Whether it is centred: no white border."),),
        "reasons": (Reason("faults-seen", "Good, but uneven and ghosted."),),
    }
    return good(**{**usual, **changes})


def test_the_document_holds_each_fault_with_place_size_and_certainty() -> None:
    document = json.loads(json.dumps(inspection_document(faulty())))
    jsonschema.validate(document, json.loads(inspection_schema()))
    corner = document["faults"][0]
    assert corner["code"] == "uneven"
    assert corner["where"] == "upper left corner"
    assert corner["place"] == [[0.0, 0.0], [0.4, 0.0], [0.0, 0.4]]
    assert corner["sizes"] == [{"name": "lack at the edge", "value": 31.2, "unit": "%"}]
    assert document["faults_not_judged"][0]["code"] == "border-not-seen"


def test_a_retake_tells_no_fault_of_the_piece() -> None:
    assert inspection_document(retake())["faults"] == []
    assert "Faults" not in report_page(retake())


def test_the_page_numbers_the_places_and_says_them_in_words() -> None:
    page = report_page(faulty()).replace("\u00a0", " ")
    assert "<h2>Faults</h2>" in page
    assert page.count('class="number"') == 2
    assert "The piece with its faults: 1 uneven press, upper left corner; 2 ghosting, everywhere." in page
    assert "lack at the edge 31.2 %" in page
    assert "<b>Good, but uneven and ghosted.</b>" in page


def test_a_part_of_the_piece_is_outlined_in_light_and_dark_and_the_whole_is_not() -> None:
    assert report_page(faulty(faults=(CORNER,))).count("<polygon class=") == 2
    assert "<polygon class=" not in report_page(faulty(faults=(GHOST,)))


def test_what_a_fault_says_is_escaped() -> None:
    assert "<second>" not in report_page(faulty())


def test_the_page_says_when_no_fault_was_seen_and_what_was_not_judged() -> None:
    page = report_page(faulty(faults=()))
    assert "None was seen." in page
    assert "Whether it is centred: no white border." in page


def test_the_terminal_tells_each_fault_with_its_certainty() -> None:
    text = inspection_text(faulty())
    assert "Fault: The upper left corner is pale. (97 % sure)" in text
    assert "Not judged: Whether it is centred" in text


def test_one_line_names_the_faults() -> None:
    assert "uneven press, ghosting" in inspection_line(faulty())
    assert "uneven" not in inspection_line(good())


@pytest.mark.parametrize(
    ("written", "size_mm"),
    [
        ("100x80", (100.0, 80.0)),
        ("100 x 80 mm", (100.0, 80.0)),
        ("10X8cm", (100.0, 80.0)),
        ("4x3in", (101.6, 76.2)),
        ("99.5×80", (99.5, 80.0)),
    ],
)
def test_a_print_size_is_read_in_millimetres(written: str, size_mm: tuple[float, float]) -> None:
    assert print_size_mm(written) == pytest.approx(size_mm)


@pytest.mark.parametrize("written", ["", "100", "100x", "axb", "1x1", "9000x10", "1.2.3x100", "100x80 miles"])
def test_what_is_no_print_size_is_refused(written: str) -> None:
    with pytest.raises(typer.BadParameter, match="100x80"):
        print_size_mm(written)


def test_a_print_size_of_another_aspect_than_the_artwork_is_refused() -> None:
    check_aspect((100.0, 80.0), (800, 1000))
    with pytest.raises(typer.BadParameter, match="stretched"):
        check_aspect((80.0, 100.0), (800, 1000))
