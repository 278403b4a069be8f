"""A notebook imported as CSV: its own columns, units and dates; what is refused is said, nothing halved."""

import secrets
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as some
from sqlalchemy import Connection, Engine, insert

from api.batches.batch_shop import done, refused
from api.press_log.logs import NOON, pressing, set_up
from dyecast_api.press_log.csv_moments import csv_moment
from dyecast_api.press_log.log_csv import CsvReading, add_missing, exported_csv, read_csv
from dyecast_api.press_log.log_rows import all_recipes
from dyecast_api.press_log.log_values import GRADES, Pressing
from dyecast_api.press_log.pressings import add_pressing, logged_pressings
from dyecast_api.store.database import open_database, writing
from dyecast_api.store.shop_tables import shops
from dyecast_shared.errors import PressLogInvalid

NOTEBOOK = """Datum;Artikel;Grad;Zeit;Ergebnis;Bemerkung
04.05.2026;coasters;193,5;3,5;prima;erster Versuch
04.05.2026 14:30;coasters;193,5;2;blass;
05.05.2026;coasters;;;prima;wie Rezept
"""

MAP = (
    *("--map", "pressed_at=Datum", "--map", "recipe=Artikel", "--map", "temperature=Grad"),
    *("--map", "time=Zeit", "--map", "grade=Ergebnis", "--map", "note=Bemerkung"),
    *("--unit", "temperature=C", "--unit", "time=min", "--dates", "day-first", "--judged-by", "Kim"),
    *("--grade-word", "good=prima", "--grade-word", "under=blass"),
)


@pytest.mark.usefixtures("shop")
def test_a_notebook_with_its_own_columns_units_and_day_first_dates_is_imported_once() -> None:
    Path("notebook.csv").write_text(NOTEBOOK, encoding="utf-8-sig")
    assert done("press", "import", "notebook.csv", *MAP) == "3 pressings added."
    told = done("press", "list")
    assert "2026-05-04 12:00 coasters 194 °C (380 °F) for 3 min 30 s good by Kim erster Versuch" in told
    assert "for 2 min" in told or "for 120 s" in told
    assert "193 °C (380 °F) for 3 min good by Kim wie Rezept" in told
    assert done("press", "import", "notebook.csv", *MAP) == "0 pressings added."


@pytest.mark.usefixtures("shop")
def test_every_refused_line_is_named_with_its_reason_and_nothing_is_imported() -> None:
    lines = [
        "pressed_at,recipe,temperature,time,grade,judged_by,lost",
        "2026-05-04,coasters,380F,180s,good,Kim,",
        "2026-13-04,coasters,380F,180s,good,Kim,",
        "2026-05-04,mugs,380F,180s,good,Kim,",
        "2026-05-04,coasters,380,180s,good,Kim,",
        "2026-05-04,coasters,380C,180s,good,Kim,",
        "2026-05-04,coasters,380F,-5,good,Kim,",
        "2026-05-04,coasters,380F,180s,lovely,Kim,",
        "2026-05-04,coasters,380F,180s,good,,",
        "2026-05-04,coasters,380F,180s,good,Kim,perhaps",
        "",
        "2026-05-04,coasters,380F,180s,good,Kim,yes,more,cells",
        "2026-05-04,coasters,380F,180s,over,Kim,yes",
    ]
    Path("notebook.csv").write_text("\n".join(lines))
    told = refused("press", "import", "notebook.csv")
    for line, reason in (
        (3, "'2026-13-04' is no date"),
        (4, "There is no recipe called 'mugs'"),
        (5, "'380' has no unit"),
        (6, "380 °C (716 °F) is no usual temperature of a press. Did you mean 380 °F?"),
        (7, "A pressing of -5 s cannot be"),
        (8, "'lovely' is no grade"),
        (9, "Nobody says who graded it"),
        (10, "'perhaps' is neither yes nor no"),
        (12, "It has 9 cells, the heading 7"),
    ):
        assert f"Line {line}: {reason}" in told
    assert "9 lines cannot be read; nothing was imported" in told
    assert "Kim" not in done("press", "list")
    kept = done("press", "import", "notebook.csv", "--keep-good-lines")
    assert "Line 3:" in kept
    assert "2 pressings added." in kept
    assert "lost" in done("press", "list")


@pytest.mark.usefixtures("shop")
@pytest.mark.parametrize(
    ("content", "more", "said"),
    [
        ("", (), "The table is empty"),
        ("a,b\n1,2\n", (), "no column of dates"),
        ("pressed_at\n2026-05-04\n", (), "no column of recipes"),
        ("Date,recipe\n", ("--map", "pressed_at=Day"), "no column 'Day'; it has 'Date', 'recipe'"),
        ("Date,Date,recipe\n", ("--map", "pressed_at=Date"), "two columns 'Date'"),
        ("a\n", ("--map", "colour=a"), "There is no column 'colour'"),
        ("a\n", ("--map", "a"), "NAME=VALUE"),
        ("a\n", ("--grade-word", "fine=a"), "under, good and over"),
        ('pressed_at,recipe\n"2026-05-04,coasters\n', (), "is no CSV"),
        ("pressed_at,recipe\n04/05/2026,coasters\n", (), "Days that come first need --dates day-first"),
    ],
)
def test_a_table_that_cannot_be_understood_is_refused_in_words(
    content: str, more: tuple[str, ...], said: str
) -> None:
    Path("notebook.csv").write_text(content)
    assert said in refused("press", "import", "notebook.csv", *more)


