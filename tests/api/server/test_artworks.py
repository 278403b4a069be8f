"""Artworks on the server: added, replaced by a new version, retired; the pieces approved as good."""

from io import BytesIO

import pytest
from PIL import Image
from starlette.testclient import TestClient

from .shop_server import API, ShopServer, add_artwork, assert_problem, photo, send_photo


def png(shade: int = 90) -> bytes:
    stream = BytesIO()
    Image.new("RGB", (160, 120), (shade, 60, 120)).save(stream, "PNG")
    return stream.getvalue()


def test_an_artwork_comes_back_as_it_was_sent(owner: TestClient) -> None:
    number = add_artwork(owner, content=png())
    told = owner.get(f"{API}/artworks/{number}").json()
    assert (told["name"], told["newest"]["number"]) == ("Harbour", 1)
    file = owner.get(told["file"])
    assert (file.content, file.headers["Content-Type"]) == (png(), "image/png")


def test_a_new_version_replaces_it_and_old_inspections_keep_theirs(owner: TestClient) -> None:
    number = add_artwork(owner, content=png(90))
    send_photo(owner, number)
    files = {"file": ("harbour-2.png", png(200), "image/png")}
    size = {"print_width_mm": "90", "print_height_mm": "60"}
    told = owner.post(f"{API}/artworks/{number}/versions", data=size, files=files).json()
    assert [each["number"] for each in told["versions"]] == [2, 1]
    assert told["newest"]["print_width_mm"] == 90
    assert owner.get(f"{API}/artworks/{number}/versions/1/file").content == png(90)
    assert owner.get(f"{API}/inspections?artwork={number}").json()["items"][0]["photo"] == "piece-0.jpg"


def test_names_are_given_once(owner: TestClient) -> None:
    add_artwork(owner)
    files = {"file": ("other.png", png(), "image/png")}
    assert_problem(owner.post(f"{API}/artworks", data={"name": "Harbour"}, files=files), 409, "name-taken")


@pytest.mark.parametrize(
    ("content", "status", "code"),
    [(b"", 422, "file-unreadable"), (b"notes", 415, "not-a-picture"), (png()[:60], 422, "picture-damaged")],
    ids=["empty", "a text", "cut off"],
)
def test_a_file_that_is_no_artwork_is_refused_at_once(
    owner: TestClient, content: bytes, status: int, code: str
) -> None:
    files = {"file": ("art.png", content, "image/png")}
    assert_problem(owner.post(f"{API}/artworks", data={"name": "x"}, files=files), status, code)
    assert owner.get(f"{API}/artworks").json() == []


def test_one_side_of_a_print_is_not_enough(owner: TestClient) -> None:
    files = {"file": ("art.png", png(), "image/png")}
    answer = owner.post(f"{API}/artworks", data={"name": "x", "print_width_mm": "90"}, files=files)
    assert_problem(answer, 422, "bad-input")


def test_a_printer_profile_that_is_none_is_refused(owner: TestClient) -> None:
    files = {"file": ("art.png", png(), "image/png"), "printer_profile": ("p.icc", b"none", "text/plain")}
    assert_problem(owner.post(f"{API}/artworks", data={"name": "x"}, files=files), 422, "profile-unusable")


def test_a_retired_artwork_leaves_the_list_and_can_come_back(owner: TestClient) -> None:
    number = add_artwork(owner)
    assert owner.put(f"{API}/artworks/{number}/retired", json={"retired": True}).json()["retired_at"]
    assert owner.get(f"{API}/artworks").json() == []
    assert len(owner.get(f"{API}/artworks?retired=true").json()) == 1
    owner.put(f"{API}/artworks/{number}/retired", json={"retired": False})
    assert len(owner.get(f"{API}/artworks").json()) == 1


def test_a_good_piece_can_be_approved_and_withdrawn(server: ShopServer, owner: TestClient) -> None:
    number = add_artwork(owner)
    inspection = send_photo(owner, number).json()["id"]
    approval = {"inspection": inspection, "approved_by": "Kim"}
    place = f"{API}/artworks/{number}/approved"
    assert_problem(owner.post(place, json=approval), 409, "not-finished")
    server.work()
    for _ in range(2):  # saying it twice changes nothing
        approved = owner.post(place, json=approval).json()["approved"]
    assert [each["approved_by"] for each in approved] == ["Kim"]
    assert owner.delete(f"{place}/{approved[0]['id']}").status_code == 204
    assert owner.get(f"{API}/artworks/{number}").json()["approved"] == []
    assert_problem(owner.delete(f"{place}/{approved[0]['id']}"), 404, "not-found")


def test_a_piece_of_another_artwork_cannot_be_approved(server: ShopServer, owner: TestClient) -> None:
    inspection = send_photo(owner, add_artwork(owner)).json()["id"]
    server.work()
    other = add_artwork(owner, "Mountains")
    answer = owner.post(
        f"{API}/artworks/{other}/approved", json={"inspection": inspection, "approved_by": "Kim"}
    )
    assert_problem(answer, 404, "not-found")


def test_only_the_owner_changes_artworks(server: ShopServer, owner: TestClient) -> None:
    phone = server.phone(owner)
    files = {"file": ("art.png", photo(), "image/png")}
    assert_problem(phone.post(f"{API}/artworks", data={"name": "x"}, files=files), 403, "owner-needed")
