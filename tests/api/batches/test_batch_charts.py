"""Charts of a batch: a drift in a simulated morning is found and said; the picture says it without colour."""

from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as some

from api.batches.batch_shop import approved_batch, done, photo
from api.batches.mornings import morning
from dyecast_api.batches.batch_chart_svg import batch_chart_svg
from dyecast_api.batches.batch_charts import BatchCharts, batch_charts
from dyecast_api.batches.batch_series import from_photo_to_photo, measured
from dyecast_api.batches.batch_values import BatchState
from dyecast_api.batches.chart_drawing import WIDTH, chart_drawing
from dyecast_calibration.batch.drift import BatchState as ProcessState
from dyecast_calibration.batch.drift import Quantity

SVG = "{http://www.w3.org/2000/svg}"


def charts_of(pieces: int, **told: Any) -> BatchCharts:
    return batch_charts(*morning(pieces, **told))


def test_a_steady_morning_is_called_steady() -> None:
    charts = charts_of(40)
    assert charts.finding is not None
    assert charts.finding.state is ProcessState.STEADY
    assert charts.sentences == ("The process is steady: no chart shows a lasting move.",)


def test_a_slide_is_found_with_its_way_its_beginning_and_where_to_look() -> None:
    charts = charts_of(32, slide=-0.004, since=20)
    told = " ".join(charts.sentences)
    assert "The process has moved." in told
    assert "The share of the intended ink that arrives has fallen by" in told
    assert "look whether the pressure has fallen" in told
    assert charts.finding is not None
    ink = charts.finding.movements[0]
    assert ink.quantity is Quantity.TRANSFERRED_FRACTION
    assert ink.earliest_piece <= 20 <= ink.latest_piece


def test_good_first_pieces_do_not_signal_because_of_a_move_that_came_later() -> None:
    ink = charts_of(24, slide=-0.02, since=14).quantities[0]
    assert ink.ewma is not None
    assert ink.ewma.baseline.pieces < 20
    assert min(signal.piece_number for signal in ink.ewma.signals) > 14


def test_of_forty_steady_mornings_few_are_called_moved() -> None:
    states = [charts.finding.state for seed in range(40) if (charts := charts_of(30, seed=seed)).finding]
    assert len(states) == 40
    assert states.count(ProcessState.MOVED) <= 4  # 14 of 300 in the library's own simulation


def test_uncertainty_that_all_photos_share_does_not_hide_a_slide() -> None:
    batch, pieces = morning(32, slide=-0.004, since=20)
    unsure = [
        replace(piece, pressing=replace(piece.pressing, transferred_fraction_uncertainty=0.2))
        for piece in pieces
    ]
    finding = batch_charts(batch, unsure).finding
    assert finding is not None
    assert finding.state is ProcessState.MOVED


@given(
    some.lists(some.floats(0.5, 1.1), min_size=8, max_size=30),
    some.floats(0.001, 0.5),
)
def test_the_part_of_an_uncertainty_that_moves_pieces_is_no_larger_than_reported_or_than_the_scatter(
    values: list[float], own: float
) -> None:
    kept = from_photo_to_photo(values, [own] * len(values))
    steps = [abs(later - earlier) for earlier, later in pairwise(values[:20])]
    scatter = sum(steps) / len(steps) / 1.128
    assert all(one <= own * (1 + 1e-9) for one in kept)
    assert all(one <= scatter * (1 + 1e-9) + 1e-12 for one in kept)


def test_one_photo_that_is_less_sure_than_the_rest_stays_so() -> None:
    kept = from_photo_to_photo([0.95, 0.96] * 10, [0.03] * 19 + [0.09])
    assert kept[-1] == pytest.approx(3.0 * kept[0])


def test_before_the_first_piece_is_approved_nothing_is_charted() -> None:
    batch, pieces = morning(12)
    charts = batch_charts(replace(batch, state=BatchState.HELD), pieces)
    assert charts.quantities == ()
    assert "charts begin with the approved first piece" in charts.sentences[0]


@pytest.mark.parametrize("count", [1, 2, 7, 8, 30, 200])
def test_any_number_of_pieces_is_drawn_inside_the_picture(count: int) -> None:
    for charts in charts_of(count, slide=-0.01, since=15).quantities:
        drawing = chart_drawing(charts)
        places = [point for line in drawing.lines for point in line.points]
        places += [(marker.x, marker.y) for marker in drawing.markers]
        places += [(label.x, label.y) for label in drawing.labels]
        assert all(0.0 <= x <= WIDTH and 0.0 <= y <= drawing.height for x, y in places)


def test_pieces_that_read_exactly_the_same_are_drawn_without_limits() -> None:
    batch, pieces = morning(12, scatter=0.0)
    without = [
        replace(piece, pressing=replace(piece.pressing, delta_e_2000_first=1.0, veil=0.02))
        for piece in pieces
    ]
    differences = batch_charts(batch, without).quantities[1]
    assert differences.individuals is None
    assert "exactly the same" in differences.why_no_limits
    assert "exactly the same" in batch_chart_svg(differences)


def test_the_picture_is_named_described_and_marks_signals_by_shape_and_label() -> None:
    ink = charts_of(32, slide=-0.004, since=20).quantities[0]
    picture = ElementTree.fromstring(batch_chart_svg(ink))
    title, description = picture.findtext(f"{SVG}title"), picture.findtext(f"{SVG}desc")
    assert title == "Share of the intended ink, %"
    assert description is not None
    assert "Signals: 1 at piece" in description
    marks = picture.findall(f"{SVG}path[@class='mark']")
    labels = [element.text for element in picture.findall(f"{SVG}text[@class='signal']")]
    assert marks
    assert {"E"} <= set(labels)
    assert len(picture.findall(f"{SVG}polyline[@class='bar']")) == 32


def test_a_colour_difference_is_as_uncertain_as_its_photo_makes_it_in_one_direction() -> None:
    _, pieces = morning(12)
    assert measured(Quantity.DELTA_E_TO_FIRST_PIECE, pieces[3])[1] == pytest.approx(1.2 / 3**0.5)
    picture = ElementTree.fromstring(batch_chart_svg(charts_of(12).quantities[1]))
    assert len(picture.findall(f"{SVG}polyline[@class='bar']")) == 11


def test_a_morning_on_the_command_line_ends_in_the_sentence_and_a_page(shop: Path) -> None:
    approved_batch()
    _, pieces = morning(15, slide=-0.03, since=9)
    for piece in pieces[1:]:
        one = piece.pressing
        name = f"good-{one.transferred_fraction:.4f}-{one.delta_e_2000_first:.3f}-{one.veil:.4f}.jpg"
        told = done("batch", "add", "May", photo(name, 100 + piece.number))
    assert "The process has moved." in told
    assert "has fallen by" in done("batch", "show", "May", "--out", shop.parent / "page")
    page = (shop.parent / "page" / "batch.html").read_text()
    assert page.count("<svg ") == 5  # the wordmark and four quantities
    assert "data:image/jpeg;base64," in page
    assert "https://" not in page
    assert page.count('<th scope="row">') == 15
