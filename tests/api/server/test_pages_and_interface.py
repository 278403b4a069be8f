"""The HTTP interface does everything that the pages do: each page has its operation, with the same rights."""

import re
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from .shop_server import API, ShopServer
from .test_pages import OWNERS, page_routes

SHOWS = {
    "GET /": ("listArtworks", "listBatches"),
    "GET /artworks": ("listArtworks",),
    "GET /artworks/{artwork_id}": ("getArtwork",),
    "GET /batches": ("listBatches", "listRecipes", "listArtworks"),
    "GET /batches/{number}": ("getBatch",),
    "GET /batches/{number}/certificate.pdf": ("getCertificate",),
    "GET /batches/{number}/charts/{quantity}.svg": ("getBatchChart",),
    "GET /card": ("getCard", "listCardValues"),
    "GET /devices": ("listDevices",),
    "GET /inspections": ("listInspections",),
    "GET /inspections/{public_id}": ("getInspection",),
    "GET /inspections/{public_id}/verdict": ("getInspection",),
    "GET /press": ("listPresses", "listBlanks", "listRecipes", "listPressings", "getPressNotes"),
    "GET /press/plan": ("getPressPlan",),
    "GET /press/plan.svg": ("getPressPlanMap",),
    "GET /settings": ("getSettings", "isReady", "getMetrics"),
}
"""What a program asks to know what a page shows."""

DOES = {
    "POST /artworks": "addArtwork",
    "POST /artworks/{artwork_id}/approved": "approvePiece",
    "POST /artworks/{artwork_id}/approved/{piece_id}/withdraw": "withdrawApproval",
    "POST /artworks/{artwork_id}/retired": "retireArtwork",
    "POST /artworks/{artwork_id}/versions": "replaceArtwork",
    "POST /batches": "startBatch",
    "POST /batches/{number}/approve": "approveFirstPiece",
    "POST /batches/{number}/close": "closeBatch",
    "POST /batches/{number}/hold": "holdFirstPiece",
    "POST /bench": "sendPhoto",
    "POST /card/values": "addCardValues",
    "POST /card/values/{values_id}/withdraw": "withdrawCardValues",
    "POST /devices/pairing": "offerPairing",
    "POST /devices/programs": "addProgram",
    "POST /devices/{device_id}/name": "renameDevice",
    "POST /devices/{device_id}/revoke": "revokeDevice",
    "POST /inspections/{public_id}/judgements": "judgePiece",
    "POST /pair": "pairPhone",
    "POST /press/blanks": "addBlank",
    "POST /press/presses": "addPress",
    "POST /press/pressings": "addPressing",
    "POST /press/recipes": "addRecipe",
    "POST /settings": "changeSettings",
    "POST /sign-in": "signIn",
    "POST /sign-out": "signOut",
}
"""What a program sends to do what a form does."""

FOR_BROWSERS_ONLY = {"GET /sign-in", "GET /pair", "GET /static/{fingerprint}/{name}"}
"""Empty forms, and what pages are drawn with."""

ENDS_THE_SIGN_IN = "signOut"


def operations(app: FastAPI) -> dict[str, tuple[str, str]]:
    """Return method and address of every operation, by its name."""
    return {
        operation["operationId"]: (method.upper(), path)
        for path, methods in app.openapi()["paths"].items()
        for method, operation in methods.items()
    }


def test_every_page_and_form_has_its_operation(server: ShopServer) -> None:
    of_pages = {f"{method} {path}" for method, path in page_routes()}
    assert of_pages == {*SHOWS, *DOES, *FOR_BROWSERS_ONLY}
    named = {*DOES.values(), *(name for names in SHOWS.values() for name in names)}
    assert named - set(operations(server.app)) == set()


def test_a_form_and_its_operation_are_open_to_the_same_people(server: ShopServer, owner: TestClient) -> None:
    phone = server.phone(owner)
    known, refused = operations(server.app), set()
    for form, name in DOES.items():
        method, path = known[name]
        if name == ENDS_THE_SIGN_IN or not path.startswith(API):
            continue
        answer = phone.request(method, re.sub(r"\{\w+\}", "1", path))
        if answer.status_code == 403:
            refused.add(f"{form.removeprefix('POST ')} POST")
    assert refused == {form for form in OWNERS if form.endswith(" POST")}


@pytest.mark.parametrize("name", ["addPress", "addBlank", "addRecipe", "addPressing", "startBatch"])
def test_what_a_program_fills_in_is_described_with_an_example(server: ShopServer, name: str) -> None:
    document: dict[str, Any] = server.app.openapi()
    method, path = operations(server.app)[name]
    body = document["paths"][path][method.lower()]["requestBody"]["content"]["application/json"]["schema"]
    members = document["components"]["schemas"][body["$ref"].rpartition("/")[2]]["properties"]
    assert any("examples" in member for member in members.values())
