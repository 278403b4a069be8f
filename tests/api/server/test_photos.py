"""A photo sent to the shop's server: taken in, inspected, told, and never taken twice."""

from pathlib import Path

import pytest
from starlette.testclient import TestClient

from dyecast_api.work.queue import claim, set_stage

from .shop_server import API, ShopServer, add_artwork, assert_problem, photo, send_photo, shop_server

KEY = "b6a4c1d2e3f40516"


@pytest.fixture
def artwork(owner: TestClient) -> int:
    return add_artwork(owner)


def test_a_photo_is_accepted_and_its_place_told(server: ShopServer, owner: TestClient, artwork: int) -> None:
    answer = send_photo(server.phone(owner), artwork)
    assert answer.status_code == 202
    assert answer.json()["state"] == "waiting"
    waiting = owner.get(answer.headers["Location"]).json()
    assert (waiting["photo"], waiting["artwork_name"]) == ("piece-0.jpg", "Harbour")
    assert server.told == [1]


def test_when_the_worker_is_done_the_verdict_is_there(
    server: ShopServer, owner: TestClient, artwork: int
) -> None:
    place = send_photo(owner, artwork).headers["Location"]
    server.work("under-pressed", delta_e_2000_median=6.5)
    told = owner.get(place).json()
    assert (told["state"], told["verdict"], told["delta_e_2000_median"]) == ("finished", "under-pressed", 6.5)
    assert told["document"]["photo"] == "piece-0.jpg"


def test_a_bare_file_is_as_good_as_a_form(owner: TestClient, artwork: int) -> None:
    address = f"{API}/inspections?artwork={artwork}&name=bare.jpg&paper=taped"
    answer = owner.post(address, content=photo(), headers={"Content-Type": "image/jpeg"})
    assert answer.status_code == 202
    assert (answer.json()["photo"], answer.json()["paper"]) == ("bare.jpg", "taped")


def test_the_same_key_is_the_same_inspection(owner: TestClient, artwork: int) -> None:
    first, again = send_photo(owner, artwork, key=KEY), send_photo(owner, artwork, key=KEY)
    assert (first.status_code, again.status_code) == (202, 200)
    assert first.json()["id"] == again.json()["id"]
    assert len(owner.get(f"{API}/inspections").json()["items"]) == 1


def test_a_key_cannot_be_used_for_another_photo(owner: TestClient, artwork: int) -> None:
    send_photo(owner, artwork, key=KEY)
    assert_problem(send_photo(owner, artwork, seed=2, key=KEY), 422, "key-used-twice")


def test_something_must_be_named_to_compare_with(owner: TestClient) -> None:
    files = {"photo": ("piece.jpg", photo(), "image/jpeg")}
    assert_problem(owner.post(f"{API}/inspections", files=files), 422, "request-invalid")


def test_an_artwork_that_is_not_there_is_not_found(owner: TestClient) -> None:
    assert_problem(send_photo(owner, 99), 404, "not-found")


def test_stages_are_told_as_they_happen_and_then_the_result(
    server: ShopServer, owner: TestClient, artwork: int
) -> None:
    inspection = send_photo(owner, artwork).json()["id"]
    claimed = claim(server.engine, server.clock(), worker="test")
    assert claimed is not None
    set_stage(server.engine, claimed, "finding the card")
    events = []
    with owner.stream("GET", f"{API}/inspections/{inspection}/events") as stream:
        assert stream.headers["Content-Type"].startswith("text/event-stream")
        for line in stream.iter_lines():
            if line.startswith("event:"):
                events.append(line.removeprefix("event:").strip())
                server.clock.forward(minutes=1)  # the lease runs out, and the worker of the test takes over
                server.work()
    assert events[0] == "stage"
    assert events[-1] == "result"


def test_a_finished_inspection_tells_its_result_at_once(
    server: ShopServer, owner: TestClient, artwork: int
) -> None:
    inspection = send_photo(owner, artwork).json()["id"]
    server.work()
    told = owner.get(f"{API}/inspections/{inspection}/events").text
    assert told.startswith("event: result")
    assert '"verdict":"good"' in told


def test_pictures_have_etags_and_stay_in_the_browser(
    server: ShopServer, owner: TestClient, artwork: int
) -> None:
    place = send_photo(owner, artwork).headers["Location"]
    server.work()
    picture = owner.get(owner.get(place).json()["pictures"]["piece"])
    assert picture.headers["Content-Type"] == "image/jpeg"
    assert "immutable" in picture.headers["Cache-Control"]
    again = owner.get(picture.request.url, headers={"If-None-Match": picture.headers["ETag"]})
    assert (again.status_code, again.content) == (304, b"")
    assert_problem(owner.get(f"{place}/pictures/cellar"), 404, "not-found")


