"""Two people at one batch at the same moment, on both databases: nothing is lost, the second one is told."""

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from threading import Barrier

import pytest

from api.batches.batch_shop import approved_batch, done, photo, set_up
from dyecast_api.batches.batch_pieces import InspectedPhoto, add_piece, pieces_of
from dyecast_api.batches.batch_rows import batch_named
from dyecast_api.batches.batch_steps import Decision, KeptCertificate, close_batch
from dyecast_api.batches.batch_values import Batch
from dyecast_api.batches.opened_shop import OpenedShop, opened_shop
from dyecast_api.press_log.log_values import Pressing
from dyecast_api.store.database import reading, writing
from dyecast_api.work.file_rows import KeptFile
from dyecast_api.work.queue import InspectionResult
from dyecast_shared.errors import BatchChanged
from servers.postgresql import PostgresqlServer, postgresql_server


@pytest.fixture(scope="module")
def postgresql() -> Iterator[PostgresqlServer]:
    with postgresql_server() as server:
        yield server


@pytest.fixture(params=["SQLite", "PostgreSQL"])
def opened(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> Iterator[OpenedShop]:
    """A shop with an approved batch."""
    request.getfixturevalue("shop")
    if request.param == "PostgreSQL":
        url = request.getfixturevalue("postgresql").new_database()
        monkeypatch.setenv("DYECAST_DATABASE_URL", url)
        set_up()
    approved_batch()
    with opened_shop() as here:
        yield here


def seen(opened: OpenedShop) -> Batch:
    with reading(opened.engine) as connection:
        return batch_named(connection, opened.shop_id, "May")


def test_of_two_who_close_at_once_one_is_told_and_the_other_ones_certificate_stays(
    opened: OpenedShop,
) -> None:
    both_saw, together = seen(opened), Barrier(2)

    def close(name: str) -> str | None:
        certificate = KeptCertificate({"closed by": name}, "0" * 64)
        together.wait()
        try:
            with writing(opened.engine) as connection:
                decision = Decision(name, both_saw.started_at)
                close_batch(connection, opened.shop_id, both_saw, decision, certificate)
        except BatchChanged:
            return None
        return name

    with ThreadPoolExecutor(2) as people:
        closed = [name for name in people.map(close, ("Kim", "Lee")) if name]
    assert len(closed) == 1
    batch = seen(opened)
    assert (batch.closed_by, batch.certificate) == (closed[0], {"closed by": closed[0]})


def test_pieces_that_several_people_add_at_once_all_get_numbers_of_their_own(opened: OpenedShop) -> None:
    everybody_saw, together = seen(opened), Barrier(4)
    moment = everybody_saw.started_at

    def add(person: int) -> int | None:
        sha256 = f"{person:064x}"
        result = InspectionResult("good", document={"verdict": "good"})
        inspected = InspectedPhoto("piece.jpg", KeptFile(sha256, 1, "image/jpeg"), result)
        pressing = Pressing(everybody_saw.recipe_id, 466.5, 180.0, moment, moment, photo_sha256=sha256)
        together.wait()
        with writing(opened.engine) as connection:
            _, kept = add_piece(connection, opened.shop_id, everybody_saw, pressing, inspected)
        return kept.piece_number

    with ThreadPoolExecutor(4) as people:
        numbers = list(people.map(add, range(1, 5)))
    assert sorted(map(int, filter(None, numbers))) == [2, 3, 4, 5]
    with reading(opened.engine) as connection:
        assert len(pieces_of(connection, opened.shop_id, seen(opened))) == 5


def test_a_batch_is_closed_with_its_certificate_on_either_database(opened: OpenedShop) -> None:
    done("batch", "add", "May", photo("good-0.96-1.0-0.02.jpg", 2))
    done("batch", "close", "May", "--by", "Kim", "--out", "papers")
    assert Path("papers/certificate.pdf").is_file()
    assert seen(opened).closed_by == "Kim"
    assert "2 inspected" in done("batch", "list")
    assert "2 0 0 - 1 of 1, 100 %" in done("worth")
