"""`dyecast worth`: lost blanks, their cost, and first-piece yield, counted by hand beside each check."""

import csv
import io
from pathlib import Path
from xml.etree import ElementTree

import pytest

from api.batches.batch_shop import done, photo, refused, start

NOTEBOOK = """pressed_at,recipe,grade,judged_by,lost
2026-04-10T08:00Z,coasters,under,Kim,yes
2026-04-10T09:00Z,coasters,good,Kim,
2026-04-11T08:00Z,coasters,good,Kim,
2026-05-02T08:00Z,coasters,good,Kim,
2026-05-02T08:10Z,coasters,over,Kim,yes
2026-05-02T08:20Z,tiles,over,Kim,yes
"""
"""Runs: 10 April (its first is pale), 11 April (good), 2 May coasters (good), 2 May tiles (over)."""


@pytest.fixture(autouse=True)
def notebook(shop: Path) -> Path:
    tile = ("--material", "ceramic", "--thickness", "8mm")
    done("press", "add-blank", "tile", *tile)
    settings = ("--temperature", "400F", "--time", "420s")
    done("press", "add-recipe", "tiles", "--press", "front", "--blank", "tile", *settings)
    Path("notebook.csv").write_text(NOTEBOOK)
    done("press", "import", "notebook.csv")
    return shop


def test_lost_blanks_cost_and_first_piece_yield_are_told_by_blank_press_and_month() -> None:
    told = done("worth")
    assert "coaster 5 2 2 3.60 EUR 2 of 3, 67 %" in told  # 2 lost at 1.80; first pieces: pale, good, good
    assert "tile 1 1 1 1 of unknown cost 0 of 1, 0 %" in told
    assert "front 6 3 3 3.60 EUR and 1 of unknown cost 2 of 4, 50 %" in told
    assert "2026-04 3 1 1 1.80 EUR 1 of 2, 50 %" in told
    assert "2026-05 3 2 2 1.80 EUR and 1 of unknown cost 1 of 2, 50 %" in told
    assert "A run is a batch, or what one recipe pressed on one day" in told


def test_only_some_days_are_counted_when_that_is_asked_for() -> None:
    told = done("worth", "--since", "2026-05-01T00:00+00:00")
    assert "all 3 2 2" in told
    assert "2026-04" not in told
    assert done("worth", "--until", "2020-01-01") == "Nothing was pressed in that time."


def test_a_batch_is_one_run_whatever_day_its_pieces_are_of() -> None:
    start()
    done(
        "batch", "add", "May", photo("under-0.8-0.0-0.02.jpg", 1), "--at", "2026-06-01T08:00+00:00", status=1
    )
    done("batch", "hold", "May", "--by", "Kim", "--reason", "pale")
    done("batch", "add", "May", photo("good-0.95-0.0-0.02.jpg", 2), "--at", "2026-06-02T08:00+00:00")
    assert "2026-06 2 1 0 - 0 of 1, 0 %" in done("worth")


def test_a_pressing_taken_back_costs_nothing() -> None:
    done("press", "take-back", 6)
    assert "all 5 2 2 3.60 EUR 2 of 3, 67 %" in done("worth")


def test_the_table_is_written_as_csv() -> None:
    done("worth", "--out", "worth.csv")
    rows = list(csv.DictReader(io.StringIO(Path("worth.csv").read_text())))
    assert {row["by"] for row in rows} == {"blank", "press", "month", "all"}
    (all_of_it,) = (row for row in rows if row["by"] == "all")
    assert (all_of_it["lost"], all_of_it["cost_of_lost"], all_of_it["currency"]) == ("3", "3.6", "EUR")
    assert (all_of_it["lost_without_cost"], all_of_it["first_piece_yield"]) == ("1", "0.5")


def test_the_page_shows_the_months_as_a_picture_that_says_the_same_in_words() -> None:
    done("worth", "--out", "worth.html")
    page = Path("worth.html").read_text()
    start_of_picture = page.index('<svg xmlns="http://www.w3.org/2000/svg" class="worth-chart"')
    picture = ElementTree.fromstring(page[start_of_picture : page.index("</svg>", start_of_picture) + 6])
    words = picture.findtext("{http://www.w3.org/2000/svg}desc")
    assert words is not None
    assert "2026-04: 1 of 3 lost, first piece good in 1 of 2, 50\u00a0%" in words


def test_another_kind_of_file_is_refused_before_anything_is_done() -> None:
    assert "ends in .html or .csv" in refused("worth", "--out", "worth.pdf")