def test_the_original_photo_is_given_back(owner: TestClient, artwork: int) -> None:
    place = send_photo(owner, artwork).headers["Location"]
    assert owner.get(f"{place}/original").content[:3] == b"\xff\xd8\xff"


def test_a_person_may_say_otherwise_and_both_are_kept(
    server: ShopServer, owner: TestClient, artwork: int
) -> None:
    place = send_photo(owner, artwork).headers["Location"]
    said = {"verdict": "good", "reason": "Held beside the sample in daylight.", "judged_by": "Kim"}
    assert_problem(owner.post(f"{place}/judgements", json=said), 409, "not-finished")
    server.work("over-pressed")
    assert owner.post(f"{place}/judgements", json=said).status_code == 201
    told = owner.get(place).json()
    assert told["verdict"] == "over-pressed"
    assert told["judgements"][0]["reason"] == "Held beside the sample in daylight."
    assert_problem(owner.post(f"{place}/judgements", json={**said, "reason": " "}), 422, "request-invalid")


def test_a_list_goes_on_by_cursor_however_much_is_added(owner: TestClient, artwork: int) -> None:
    for seed in range(5):
        send_photo(owner, artwork, seed)
    first = owner.get(f"{API}/inspections?limit=2")
    assert [each["photo"] for each in first.json()["items"]] == ["piece-4.jpg", "piece-3.jpg"]
    send_photo(owner, artwork, 5)
    following = first.links["next"]["url"]
    assert [each["photo"] for each in owner.get(following).json()["items"]] == ["piece-2.jpg", "piece-1.jpg"]
    last = owner.get(f"{API}/inspections?limit=2&cursor={owner.get(following).json()['next']}").json()
    assert ([each["photo"] for each in last["items"]], last["next"]) == (["piece-0.jpg"], None)


def test_lists_can_be_narrowed(server: ShopServer, owner: TestClient, artwork: int) -> None:
    for seed, verdict in enumerate(("good", "over-pressed")):
        send_photo(owner, artwork, seed)
        server.work(verdict)
    other = add_artwork(owner, "Mountains")

    def photos(query: str) -> list[str]:
        return [each["photo"] for each in owner.get(f"{API}/inspections?{query}").json()["items"]]

    assert photos("verdict=good") == ["piece-0.jpg"]
    assert photos("search=PIECE-1") == ["piece-1.jpg"]
    assert photos("search=%25") == []  # a percent sign means itself
    assert photos(f"artwork={other}") == []
    assert photos("received_before=2026-05-04T11:00:00Z") == []


def test_all_inspections_leave_as_csv_and_json(server: ShopServer, owner: TestClient, artwork: int) -> None:
    files = {"photo": ("=SUM(1+2).jpg", photo(), "image/jpeg")}
    owner.post(f"{API}/inspections", data={"artwork": str(artwork)}, files=files)
    send_photo(owner, artwork, 1)
    server.work()
    lines = owner.get(f"{API}/inspections.csv").text.splitlines()
    assert lines[0].startswith("id,received_at,")
    assert len(lines) == 3
    assert ",'=SUM(1+2).jpg," in lines[2]  # no spreadsheet takes it for a formula
    assert [each["verdict"] for each in owner.get(f"{API}/inspections.json").json()] == ["good", "good"]


def test_photos_lose_their_place_and_camera_unless_the_owner_wants_them(owner: TestClient) -> None:
    assert owner.get(f"{API}/settings").json() == {"keep_metadata": False, "photo_days": None}
    changed = {"keep_metadata": True, "photo_days": 30}
    assert owner.put(f"{API}/settings", json=changed).json() == changed
    assert owner.get(f"{API}/settings").json() == changed
    assert_problem(owner.put(f"{API}/settings", json={"photo_days": 0}), 422, "request-invalid")


def test_a_too_large_upload_is_refused_and_the_server_stays_up(tmp_path: Path) -> None:
    server = shop_server(tmp_path, photo_mebibytes=1)
    owner = server.owner()
    artwork = add_artwork(owner)
    answer = owner.post(
        f"{API}/inspections?artwork={artwork}",
        content=b"\xff" * (2**20 * 3 // 2),
        headers={"Content-Type": "image/jpeg"},
    )
    assert_problem(answer, 413, "upload-too-large")
    assert owner.get("/healthz").status_code == 200
