"""The press log and the batches on the server's pages: what the bench photographs becomes a piece."""

from datetime import UTC, datetime

import pytest
from starlette.testclient import TestClient

from dyecast_api.batches.batch_rows import add_batch, all_batches
from dyecast_api.batches.batch_values import Batch
from dyecast_api.press_log.log_rows import add_blank, add_press, add_recipe
from dyecast_api.press_log.log_values import Blank, Press, Recipe
from dyecast_api.records.artwork_records import find_artwork
from dyecast_api.store.database import first_shop_id, reading, writing

from .press_shop import photograph
from .shop_server import ShopServer, add_artwork

NOON = datetime(2026, 5, 4, 12, 0, tzinfo=UTC)
PAGE = {"Accept": "text/html"}


@pytest.fixture
def batch(server: ShopServer, owner: TestClient) -> int:
    """Start a batch of glass magnets, by an owner whose browser asks for pages."""
    artwork = add_artwork(owner)
    owner.headers["Accept"] = "text/html"
    with writing(server.engine) as connection:
        shop = first_shop_id(connection)
        press = add_press(connection, shop, Press("front press", NOON))
        glass = Blank("magnet", "glass", 4.0, "back", NOON, 466.5, 90.0)
        blank = add_blank(connection, shop, glass)
        recipe = add_recipe(connection, shop, Recipe("magnet at 380 F", press, blank, 466.5, 90.0, NOON))
        record = find_artwork(connection, shop, artwork)
        assert record is not None
        made = Batch("May", recipe, NOON, record.newest.id, "Harbour", record.newest.file_sha256)
        return add_batch(connection, shop, made).number


def test_photos_from_the_bench_become_pieces_in_their_order(
    server: ShopServer, owner: TestClient, batch: int
) -> None:
    photograph(server, owner, batch, 1)
    assert "Decide on the first piece" in owner.get(f"/batches/{batch}").text
    photograph(server, owner, batch, 2)
    page = owner.get(f"/batches/{batch}").text
    assert page.count('<tr><th scope="row">') == 1  # the second waits for the decision on the first
    decided = owner.post(f"/batches/{batch}/approve", data={"by": "Kim"})
    assert decided.status_code == 200
    assert decided.text.count('<tr><th scope="row">') == 2
    assert ": approved" in decided.text


def test_looking_twice_takes_nothing_in_twice(server: ShopServer, owner: TestClient, batch: int) -> None:
    photograph(server, owner, batch, 1)
    pages = [owner.get(f"/batches/{batch}").text for _ in range(2)]
    assert [page.count('<tr><th scope="row">') for page in pages] == [1, 1]


def test_a_first_piece_is_held_for_a_reason_and_the_next_one_takes_its_place(
    server: ShopServer, owner: TestClient, batch: int
) -> None:
    photograph(server, owner, batch, 1)
    owner.get(f"/batches/{batch}")
    refused = owner.post(f"/batches/{batch}/hold", data={"by": "Kim"})
    assert refused.status_code == 422
    assert "held for a reason" in refused.text
    owner.post(f"/batches/{batch}/hold", data={"by": "Kim", "reason": "A scratch."})
    photograph(server, owner, batch, 2)
    assert "Piece 2 was called good" in owner.get(f"/batches/{batch}").text


def test_charts_are_pictures_of_their_own_with_words_beside(
    server: ShopServer, owner: TestClient, batch: int
) -> None:
    for seed in range(3):
        photograph(server, owner, batch, seed, 0.95 + 0.01 * seed)
        owner.get(f"/batches/{batch}")
        if seed == 0:
            owner.post(f"/batches/{batch}/approve", data={"by": "Kim"})
    page = owner.get(f"/batches/{batch}").text
    address = page.split('<figure class="chart"><img src="')[1].split('"')[0]
    chart = owner.get(address)
    assert chart.headers["Content-Type"] == "image/svg+xml"
    assert "<title>" in chart.text


def test_a_batch_closes_with_its_certificate_once(server: ShopServer, owner: TestClient, batch: int) -> None:
    photograph(server, owner, batch, 1)
    owner.get(f"/batches/{batch}")
    owner.post(f"/batches/{batch}/approve", data={"by": "Kim"})
    closed = owner.post(f"/batches/{batch}/close", data={"by": "Kim"})
    assert ": closed" in closed.text
    assert owner.get(f"/batches/{batch}/certificate.pdf").content.startswith(b"%PDF")
    again = owner.post(f"/batches/{batch}/close", data={"by": "Lee"})
    assert again.status_code == 409
    with reading(server.engine) as connection:
        (kept,) = all_batches(connection, first_shop_id(connection))
    assert kept.closed_by == "Kim"


def test_the_bench_sees_a_batch_and_the_owner_decides(
    server: ShopServer, owner: TestClient, batch: int
) -> None:
    phone = server.phone(owner)
    phone.headers["Accept"] = "text/html"
    photograph(server, phone, batch, 1)
    assert "The owner approves or holds it" in phone.get(f"/batches/{batch}").text
    assert phone.post(f"/batches/{batch}/approve", data={"by": "Kim"}).status_code == 403


def test_another_shop_sees_neither_batch_nor_press(server: ShopServer, owner: TestClient, batch: int) -> None:
    assert owner.get(f"/batches/{batch}").status_code == 200
    theirs = server.second_shop()
    assert "May" not in theirs.get("/batches", headers=PAGE).text
    assert theirs.get(f"/batches/{batch}", headers=PAGE).status_code == 404
    assert "front press" not in theirs.get("/press", headers=PAGE).text


@pytest.mark.usefixtures("batch")
def test_the_press_log_and_a_plan_are_shown(owner: TestClient) -> None:
    page = owner.get("/press").text
    assert "magnet at 380 F" in page
    plan = owner.get("/press/plan?blank=magnet&press=front+press")
    assert plan.status_code == 200
    assert "The map" in plan.text
    picture = owner.get("/press/plan.svg?blank=magnet&press=front+press")
    assert picture.headers["Content-Type"] == "image/svg+xml"
    assert owner.get("/press/plan?blank=none&press=front+press").status_code == 422
