"""Batches over HTTP: all that their pages do, for programs."""

import json
from typing import Any

import jsonschema
import pytest
from starlette.testclient import TestClient

from dyecast_api.batches.certificate import certificate_schema

from .press_shop import add_log, added, photograph, start_batch
from .shop_server import API, ShopServer, add_artwork, assert_problem, photo


def batch_of(client: TestClient, number: int) -> dict[str, Any]:
    told: dict[str, Any] = client.get(f"{API}/batches/{number}").json()
    return told


def said(client: TestClient, number: int, step: str, **body: Any) -> Any:
    """Decide on a batch as Kim."""
    return client.post(f"{API}/batches/{number}/{step}", json={"by": "Kim", **body})


def approved(server: ShopServer, owner: TestClient, pieces: int, **more: Any) -> int:
    """Start a batch, approve its first piece, and photograph more up to this many; return its number."""
    number = start_batch(owner, **more)
    photograph(server, owner, number, 0)
    assert said(owner, number, "approve").status_code == 200
    for seed in range(1, pieces):
        photograph(server, owner, number, seed, 0.95 + 0.01 * (seed % 3))
    return number


def test_a_batch_lives_from_its_start_to_its_certificate(server: ShopServer, owner: TestClient) -> None:
    number = start_batch(owner, planned_pieces=20)
    assert batch_of(owner, number)["state"] == "started"
    photograph(server, owner, number, 1)
    first = batch_of(owner, number)
    assert (first["must_decide"], first["first_piece"]) == (True, 1)
    assert said(owner, number, "approve").json()["decided_by"] == "Kim"
    photograph(server, owner, number, 2)
    closed = said(owner, number, "close", reason="done").json()
    assert (closed["state"], closed["inspected_pieces"]) == ("closed", 2)
    pdf = owner.get(closed["certificate"])
    assert pdf.headers["Content-Type"] == "application/pdf"
    assert pdf.content.startswith(b"%PDF")
    document = owner.get(f"{API}/batches/{number}/certificate.json").json()
    jsonschema.validate(document, json.loads(certificate_schema()))
    assert document["counts"]["inspected"] == 2


def test_pieces_come_with_their_figures_their_uncertainty_and_their_inspection(
    server: ShopServer, owner: TestClient
) -> None:
    number = start_batch(owner)
    inspection = photograph(server, owner, number, 1, 0.93)
    (piece,) = batch_of(owner, number)["pieces"]
    ink = {"value": 0.93, "standard_uncertainty": 0.03}
    assert piece["measured"]["transferred-fraction"] == ink
    assert owner.get(f"{API}/inspections/{piece['inspection']}").json()["id"] == inspection


def test_charts_are_numbers_words_and_pictures(server: ShopServer, owner: TestClient) -> None:
    number = approved(server, owner, 9)
    batch = batch_of(owner, number)
    assert batch["process"] == "process-steady"
    assert any("steady" in sentence for sentence in batch["sentences"])
    charts = {chart["quantity"]: chart for chart in batch["charts"]}
    ink = charts["transferred-fraction"]
    lines = ink["individuals"]
    assert ink["pieces"] == list(range(1, 10))
    assert len(lines["values"]) == len(lines["upper_limits"]) == 9
    assert lines["lower_limits"][0] < lines["centre"] < lines["upper_limits"][0]
    assert ink["provisional"] is True
    assert (ink["scale"], ink["unit"]) == (100.0, "%")
    picture = owner.get(ink["picture"])
    assert picture.headers["Content-Type"] == "image/svg+xml"
    assert_problem(owner.get(f"{API}/batches/{number}/charts/weight.svg"), 404, "not-found")


def test_without_limits_a_chart_says_why(server: ShopServer, owner: TestClient) -> None:
    number = approved(server, owner, 2)
    chart = batch_of(owner, number)["charts"][0]
    assert chart["individuals"] is None
    assert "Only 2 of the 8 pieces" in chart["why_no_limits"]


def test_a_batch_is_started_on_the_newest_version_of_an_artwork(owner: TestClient) -> None:
    artwork = add_artwork(owner)
    files = {"file": ("harbour-2.png", photo(2), "image/png")}
    owner.post(f"{API}/artworks/{artwork}/versions", files=files)
    body = {"name": "May", "recipe": add_log(owner).recipe, "artwork": artwork}
    assert added(owner, "batches", body)["artwork_name"] == "harbour-2.png"


