"""What devices are called: by what their browser says it runs on, numbered, and by the owner's word."""

import pytest
from starlette.testclient import TestClient

from dyecast_api.server.device_names import free_name, name_by_browser

from .shop_server import API, ShopServer, assert_problem

IPHONE = (
    "Mozilla/5.0 (iPhone; CPU iPhone OS 17_4 like Mac OS X) AppleWebKit/605.1.15 (KHTML, like Gecko) "
    "Version/17.4 Mobile/15E148 Safari/604.1"
)
ANDROID = (
    "Mozilla/5.0 (Linux; Android 10; K) AppleWebKit/537.36 (KHTML, like Gecko) Chrome/124.0.0.0 "
    "Mobile Safari/537.36"
)


def paired(server: ShopServer, owner: TestClient, user_agent: str, **more: str) -> tuple[TestClient, str]:
    """Pair a phone by the interface; return it and its name."""
    phone = server.client()
    phone.headers["User-Agent"] = user_agent
    code = owner.post(f"{API}/pairings", json={}).json()["code"]
    answer = phone.post(f"{API}/devices", json={"code": code, **more})
    assert answer.status_code == 201
    return phone, answer.json()["name"]


def number_of(client: TestClient) -> int:
    number: int = client.get(f"{API}/me").json()["id"]
    return number


@pytest.mark.parametrize(
    ("user_agent", "name"),
    [
        (IPHONE, "iPhone"),
        (ANDROID, "Android phone"),
        ("Mozilla/5.0 (Android 14; Mobile; rv:125.0) Gecko/125.0 Firefox/125.0", "Android phone"),
        ("Mozilla/5.0 (Android 14; Tablet; rv:125.0) Gecko/125.0 Firefox/125.0", "Android tablet"),
        ("Mozilla/5.0 (iPad; CPU OS 12_5 like Mac OS X) Version/12.1 Mobile/15E148 Safari/604.1", "iPad"),
        ("Mozilla/5.0 (Windows NT 10.0; Win64; x64; rv:125.0) Gecko/20100101 Firefox/125.0", "Computer"),
        ("Mozilla/5.0 (Macintosh; Intel Mac OS X 10_15_7) Version/17.4 Safari/605.1.15", "Computer"),
        ("Mozilla/5.0 (X11; Linux x86_64; rv:125.0) Gecko/20100101 Firefox/125.0", "Computer"),
        ("something else", "Phone"),
        ("", "Phone"),
    ],
)
def test_a_device_is_called_by_what_its_browser_runs_on(user_agent: str, name: str) -> None:
    assert name_by_browser(user_agent, "Phone") == name


def test_a_long_name_is_cut_so_that_its_number_fits() -> None:
    assert free_name("a" * 200, {"a" * 200}) == "a" * 190 + " 2"


def test_phones_of_one_kind_are_numbered_and_a_revoked_one_gives_its_name_free(
    server: ShopServer, owner: TestClient
) -> None:
    first, name = paired(server, owner, IPHONE)
    assert name == "iPhone"
    assert paired(server, owner, IPHONE)[1] == "iPhone 2"
    assert paired(server, owner, ANDROID)[1] == "Android phone"
    assert paired(server, owner, ANDROID, device_name="At the press")[1] == "At the press"
    owner.delete(f"{API}/devices/{number_of(first)}")
    assert paired(server, owner, IPHONE)[1] == "iPhone"


def test_the_pairing_page_offers_the_name_and_an_empty_one_is_as_good(
    server: ShopServer, owner: TestClient
) -> None:
    phone = server.client()
    phone.headers["User-Agent"] = ANDROID
    assert 'value="Android phone"' in phone.get("/pair").text
    code = owner.post(f"{API}/pairings", json={}).json()["code"]
    phone.post("/pair", data={"code": code, "device_name": " "})
    assert phone.get(f"{API}/me").json()["name"] == "Android phone"


def test_the_owner_renames_a_device_by_the_interface_and_on_the_page(
    server: ShopServer, owner: TestClient
) -> None:
    phone, _ = paired(server, owner, IPHONE)
    address = f"{API}/devices/{number_of(phone)}"
    told = owner.patch(address, json={"name": "  At the press "})
    assert (told.status_code, told.json()["name"]) == (200, "At the press")
    assert owner.patch(address, json={"name": "At the press"}).status_code == 200  # its own name is free
    owner.post(f"/devices/{number_of(phone)}/name", data={"name": "At the window"})
    assert "At the window" in owner.get("/devices").text
    assert phone.get(f"{API}/me").json()["name"] == "At the window"


def test_two_devices_are_not_called_alike(server: ShopServer, owner: TestClient) -> None:
    phone, _ = paired(server, owner, IPHONE)
    paired(server, owner, ANDROID, device_name="At the press")
    renamed = owner.patch(f"{API}/devices/{number_of(phone)}", json={"name": "At the press"})
    assert_problem(renamed, 409, "name-taken")


def test_nobody_else_renames_a_device(server: ShopServer, owner: TestClient) -> None:
    phone, _ = paired(server, owner, IPHONE)
    address, wanted = f"{API}/devices/{number_of(phone)}", {"name": "mine"}
    assert_problem(phone.patch(address, json=wanted), 403, "owner-needed")
    assert_problem(server.second_shop().patch(address, json=wanted), 404, "not-found")
    assert_problem(owner.patch(f"{API}/devices/99", json=wanted), 404, "not-found")
    assert_problem(owner.patch(address, json={"name": " "}), 422, "request-invalid")
