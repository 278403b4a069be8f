"""Who may speak for a shop: the owner by passphrase, phones by a one-time code, programs by a token."""

import pytest
from sqlalchemy import select
from starlette.testclient import TestClient

from dyecast_api.server.first_start import first_passphrase
from dyecast_api.store.database import reading
from dyecast_api.store.shop_tables import devices, pairings, shops

from .shop_server import API, ShopServer, assert_problem


def test_the_first_start_makes_a_passphrase_and_a_second_start_does_not(server: ShopServer) -> None:
    assert len(server.passphrase) == 24
    assert first_passphrase(server.engine) is None


def test_the_passphrase_is_kept_as_an_argon2_hash_only(server: ShopServer) -> None:
    with reading(server.engine) as connection:
        kept = connection.execute(select(shops.c.passphrase_hash)).scalar_one()
    assert kept.startswith("$argon2id$")
    assert server.passphrase not in kept


def test_the_owner_signs_in_and_is_known_from_then_on(owner: TestClient) -> None:
    me = owner.get(f"{API}/me").json()
    assert (me["kind"], me["role"]) == ("browser", "owner")


def test_the_cookie_is_closed_to_scripts_and_other_sites(server: ShopServer) -> None:
    answer = server.client().post(f"{API}/sign-in", json={"passphrase": server.passphrase})
    cookie = answer.headers["Set-Cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=strict" in cookie


def test_a_wrong_passphrase_is_refused_and_guessing_is_slowed_down(server: ShopServer) -> None:
    client = server.client()
    answers = [client.post(f"{API}/sign-in", json={"passphrase": "guess"}) for _ in range(11)]
    assert_problem(answers[0], 401, "passphrase-wrong")
    assert_problem(answers[-1], 429, "too-many-requests")
    assert answers[-1].headers["Retry-After"] == "60"


def test_without_a_sign_in_nothing_is_told(server: ShopServer) -> None:
    answer = server.client().get(f"{API}/inspections")
    assert_problem(answer, 401, "sign-in-needed")
    assert answer.headers["WWW-Authenticate"] == "Bearer"


def test_a_phone_is_paired_once_by_a_code_from_the_owner(server: ShopServer, owner: TestClient) -> None:
    offer = owner.post(f"{API}/pairings", json={}).json()
    assert offer["address"].endswith(f"/pair#{offer['code']}")
    phone = server.client()
    assert phone.post(f"{API}/devices", json={"code": offer["code"].lower()}).status_code == 201
    assert phone.get(f"{API}/me").json()["role"] == "bench"
    assert_problem(
        server.client().post(f"{API}/devices", json={"code": offer["code"]}), 410, "pairing-unusable"
    )


def test_a_code_is_good_for_five_minutes(server: ShopServer, owner: TestClient) -> None:
    code = owner.post(f"{API}/pairings", json={}).json()["code"]
    server.clock.forward(minutes=5, seconds=1)
    assert_problem(server.client().post(f"{API}/devices", json={"code": code}), 410, "pairing-unusable")


def test_codes_and_tokens_are_kept_as_hashes_only(server: ShopServer, owner: TestClient) -> None:
    code = owner.post(f"{API}/pairings", json={}).json()["code"]
    token = owner.post(f"{API}/programs", json={"name": "till"}).json()["token"]
    with reading(server.engine) as connection:
        kept = " ".join(connection.execute(select(pairings.c.code_hash)).scalars())
        kept += " ".join(connection.execute(select(devices.c.token_hash)).scalars())
    assert code not in kept
    assert token not in kept


def test_a_revoked_phone_is_out_at_once(server: ShopServer, owner: TestClient) -> None:
    phone = server.phone(owner)
    number = phone.get(f"{API}/me").json()["id"]
    assert owner.delete(f"{API}/devices/{number}").status_code == 204
    assert_problem(phone.get(f"{API}/me"), 401, "sign-in-needed")
    assert any(each["revoked_at"] for each in owner.get(f"{API}/devices").json())


def test_a_device_can_sign_itself_out(server: ShopServer, owner: TestClient) -> None:
    phone = server.phone(owner)
    assert phone.post(f"{API}/sign-out").status_code == 204
    assert_problem(phone.get(f"{API}/me"), 401, "sign-in-needed")


def test_a_program_speaks_with_its_token(server: ShopServer, owner: TestClient) -> None:
    assert server.program(owner).get(f"{API}/artworks").status_code == 200


@pytest.mark.parametrize("path", ["devices", "settings"])
def test_the_bench_may_not_do_what_is_the_owners(server: ShopServer, owner: TestClient, path: str) -> None:
    assert_problem(server.phone(owner).get(f"{API}/{path}"), 403, "owner-needed")


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "http://elsewhere.example"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Origin": ""},
        {"Origin": "null"},
    ],
    ids=["another origin", "cross-site", "no origin", "a hidden origin"],
)
def test_another_site_cannot_use_the_cookie(owner: TestClient, headers: dict[str, str]) -> None:
    answer = owner.post(f"{API}/pairings", json={}, headers=headers)
    assert_problem(answer, 403, "foreign-origin")


def test_a_program_needs_no_origin(server: ShopServer, owner: TestClient) -> None:
    answer = server.program(owner, "owner").post(f"{API}/pairings", json={})
    assert answer.status_code == 201


def test_a_device_is_seen_at_most_once_a_minute(server: ShopServer, owner: TestClient) -> None:
    def last_seen() -> str:
        return str(owner.get(f"{API}/me").json()["last_seen_at"])

    first = last_seen()
    server.clock.forward(seconds=30)
    assert last_seen() == first
    server.clock.forward(seconds=31)
    assert last_seen() > first