def test_lot_acceptance_needs_a_number_of_pieces_and_decides_how_many_are_inspected(
    server: ShopServer, owner: TestClient
) -> None:
    body = {"name": "May", "recipe": add_log(owner).recipe, "artwork": add_artwork(owner)}
    refused = owner.post(f"{API}/batches", json={**body, "quality_limit_percent": 2.5})
    assert_problem(refused, 422, "batch-invalid")
    assert refused.json()["field"] == "planned_pieces"
    wanted = {"quality_limit_percent": 2.5, "planned_pieces": 500}
    batch = added(owner, "batches", {**body, **wanted})
    assert batch["sampling"] == {"quality_limit_percent": 2.5, "severity": "normal"}
    assert (batch["acceptance"]["sample_size"], batch["every_nth"]) == (50, 10)  # ISO 2859-1, letter H
    photograph(server, owner, batch["id"], 1)
    assert said(owner, batch["id"], "approve").json()["acceptance"]["still_to_inspect"] == 49


def test_decisions_that_cannot_be_are_problems_that_name_what_is_missing(
    server: ShopServer, owner: TestClient
) -> None:
    number = start_batch(owner)
    assert_problem(said(owner, number, "approve"), 422, "batch-invalid")
    photograph(server, owner, number, 1)
    held = said(owner, number, "hold")
    assert_problem(held, 422, "batch-invalid")
    assert held.json()["field"] == "reason"
    assert_problem(owner.post(f"{API}/batches/{number}/hold", json={"by": " "}), 422, "request-invalid")
    assert_problem(owner.get(f"{API}/batches/{number}/certificate.pdf"), 422, "batch-invalid")
    assert said(owner, number, "hold", reason="a scratch").json()["state"] == "held"


def test_a_closed_batch_is_closed_once_and_given_up_for_a_reason_only(owner: TestClient) -> None:
    number = start_batch(owner)
    assert_problem(said(owner, number, "close"), 422, "batch-invalid")
    assert said(owner, number, "close", give_up=True).json()["field"] == "reason"
    given_up = said(owner, number, "close", give_up=True, reason="the order was withdrawn").json()
    assert (given_up["state"], given_up["certificate"]) == ("closed", None)
    assert_problem(said(owner, number, "close"), 409, "batch-changed")


def test_the_bench_reads_and_the_owner_decides(server: ShopServer, owner: TestClient) -> None:
    number = start_batch(owner)
    phone = server.phone(owner)
    photograph(server, phone, number, 1)
    assert batch_of(phone, number)["must_decide"]
    for step in ("approve", "hold", "close"):
        assert_problem(said(phone, number, step, reason="x"), 403, "owner-needed")
    body = {"name": "June", "recipe": 1, "artwork": 1}
    assert_problem(phone.post(f"{API}/batches", json=body), 403, "owner-needed")


def test_the_list_is_read_page_by_page_with_the_newest_first(owner: TestClient) -> None:
    recipe, artwork = add_log(owner).recipe, add_artwork(owner)
    for name in "abcde":
        added(owner, "batches", {"name": name, "recipe": recipe, "artwork": artwork})
    names, address = [], f"{API}/batches?limit=2"
    while address:
        answer = owner.get(address)
        names.append("".join(one["name"] for one in answer.json()["items"]))
        address = answer.links.get("next", {}).get("url", "")
    assert names == ["ed", "cb", "a"]


@pytest.mark.parametrize("name", ["May", " "])
def test_a_name_that_is_taken_or_none_is_refused(owner: TestClient, name: str) -> None:
    number = start_batch(owner)
    recipe = batch_of(owner, number)["recipe"]
    body = {"name": name, "recipe": recipe, "artwork": 1}
    assert_problem(owner.post(f"{API}/batches", json=body), 422, "batch-invalid")


def test_another_shop_neither_sees_nor_uses_nor_decides_anything(
    server: ShopServer, owner: TestClient
) -> None:
    number = start_batch(owner)
    photograph(server, owner, number, 1)
    theirs = server.second_shop()
    assert theirs.get(f"{API}/batches").json()["items"] == []
    mine = {"recipe": batch_of(owner, number)["recipe"], "artwork": 1}
    own = {"recipe": add_log(theirs).recipe, "artwork": add_artwork(theirs)}
    for crossed in ({**own, "recipe": mine["recipe"]}, {**own, "artwork": mine["artwork"]}):
        assert_problem(theirs.post(f"{API}/batches", json={"name": "x", **crossed}), 404, "not-found")
    for step in ("approve", "hold", "close"):
        assert_problem(said(theirs, number, step, reason="x"), 404, "not-found")
    for path in ("", "/certificate.pdf", "/certificate.json", "/charts/veil.svg"):
        assert_problem(theirs.get(f"{API}/batches/{number}{path}"), 404, "not-found")
    assert batch_of(owner, number)["must_decide"]
