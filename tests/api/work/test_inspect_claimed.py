"""A queued photo inspected against what the shop's tables say, by a pipeline that answers by names."""

import io
import json
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from sqlalchemy import Engine, insert, update

from api import fake_stages
from api.work.pieces_of_work import NOON, row_of, send, small_photo
from dyecast_api import inspect_stages
from dyecast_api.store.artwork_tables import artwork_versions, artworks, card_values
from dyecast_api.store.batch_tables import batches
from dyecast_api.store.database import first_shop_id, open_database, writing
from dyecast_api.store.inspection_tables import approved_pieces
from dyecast_api.store.press_tables import blanks, presses, pressings, recipes
from dyecast_api.work.file_store import FileStore
from dyecast_api.work.inspect_claimed import ClaimedInspector
from dyecast_api.work.worker import Worker, run_worker
from dyecast_calibration.card_layout import known_layouts
from dyecast_calibration.card_values import designed_values, save_card_values

HOUR = timedelta(hours=1)


@pytest.fixture
def engine(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Engine]:
    monkeypatch.setenv("DYECAST_DATA", str(tmp_path))
    monkeypatch.setattr(inspect_stages, "load_inspect_stages", fake_stages.load_fake_stages)
    opened = open_database(f"sqlite:///{tmp_path}/shop.sqlite3")
    yield opened
    opened.dispose()


def added(engine: Engine, table: Any, **row: Any) -> int:
    with writing(engine) as connection:
        values = {"shop_id": first_shop_id(connection), **row}
        made = connection.execute(insert(table).values(values).returning(table.c.id))
        return int(made.scalar_one())


def with_artwork(engine: Engine, store: FileStore, name: str = "sunset.png", **version: Any) -> int:
    """Keep an artwork; return its version."""
    artwork = added(engine, artworks, name=name, created_at=NOON)
    kept = store.keep(small_photo(99, "PNG"))
    row = {"artwork_id": artwork, "number": 1, "file_name": name, "file_sha256": kept, "created_at": NOON}
    return added(engine, artwork_versions, **row, **version)


def inspected(engine: Engine, store: FileStore, name: str = "good.jpg", **order: Any) -> Any:
    """Send a photo, work until nothing waits, and return its row."""
    accepted = send(engine, store, len(name), photo_name=name, **order)
    work(engine, store)
    return row_of(engine, accepted.inspection_id)


def work(engine: Engine, store: FileStore) -> None:
    run_worker(Worker(engine, ClaimedInspector(engine, store), "worker"), until_empty=True)


def test_the_row_holds_the_document_and_the_figures_for_lists(engine: Engine, store: FileStore) -> None:
    row = inspected(engine, store, artwork_version_id=with_artwork(engine, store))
    assert (row.verdict, row.document["verdict"]) == ("good", "good")
    assert (row.document["photo"], row.document["artwork"]) == ("good.jpg", "sunset.png")
    assert row.confidence == row.document["confidence"]
    assert row.delta_e_2000_median == row.document["delta_e_2000"]["median"]
    assert row.transferred_fraction == row.document["features"]["transferred_fraction"]["value"]
    assert row.problem is None


def test_pages_find_piece_artwork_and_map_in_one_frame_and_the_photo_small(
    engine: Engine, store: FileStore
) -> None:
    row = inspected(engine, store, artwork_version_id=with_artwork(engine, store))
    sizes = {}
    for name, sha256 in row.pictures.items():
        with Image.open(io.BytesIO(store.read(sha256))) as picture:
            assert picture.format == "JPEG"
            sizes[name] = picture.size
    assert sizes == {
        "piece": (120, 90),
        "artwork": (120, 90),
        "difference": (120, 90),
        "photo": (80, 64),
        "thumbnail": (80, 64),
    }


def test_a_retake_shows_the_photo_and_claims_nothing(engine: Engine, store: FileStore) -> None:
    row = inspected(engine, store, "retake.jpg", artwork_version_id=with_artwork(engine, store))
    assert row.verdict == "retake"
    assert set(row.pictures) == {"photo", "thumbnail"}
    assert (row.delta_e_2000_median, row.transferred_fraction) == (None, None)


def test_a_photo_that_cannot_be_used_is_a_retake_that_says_why(engine: Engine, store: FileStore) -> None:
    row = inspected(engine, store, "broken.jpg", artwork_version_id=with_artwork(engine, store))
    assert row.verdict == "retake"
    assert row.document["error"]["code"] == "not-a-picture"


def test_a_photo_with_nothing_to_compare_with_is_a_problem(engine: Engine, store: FileStore) -> None:
    row = inspected(engine, store)
    assert (row.verdict, row.document) == ("trouble", None)
    assert row.problem["code"] == "bad-input"
    assert "neither an artwork" in row.problem["message"]


def test_a_missing_artwork_file_is_a_problem_that_names_it(engine: Engine, store: FileStore) -> None:
    version = with_artwork(engine, store)
    with writing(engine) as connection:
        connection.execute(update(artwork_versions).values(file_sha256="0" * 64))
    row = inspected(engine, store, artwork_version_id=version)
    assert row.problem["code"] == "file-missing"


