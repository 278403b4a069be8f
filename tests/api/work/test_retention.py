"""Old photos dropped, and everything that somebody still needs kept, on either database."""

from datetime import timedelta
from typing import Any

from sqlalchemy import Engine, insert, select

from api.work.pieces_of_work import NOON, rows_of, send, shop_of, small_photo
from api.work.quick_inspector import quick_inspector
from dyecast_api.store.artwork_tables import artwork_versions, artworks, files
from dyecast_api.store.database import reading, writing
from dyecast_api.store.inspection_tables import approved_pieces
from dyecast_api.store.shop_tables import shops
from dyecast_api.work.accept_photo import PhotoOrder, accept_photo
from dyecast_api.work.file_store import FileStore
from dyecast_api.work.retention import drop_old_photos
from dyecast_api.work.worker import Worker, run_worker

LATER = NOON + timedelta(days=40)


def inspected(engine: Engine, store: FileStore, seeds: int) -> list[Any]:
    for seed in range(seeds):
        send(engine, store, seed)
    run_worker(Worker(engine, quick_inspector(engine, store), "worker"), until_empty=True)
    return rows_of(engine)


def drop(engine: Engine, store: FileStore, days: float = 30) -> int:
    return drop_old_photos(engine, store, shop_of(engine), days, LATER)


def test_photos_older_than_that_are_dropped_and_results_stay(engine: Engine, store: FileStore) -> None:
    (row,) = inspected(engine, store, 1)
    assert drop(engine, store, days=41) == 0
    assert drop(engine, store) == 1
    assert not store.has(row.photo_sha256)
    with reading(engine) as connection:
        assert connection.execute(select(files.c.dropped_at)).scalar_one() == LATER
    assert rows_of(engine)[0].document is not None
    assert drop(engine, store) == 0


def test_what_still_waits_is_never_dropped(engine: Engine, store: FileStore) -> None:
    send(engine, store)
    assert drop(engine, store) == 0
    assert store.has(rows_of(engine)[0].photo_sha256)


def test_the_photo_of_an_approved_piece_stays(engine: Engine, store: FileStore) -> None:
    approved, other = inspected(engine, store, 2)
    with writing(engine) as connection:
        shop = {"shop_id": approved.shop_id}
        artwork = connection.execute(
            insert(artworks).values(**shop, name="sunset", created_at=NOON).returning(artworks.c.id)
        ).scalar_one()
        approval = {"artwork_id": artwork, "inspection_id": approved.id, "approved_by": "owner"}
        connection.execute(insert(approved_pieces).values(**shop, **approval, approved_at=NOON))
    assert drop(engine, store) == 1
    assert store.has(approved.photo_sha256)
    assert not store.has(other.photo_sha256)


def test_a_photo_that_is_an_artwork_as_well_stays(engine: Engine, store: FileStore) -> None:
    (row,) = inspected(engine, store, 1)
    with writing(engine) as connection:
        shop = {"shop_id": row.shop_id, "created_at": NOON}
        artwork = connection.execute(
            insert(artworks).values(**shop, name="sunset").returning(artworks.c.id)
        ).scalar_one()
        version = {"artwork_id": artwork, "number": 1, "file_name": "a.jpg", "file_sha256": row.photo_sha256}
        connection.execute(insert(artwork_versions).values(**shop, **version))
    assert drop(engine, store) == 0


def test_a_photo_sent_again_is_kept_again(engine: Engine, store: FileStore) -> None:
    inspected(engine, store, 1)
    drop(engine, store)
    again = accept_photo(engine, store, PhotoOrder(shop_of(engine), "piece.jpg"), small_photo(0), LATER)
    assert store.has(rows_of(engine)[-1].photo_sha256)
    with reading(engine) as connection:
        assert connection.execute(select(files.c.dropped_at)).scalar_one() is None
    assert again.is_new
    assert drop(engine, store) == 0


def test_another_shops_copy_of_the_same_photo_stays(engine: Engine, store: FileStore) -> None:
    (row,) = inspected(engine, store, 1)
    with writing(engine) as connection:
        other = connection.execute(
            insert(shops).values(name="other", created_at=NOON).returning(shops.c.id)
        ).scalar_one()
    accept_photo(engine, store, PhotoOrder(other, "piece.jpg"), small_photo(0), NOON)
    assert drop(engine, store) == 1
    assert store.has(row.photo_sha256)
