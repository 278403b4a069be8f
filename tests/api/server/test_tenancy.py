"""Several shops on one server: none sees or changes what is another's, whatever it asks for."""

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from .press_shop import add_log, added
from .shop_server import API, SAME_ORIGIN, ShopServer, add_artwork, send_photo

OPEN_TO_ALL = {
    "/healthz",
    "/readyz",
    "/metrics",
    f"{API}/sign-in",
    f"{API}/devices POST",
}
"""What needs no sign-in: it tells nothing of a shop, or is how one signs in."""

ONE_OF_A_SHOP = "{"
"""Addresses with a place for an identifier name something that belongs to a shop."""


def routes(app: FastAPI) -> list[tuple[str, str]]:
    """Return method and pattern of every route of the interface."""
    paths = app.openapi()["paths"]
    return [(method.upper(), path) for path, methods in paths.items() for method in methods]


def test_every_route_but_the_few_named_wants_a_sign_in(server: ShopServer) -> None:
    client = server.client()
    answers = {}
    for method, path in routes(server.app):
        if path in OPEN_TO_ALL or f"{path} {method}" in OPEN_TO_ALL or not path.startswith(API):
            continue
        address = path.replace("{public_id}", "x").replace("{name}", "x")
        for name in ("artwork_id", "number", "piece_id", "device_id", "values_id", "quantity"):
            address = address.replace("{" + name + "}", "1")
        answers[method, path] = client.request(method, address, headers=SAME_ORIGIN).status_code
    assert len(answers) > 20
    assert {route: status for route, status in answers.items() if status != 401} == {}


def test_another_shop_finds_none_of_what_a_shop_has(server: ShopServer, owner: TestClient) -> None:
    artwork = add_artwork(owner)
    inspection = send_photo(owner, artwork).json()["id"]
    server.work()
    owner.post(f"{API}/artworks/{artwork}/approved", json={"inspection": inspection, "approved_by": "Kim"})
    batch = {"name": "May", "recipe": add_log(owner).recipe, "artwork": artwork}
    assert added(owner, "batches", batch)["id"] == 1
    piece = owner.get(f"{API}/artworks/{artwork}").json()["approved"][0]["id"]
    device = owner.get(f"{API}/me").json()["id"]
    values = {
        "public_id": inspection,
        "name": "piece",
        "artwork_id": artwork,
        "number": 1,
        "quantity": "veil",
        "piece_id": piece,
        "device_id": device,
        "values_id": 1,
    }
    theirs = server.second_shop()
    answers = {}
    for method, path in routes(server.app):
        if not (path.startswith(API) and ONE_OF_A_SHOP in path):
            continue
        address = path.format(**values)
        files = {"file": ("x.png", b"x", "image/png")} if path.endswith("/versions") else None
        body = None if method in {"GET", "DELETE"} or files else BODIES[path.rpartition("/")[2]]
        answers[method, path] = theirs.request(method, address, json=body, files=files).status_code
    assert len(answers) > 16
    assert {route: status for route, status in answers.items() if status != 404} == {}


BODIES = {
    "judgements": {"verdict": "good", "reason": "mine", "judged_by": "them"},
    "approve": {"by": "them"},
    "hold": {"by": "them", "reason": "mine"},
    "close": {"by": "them"},
    "approved": {"inspection": "x", "approved_by": "them"},
    "retired": {"retired": True},
    "{device_id}": {"name": "theirs"},
}
"""What is sent to addresses whose patterns end so."""


@pytest.mark.parametrize(
    "path",
    ["inspections", "artworks", "card-values", "inspections.json", "batches", "recipes", "press-notes"],
)
def test_lists_of_another_shop_are_empty(server: ShopServer, owner: TestClient, path: str) -> None:
    send_photo(owner, add_artwork(owner))
    add_log(owner)
    told = server.second_shop().get(f"{API}/{path}").json()
    assert (told.get("items", told.get("notes")) if isinstance(told, dict) else told) == []


def test_a_photo_cannot_be_judged_by_another_shops_artwork(server: ShopServer, owner: TestClient) -> None:
    artwork = add_artwork(owner)
    assert send_photo(server.second_shop(), artwork).status_code == 404


def test_a_key_of_one_shop_means_nothing_in_another(server: ShopServer, owner: TestClient) -> None:
    theirs = server.second_shop()
    ours = send_photo(owner, add_artwork(owner), key="b6a4c1d2e3f40516")
    other = send_photo(theirs, add_artwork(theirs), key="b6a4c1d2e3f40516")
    assert other.status_code == 202
    assert other.json()["id"] != ours.json()["id"]


def test_with_two_shops_the_owner_says_which(server: ShopServer) -> None:
    server.second_shop()
    client = server.client()
    assert client.post(f"{API}/sign-in", json={"passphrase": server.passphrase}).status_code == 401
    named = {"passphrase": server.passphrase, "shop": "shop"}
    assert client.post(f"{API}/sign-in", json=named).status_code == 201
