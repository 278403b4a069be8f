"""Whatever goes wrong on a page or for a program is said without a word of the command line."""

import re
from typing import Any

import pytest
from starlette.testclient import TestClient

from .press_shop import MAGNET, added, photograph, start_batch
from .shop_server import API, ShopServer

COMMAND_LINE = re.compile(r"(?<![\w-])--[a-z]|dyecast (batch|press|plan|worth|calibrate|inspect|serve) ")

FORMS: list[tuple[str, dict[str, str]]] = [
    ("/press/presses", {"name": ""}),
    ("/press/presses", {"name": "front press"}),
    ("/press/presses", {"name": "x", "hottest": "600F"}),
    ("/press/presses", {"name": "x", "hottest": "110C"}),
    ("/press/presses", {"name": "x", "hottest": "210"}),
    ("/press/blanks", {"name": "x", "material": "glass"}),
    ("/press/blanks", {"name": "x", "material": "cheese", "thickness": "4"}),
    ("/press/blanks", {"name": "x", "material": "glass", "thickness": "4", "supplier_time": "60"}),
    ("/press/blanks", {"name": "x", "material": "glass", "thickness": "4", "cost": "dear"}),
    ("/press/blanks", {"name": "x", "material": "glass", "thickness": "4", "coating_side": "edge"}),
    ("/press/blanks", {"name": "x", "material": "glass", "thickness": "4", "currency": "E"}),
    ("/press/blanks", {"name": "x", "material": "glass", "thickness": "4", "shortest": "9", "longest": "8"}),
    ("/press/recipes", {"name": "x"}),
    ("/press/recipes", {"name": "x", "press": "1", "blank": "1", "temperature": "190C", "time": "long"}),
    ("/press/recipes", {"name": "x", "press": "1", "blank": "1", "temperature": "230C", "time": "60"}),
    ("/press/recipes", {"name": "x", "press": "9", "blank": "1", "temperature": "190C", "time": "60"}),
    ("/press/pressings", {"recipe": "1"}),
    ("/press/pressings", {"recipe": "1", "grade": "fine", "judged_by": "Kim"}),
    ("/press/pressings", {"recipe": "1", "grade": "good", "judged_by": "dyecast"}),
    ("/press/pressings", {"recipe": "1", "grade": "good", "judged_by": "Kim", "pressed_at": "14:30"}),
    ("/press/pressings", {"recipe": "1", "grade": "good", "judged_by": "Kim", "pressed_on": "today"}),
    ("/press/pressings", {"recipe": "1", "grade": "good", "judged_by": "Kim", "temperature": "100C"}),
    ("/press/pressings", {"recipe": "1", "inspection": "none"}),
    ("/batches", {"name": "x"}),
    ("/batches", {"name": "May", "recipe": "1", "artwork": "1"}),
    ("/batches", {"name": "x", "recipe": "1", "artwork": "1", "tightened": "yes"}),
    ("/batches", {"name": "x", "recipe": "1", "artwork": "1", "quality_limit_percent": "2.5"}),
    ("/batches/1/approve", {"by": " "}),
    ("/batches/1/approve", {"by": "Kim"}),
    ("/batches/1/hold", {"by": "Kim"}),
    ("/batches/1/close", {"by": "Kim"}),
    ("/batches/9/close", {"by": "Kim"}),
]
"""Forms with something wrong, on a shop whose batch has no first piece yet."""

REQUESTS: list[tuple[str, dict[str, Any]]] = [
    ("presses", {"name": "x", "highest_temperature_celsius": 110}),
    ("blanks", {**MAGNET, "name": "x", "supplier_time_seconds": None}),
    ("blanks", {**MAGNET, "name": "x", "thickness_mm": 0}),
    ("pressings", {"recipe": 1, "grade": "good"}),
    ("batches", {"name": "x", "recipe": 1, "artwork": 1, "quality_limit_percent": 2.5}),
    ("batches/1/close", {"by": "Kim", "give_up": True}),
    ("batches/1/close", {"by": "Kim"}),
]


def assert_plain(text: str) -> None:
    found = COMMAND_LINE.search(text)
    assert found is None, text[max(0, found.start() - 80) : found.end() + 80]


@pytest.fixture
def desk(owner: TestClient) -> TestClient:
    """The owner's browser, on a shop with a batch that was just started."""
    start_batch(owner)
    owner.headers["Accept"] = "text/html"
    return owner


def test_a_form_with_something_wrong_is_answered_in_the_fields_words(desk: TestClient) -> None:
    for path, form in FORMS:
        answer = desk.post(path, data=form)
        assert answer.status_code in {404, 409, 422}, (path, form)
        assert_plain(answer.text)


def test_a_request_with_something_wrong_is_answered_in_the_fields_words(desk: TestClient) -> None:
    for path, body in REQUESTS:
        answer = desk.post(f"{API}/{path}", json=body)
        assert answer.status_code in {404, 409, 422}, (path, body)
        assert_plain(answer.text)


def test_pages_of_a_batch_say_what_to_do_without_a_command(server: ShopServer, desk: TestClient) -> None:
    photograph(server, desk, 1, 1)
    assert_plain(desk.get("/batches/1").text)
    assert_plain(desk.get(f"{API}/batches/1").text)
    desk.post("/batches/1/hold", data={"by": "Kim", "reason": "x"})
    assert_plain(desk.get("/batches/1").text)
    photograph(server, desk, 1, 2)
    desk.post("/batches/1/approve", data={"by": "Kim"})
    for path in ("/batches/1/approve", "/batches/1/hold"):
        assert_plain(desk.post(path, data={"by": "Lee", "reason": "x"}).text)
    desk.post("/batches/1/close", data={"by": "Kim"})
    for path in ("/batches/1/close", "/batches/1/approve"):
        assert_plain(desk.post(path, data={"by": "Lee", "reason": "x"}).text)


def test_a_plan_that_cannot_be_made_says_why_without_a_command(desk: TestClient) -> None:
    added(desk, "blanks", {"name": "bare", "material": "glass", "thickness_mm": 4})
    warm = {**MAGNET, "name": "warm", "lowest_temperature_celsius": 190}
    added(desk, "blanks", warm)
    added(desk, "presses", {"name": "cool", "highest_temperature_celsius": 150})
    for blank, press in (("bare", "cool"), ("warm", "cool"), ("none", "cool"), ("bare", "none")):
        answer = desk.get("/press/plan", params={"blank": blank, "press": press})
        assert answer.status_code == 422
        assert_plain(answer.text)


def test_the_inspection_of_a_batchs_piece_is_refused_without_a_command(
    server: ShopServer, desk: TestClient
) -> None:
    inspection = photograph(server, desk, 1, 1)
    form = {"recipe": "1", "inspection": inspection}
    assert_plain(desk.post("/press/pressings", data=form).text)


def test_the_check_would_see_an_option() -> None:
    for told in ("Say why with --reason.", "'dyecast press list' shows them."):
        with pytest.raises(AssertionError):
            assert_plain(told)