@pytest.mark.usefixtures("shop")
def test_a_table_in_another_encoding_is_refused_with_what_to_do() -> None:
    Path("notebook.csv").write_bytes("pressed_at,recipe\n2026-05-04,Gläser\n".encode("latin-1"))
    assert "Save it as CSV UTF-8" in refused("press", "import", "notebook.csv")


@pytest.mark.usefixtures("shop")
def test_pieces_that_a_notebook_cannot_tell_apart_are_all_kept_and_not_doubled() -> None:
    line = "2026-05-04,coasters,good,Kim\n"
    Path("notebook.csv").write_text("pressed_at,recipe,grade,judged_by\n" + 3 * line)
    assert done("press", "import", "notebook.csv") == "3 pressings added."
    assert done("press", "import", "notebook.csv") == "0 pressings added."
    Path("notebook.csv").write_text("pressed_at,recipe,grade,judged_by\n" + 4 * line)
    assert done("press", "import", "notebook.csv") == "1 pressing added."


@pytest.mark.parametrize("text", ["4.5.2026", "04/05/2026", "04-05-2026"])
def test_days_come_first_only_when_that_was_said(text: str) -> None:
    assert csv_moment(text, day_first=True) == datetime(2026, 5, 4, 12, tzinfo=UTC)
    with pytest.raises(PressLogInvalid):
        csv_moment(text, day_first=False)


def test_a_year_first_date_is_not_taken_for_a_day_first_one() -> None:
    for wrong in ("2026-05-04", "31.02.2026", "4.5.26", "4.5.2026 25:00", ""):
        with pytest.raises(PressLogInvalid):
            csv_moment(wrong, day_first=True)


NOTES = some.text(some.characters(codec="utf-8", exclude_categories=["Cc", "Cs"]), max_size=30)
PRESSINGS = some.builds(
    lambda minutes, kelvin, seconds, grade, judge, share, lost, note: {
        "pressed_at": NOON + timedelta(minutes=minutes),
        "temperature_k": kelvin,
        "time_s": seconds,
        "grade": grade,
        "judged_by": judge,
        "transferred_fraction": share,
        "lost": lost,
        "note": note.strip(),
    },
    some.integers(-500_000, 500_000),
    some.floats(400.0, 500.0).map(lambda kelvin: round(kelvin, 2)),
    some.floats(1.0, 3000.0).map(lambda seconds: round(seconds, 1)),
    some.sampled_from([None, *GRADES]),
    some.sampled_from(["Kim", 'Lee; & "Co"', "dyecast"]),
    some.none() | some.floats(0.0, 1.5),
    some.booleans(),
    NOTES,
)


@pytest.fixture(scope="module")
def engine(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Engine]:
    opened = open_database(f"sqlite:///{tmp_path_factory.mktemp('log')}/shop.sqlite3")
    yield opened
    opened.dispose()


@settings(max_examples=30)
@given(some.lists(PRESSINGS, max_size=6))
def test_what_is_exported_comes_back_as_it_was_and_only_once(
    engine: Engine, entries: list[dict[str, object]]
) -> None:
    with writing(engine) as connection:
        here, there = _new_shop(connection), _new_shop(connection)
        recipe, _ = set_up(connection, here), set_up(connection, there)
        for entry in entries:
            add_pressing(connection, here, pressing(recipe, **entry))
        text = exported_csv(connection, here)
        for expected in (len(entries), 0):
            recipes = all_recipes(connection, there)
            table = read_csv(text, CsvReading(as_written=True), recipes, NOON, "log.csv")
            assert table.refused == ()
            assert add_missing(connection, there, table.pressings) == expected
        first, second = (
            [_told(one.pressing) for one in logged_pressings(connection, shop)] for shop in (here, there)
        )
        assert first == second
        assert exported_csv(connection, there) == text


def _new_shop(connection: Connection) -> int:
    row = {"name": secrets.token_hex(8), "created_at": NOON}
    return int((connection.execute(insert(shops).values(row)).inserted_primary_key or (0,))[0])


def _told(one: Pressing) -> tuple[object, ...]:
    return (
        one.pressed_at,
        round(one.temperature_k, 5),
        one.time_s,
        one.grade,
        one.judged_by,
        one.transferred_fraction,
        one.lost,
        one.note,
    )