def test_the_newest_approved_piece_that_was_not_withdrawn_is_compared_with_too(
    engine: Engine, store: FileStore
) -> None:
    version = with_artwork(engine, store)
    first = inspected(engine, store, "good-1.jpg", artwork_version_id=version)
    assert first.document["delta_e_2000_approved"] is None
    approval = {"artwork_id": 1, "inspection_id": first.id, "approved_by": "owner", "approved_at": NOON}
    piece = added(engine, approved_pieces, **approval)
    assert inspected(engine, store, "good-22.jpg", artwork_version_id=version).document[
        "delta_e_2000_approved"
    ]
    with writing(engine) as connection:
        connection.execute(
            update(approved_pieces).where(approved_pieces.c.id == piece).values(withdrawn_at=NOON + HOUR)
        )
    last = inspected(engine, store, "good-333.jpg", artwork_version_id=version)
    assert last.document["delta_e_2000_approved"] is None


def test_an_approved_piece_whose_photo_is_gone_is_mentioned_and_the_rest_judged(
    engine: Engine, store: FileStore
) -> None:
    version = with_artwork(engine, store)
    first = inspected(engine, store, "good-1.jpg", artwork_version_id=version)
    approval = {"artwork_id": 1, "inspection_id": first.id, "approved_by": "owner", "approved_at": NOON}
    added(engine, approved_pieces, **approval)
    store.drop(first.photo_sha256)
    row = inspected(engine, store, "good-22.jpg", artwork_version_id=version)
    assert row.verdict == "good"
    assert any("approved piece could not be measured" in note for note in row.document["notes"])


def batch_of(engine: Engine, **row: Any) -> int:
    """Start a batch with all that it stands on."""
    press = added(engine, presses, name="press", notes="", created_at=NOON)
    blank = added(
        engine, blanks, name="tile", material="glass", thickness_mm=4.0, coating_side="back", created_at=NOON
    )
    recipe = added(
        engine,
        recipes,
        name="tiles",
        press_id=press,
        blank_id=blank,
        temperature_k=470.0,
        time_s=90.0,
        created_at=NOON,
    )
    return added(engine, batches, name="May", recipe_id=recipe, state="started", started_at=NOON, **row)


def test_a_photo_of_a_batch_is_compared_with_the_batchs_artwork(engine: Engine, store: FileStore) -> None:
    batch = batch_of(engine, artwork_version_id=with_artwork(engine, store))
    row = inspected(engine, store, batch_id=batch)
    assert (row.document["artwork"], row.document["compared_with"]) == ("sunset.png", "artwork")


def test_without_an_artwork_the_first_piece_of_the_batch_stands_for_it(
    engine: Engine, store: FileStore
) -> None:
    batch = batch_of(engine)
    first = send(engine, store, 5, photo_name="good-first.jpg", batch_id=batch)
    pressing = added(
        engine,
        pressings,
        recipe_id=1,
        batch_id=batch,
        inspection_id=first.inspection_id,
        pressed_at=NOON,
        logged_at=NOON,
        temperature_k=470.0,
        time_s=90.0,
    )
    with writing(engine) as connection:
        connection.execute(update(batches).values(first_pressing_id=pressing, state="approved"))
    row = inspected(engine, store, "good-second.jpg", batch_id=batch)
    assert (row.document["artwork"], row.document["compared_with"]) == ("good-first.jpg", "approved piece")


def test_the_shops_own_card_values_and_what_it_taught_are_used(
    engine: Engine, store: FileStore, tmp_path: Path
) -> None:
    version = with_artwork(engine, store)
    layout = known_layouts()[0]
    file = tmp_path / "values.json"
    save_card_values(file, designed_values(layout), layout)
    row = {"layout": layout.name, "edition": layout.edition, "trust": "measured", "added_at": NOON}
    added(engine, card_values, **row, file_sha256=store.keep(file.read_bytes()))
    (tmp_path / "shop-profile.json").write_text(json.dumps({}), encoding="utf-8")
    (note, *_) = inspected(engine, store, artwork_version_id=version).document["notes"]
    assert f"values ['{layout.name}']" in note
    assert "shop-profile.json taught" in note


def test_paper_and_peek_reach_the_inspection(engine: Engine, store: FileStore) -> None:
    version = with_artwork(engine, store)
    row = inspected(engine, store, artwork_version_id=version, paper="taped")
    assert "The paper is taped." in row.document["notes"][0]


def test_an_artwork_is_read_once_for_many_photos(
    engine: Engine, store: FileStore, monkeypatch: pytest.MonkeyPatch
) -> None:
    read: list[str] = []

    def counted(path: Path, *, printer_profile: Path | None = None) -> Any:
        read.append(path.name)
        return fake_stages.read_artwork(path, printer_profile=printer_profile)

    stages = replace(fake_stages.FAKE, read_artwork=counted)
    monkeypatch.setattr(inspect_stages, "load_inspect_stages", lambda: stages)
    version = with_artwork(engine, store)
    for seed in range(3):
        send(engine, store, seed, photo_name="good.jpg", artwork_version_id=version)
    work(engine, store)
    assert read == ["sunset.png"]
