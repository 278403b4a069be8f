"""Taking photos in: on disk and in the queue before the answer, without place and camera, once a key."""

import io
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from PIL import Image
from sqlalchemy import Engine, select

from api.work.pieces_of_work import NOON, row_of, rows_of, send, shop_of, small_photo
from dyecast_api.store.artwork_tables import files
from dyecast_api.store.database import reading
from dyecast_api.work.accept_photo import PhotoOrder, accept_photo, plain_name
from dyecast_api.work.file_store import FileStore, LocalFileStore, fingerprint
from dyecast_shared.errors import BadInput, DyecastError, KeyUsedTwice, StoreUnavailable


def photo_from_a_phone() -> bytes:
    exif = Image.Exif()
    exif[0x0112] = 6
    exif.get_ifd(0x8825)[1] = "N"
    exif[0x010F] = "A phone"
    return small_photo(exif=exif)


def test_an_accepted_photo_is_in_the_store_and_waits(engine: Engine, store: FileStore) -> None:
    accepted = send(engine, store, paper="taped", peek=True)
    row = row_of(engine, accepted.inspection_id)
    assert accepted.is_new
    assert (row.public_id, row.paper, row.peek, row.photo_name) == (
        accepted.public_id,
        "taped",
        True,
        "piece-0.jpg",
    )
    assert (row.attempt, row.finished_at, row.received_at) == (0, None, NOON)
    assert store.has(row.photo_sha256)
    with reading(engine) as connection:
        (kept,) = connection.execute(select(files))
    assert (kept.sha256, kept.media_type) == (row.photo_sha256, "image/jpeg")
    assert kept.byte_count == len(store.read(kept.sha256))


def test_place_and_camera_are_left_out_and_which_way_is_up_is_not(engine: Engine, store: FileStore) -> None:
    order = PhotoOrder(shop_of(engine), "piece.jpg")
    accepted = accept_photo(engine, store, order, photo_from_a_phone(), NOON)
    kept = store.read(row_of(engine, accepted.inspection_id).photo_sha256)
    with Image.open(io.BytesIO(kept)) as picture:
        assert dict(picture.getexif()) == {0x0112: 6}


def test_a_shop_may_keep_everything_a_photo_says(engine: Engine, store: FileStore) -> None:
    order = PhotoOrder(shop_of(engine), "piece.jpg", keep_metadata=True)
    accepted = accept_photo(engine, store, order, photo_from_a_phone(), NOON)
    assert row_of(engine, accepted.inspection_id).photo_sha256 == fingerprint(photo_from_a_phone())


def test_the_same_key_gives_the_same_inspection_however_often_it_comes(
    engine: Engine, store: FileStore
) -> None:
    with ThreadPoolExecutor(4) as threads:
        accepted = list(threads.map(lambda _: send(engine, store, idempotency_key="one"), range(8)))
    assert len({each.public_id for each in accepted}) == 1
    assert sum(each.is_new for each in accepted) == 1
    assert len(rows_of(engine)) == 1


def test_the_same_key_with_another_photo_or_order_is_refused(engine: Engine, store: FileStore) -> None:
    send(engine, store, seed=1, idempotency_key="one")
    with pytest.raises(KeyUsedTwice) as caught:
        send(engine, store, seed=2, idempotency_key="one")
    assert caught.value.code == "key-used-twice"
    with pytest.raises(KeyUsedTwice):
        send(engine, store, seed=1, idempotency_key="one", peek=True)


def test_photos_without_a_key_are_inspections_of_their_own(engine: Engine, store: FileStore) -> None:
    assert send(engine, store).public_id != send(engine, store).public_id


@pytest.mark.parametrize(
    ("photo", "code"),
    [
        (b"", "file-unreadable"),
        (b"a shopping list", "not-a-picture"),
        (small_photo()[:200], "picture-damaged"),
        (b"\xff\xd8" + bytes(65 * 1024 * 1024), "picture-too-large"),
    ],
    ids=["empty", "no picture", "broken off in its header", "too many bytes"],
)
def test_what_cannot_be_inspected_is_refused_and_not_kept(
    engine: Engine, store: FileStore, tmp_path: Path, photo: bytes, code: str
) -> None:
    with pytest.raises(BadInput) as caught:
        accept_photo(engine, store, PhotoOrder(shop_of(engine), "piece.jpg"), photo, NOON)
    assert caught.value.code == code
    assert rows_of(engine) == []
    assert not (tmp_path / "files").exists()


def test_an_artwork_or_batch_that_is_not_there_is_refused(engine: Engine, store: FileStore) -> None:
    with pytest.raises(BadInput, match="no such artwork"):
        send(engine, store, artwork_version_id=7)
    with pytest.raises(BadInput, match="no such batch"):
        send(engine, store, batch_id=7)


def test_a_full_disk_accepts_nothing(
    engine: Engine, store: FileStore, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(_store: LocalFileStore, _content: bytes) -> str:
        raise StoreUnavailable("The file could not be kept.")

    monkeypatch.setattr(LocalFileStore, "keep", full)
    with pytest.raises(DyecastError) as caught:
        send(engine, store)
    assert caught.value.code == "store-unavailable"
    assert rows_of(engine) == []


@pytest.mark.parametrize(
    ("given", "kept"),
    [
        ("a/b/piece.jpg", "piece.jpg"),
        ("C:\\photos\\piece.jpg", "piece.jpg"),
        ("../..", "photo"),
        ("pie\x1b[2Jce.jpg", "pie?[2Jce.jpg"),
        ("ü" * 300 + ".jpg", "ü" * 98 + ".jpg"),
    ],
)
def test_a_photos_name_is_one_that_any_disk_and_page_can_hold(given: str, kept: str) -> None:
    assert plain_name(given) == kept
