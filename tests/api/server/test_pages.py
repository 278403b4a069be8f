"""The pages without a browser: who sees what, what forms do, and text that means harm."""

import re
from html.parser import HTMLParser

import pytest
from fastapi.routing import APIRoute
from sqlalchemy import insert
from starlette.testclient import TestClient

from dyecast_api.server.pages import ROUTERS
from dyecast_api.store.batch_tables import batches
from dyecast_api.store.database import writing
from dyecast_api.store.press_tables import blanks, presses, recipes

from .shop_server import API, HOST, ShopServer, add_artwork, photo, send_photo

HTML = {"Accept": "text/html"}

OPEN_TO_ALL = {"/sign-in", "/pair", "/static/{fingerprint}/{name}"}

OWNERS = {
    "/artworks POST",
    "/artworks/{artwork_id}/versions POST",
    "/artworks/{artwork_id}/retired POST",
    "/artworks/{artwork_id}/approved POST",
    "/artworks/{artwork_id}/approved/{piece_id}/withdraw POST",
    "/batches POST",
    "/batches/{number}/approve POST",
    "/batches/{number}/close POST",
    "/batches/{number}/hold POST",
    "/card/values POST",
    "/card/values/{values_id}/withdraw POST",
    "/devices GET",
    "/devices/pairing POST",
    "/devices/programs POST",
    "/devices/{device_id}/name POST",
    "/devices/{device_id}/revoke POST",
    "/press/blanks POST",
    "/press/presses POST",
    "/press/pressings POST",
    "/press/recipes POST",
    "/settings GET",
    "/settings POST",
}
"""What the bench may not do."""

HARM = '"><script>alert(1)</script><img src=x onerror=alert(1)>'


def page_routes() -> list[tuple[str, str]]:
    """Return method and pattern of every page and form."""
    routes = [route for router in ROUTERS for route in router.routes if isinstance(route, APIRoute)]
    return sorted((method, route.path) for route in routes for method in route.methods or ())


def address(path: str, **values: object) -> str:
    """Fill a pattern in; whatever is not given is 1."""
    return re.sub(r"\{(\w+)\}", lambda found: str(values.get(found[1], 1)), path)


@pytest.fixture
def bench(server: ShopServer, owner: TestClient) -> TestClient:
    phone = server.phone(owner)
    phone.headers.update(HTML)
    return phone


@pytest.fixture
def desk(owner: TestClient) -> TestClient:
    """The owner's browser, which asks for pages."""
    owner.headers.update(HTML)
    return owner


def test_every_page_and_form_but_the_few_named_leads_to_the_sign_in(server: ShopServer) -> None:
    client = server.client()
    routes = [(method, path) for method, path in page_routes() if path not in OPEN_TO_ALL]
    assert len(routes) > 20
    for method, path in routes:
        answer = client.request(method, address(path), headers=HTML, follow_redirects=False)
        assert (path, answer.status_code) == (path, 303)
        assert answer.headers["Location"].startswith("/sign-in?to=/")


def test_the_bench_may_do_all_but_what_is_the_owners(bench: TestClient) -> None:
    refused = {
        f"{path} {method}"
        for method, path in page_routes()
        if path not in OPEN_TO_ALL and path != "/sign-out"
        if bench.request(method, address(path), follow_redirects=False).status_code == 403
    }
    assert refused == OWNERS


def test_another_shop_finds_none_of_what_a_shop_has(server: ShopServer, owner: TestClient) -> None:
    artwork = add_artwork(owner)
    inspection = send_photo(owner, artwork).json()["id"]
    server.work()
    owner.post(f"{API}/artworks/{artwork}/approved", json={"inspection": inspection, "approved_by": "Kim"})
    theirs = server.second_shop()
    theirs.headers.update(HTML)
    own_device = theirs.get(f"{API}/me").json()["id"]
    of_one_thing = [each for each in page_routes() if "{" in each[1] and each[1] not in OPEN_TO_ALL]
    assert len(of_one_thing) >= 10
    for method, path in of_one_thing:
        filled = address(path, public_id=inspection, artwork_id=artwork)
        words = {"verdict": "good", "reason": "x", "judged_by": "x", "inspection": inspection}
        answer = theirs.request(
            method, filled, data=words if method == "POST" else None, follow_redirects=False
        )
        assert answer.status_code in {303, 404, 422}, path
        assert "harbour" not in answer.text.lower()
        assert "piece-0" not in answer.text
    detail = owner.get(f"{API}/artworks/{artwork}").json()
    assert (len(detail["versions"]), len(detail["approved"]), detail["retired_at"]) == (1, 1, None)
    assert owner.get(f"{API}/inspections/{inspection}").json()["judgements"] == []
    assert {each["id"] for each in theirs.get(f"{API}/devices").json()} == {own_device}
    assert all(each["revoked_at"] is None for each in owner.get(f"{API}/devices").json())


def test_the_owner_signs_in_by_the_form_and_goes_on_where_it_was_wanted(server: ShopServer) -> None:
    client = server.client()
    wrong = client.post("/sign-in", data={"passphrase": "guess", "to": "/card"})
    assert wrong.status_code == 401
    assert "not the owner" in wrong.text
    words = {"passphrase": server.passphrase, "to": "/card"}
    assert client.post("/sign-in", data=words).url.path == "/card"


@pytest.mark.parametrize(
    "elsewhere", ["https://elsewhere.example/", "//elsewhere.example", "/\\elsewhere.example"]
)
def test_signing_in_leads_to_no_other_site(server: ShopServer, elsewhere: str) -> None:
    words = {"passphrase": server.passphrase, "to": elsewhere}
    answer = server.client().post("/sign-in", data=words, follow_redirects=False)
    assert answer.headers["Location"] == "/"


@pytest.mark.parametrize("origin", ["http://elsewhere.example", "null"])
def test_a_form_on_another_site_changes_nothing(desk: TestClient, origin: str) -> None:
    answer = desk.post("/settings", data={"photo_days": "1"}, headers={"Origin": origin})
    assert answer.status_code == 403
    assert desk.get(f"{API}/settings").json()["photo_days"] is None


def test_a_form_tells_its_origin_since_pages_do_not_forbid_it(desk: TestClient) -> None:
    """With the policy no-referrer, browsers send `Origin: null` along with a form (Fetch, section 3.2)."""
    assert desk.get("/settings").headers["Referrer-Policy"] == "same-origin"


def test_no_name_becomes_markup(server: ShopServer, desk: TestClient) -> None:
    artwork = add_artwork(desk, HARM)
    files = {"photo": (f"{HARM}.jpg", photo(3), "image/jpeg")}
    answer = desk.post(f"{API}/inspections", data={"artwork": str(artwork)}, files=files)
    public_id = answer.json()["id"]
    server.work()
    words = {"verdict": "good", "reason": HARM, "judged_by": HARM}
    desk.post(f"/inspections/{public_id}/judgements", data=words)
    desk.post(f"/artworks/{artwork}/approved", data={"inspection": public_id, "approved_by": HARM})
    desk.post("/devices/programs", data={"name": HARM})
    for path in (
        "/",
        "/inspections",
        f"/inspections/{public_id}",
        "/artworks",
        f"/artworks/{artwork}",
        "/devices",
    ):
        text = desk.get(path).text
        assert "&lt;script&gt;" in text, path
        assert_no_scripts_or_styles_inside(text)


class OpenedTags(HTMLParser):
    """Reads a page as a browser does: what tags are opened, with which attributes."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))


def assert_no_scripts_or_styles_inside(page: str) -> None:
    """Check that the page would need no exception from a policy that allows files of this server only."""
    for tag, attributes in OpenedTags(page).tags:
        assert tag != "style"
        assert tag != "script" or (attributes["src"] or "").startswith("/static/")
        assert [name for name in attributes if name == "style" or name.startswith("on")] == []
        assert "//" not in (attributes.get("src") or attributes.get("href") or attributes.get("action") or "")


def test_the_policy_allows_nothing_but_files_of_this_server(desk: TestClient) -> None:
    policy = desk.get("/").headers["Content-Security-Policy"]
    assert policy.startswith("default-src 'none'; script-src 'self'; style-src 'self';")
    assert "unsafe" not in policy
    assert HOST not in policy


def test_the_list_goes_on_page_by_page_and_is_narrowed(server: ShopServer, desk: TestClient) -> None:
    artwork = add_artwork(desk)
    for seed in range(33):
        send_photo(desk, artwork, seed)
    server.work("good")
    first = desk.get("/inspections").text
    assert first.count("piece-") == 30
    following = re.search(r'id="more" href="([^"]+)"', first)
    assert following
    second = desk.get(following[1].replace("&amp;", "&")).text
    assert [name in second for name in ("piece-2.jpg", "piece-1.jpg", "piece-0.jpg", "piece-3.jpg")] == [
        True,
        True,
        True,
        False,
    ]
    assert 'id="more"' not in second
    assert desk.get("/inspections?search=PIECE-32").text.count("piece-") == 1
    assert "Nothing matches" in desk.get("/inspections?verdict=retake").text


def test_the_bench_offers_open_batches_with_their_artworks(server: ShopServer, desk: TestClient) -> None:
    add_artwork(desk)
    assert "of its batch" not in desk.get("/").text
    now = {"shop_id": 1, "created_at": server.clock()}
    heat = {"press_id": 1, "blank_id": 1, "temperature_k": 473.15, "time_s": 60.0}
    batch = {"shop_id": 1, "recipe_id": 1, "state": "started", "started_at": server.clock()}
    with writing(server.engine) as connection:
        connection.execute(insert(presses).values(**now, name="Press"))
        tile = {"name": "Tile", "material": "ceramic", "thickness_mm": 5.0, "coating_side": "front"}
        connection.execute(insert(blanks).values(**now, **tile))
        connection.execute(insert(recipes).values(**now, **heat, name="Tiles"))
        connection.execute(insert(batches).values(**batch, name="Morning", artwork_name="tiles.png"))
        connection.execute(insert(batches).values(**batch, name="Over", closed_at=server.clock()))
    bench = desk.get("/").text
    assert "Morning (tiles.png)</option>" in bench
    assert '<option value="">the one of its batch</option>' in bench
    assert "Over" not in bench


def test_an_artwork_is_replaced_and_taken_out_of_use_by_forms(desk: TestClient) -> None:
    files = {"file": ("harbour.png", photo(1), "image/png")}
    added = desk.post("/artworks", data={"name": "Harbour"}, files=files)
    assert "Version 1" in added.text
    files = {"file": ("harbour-2.png", photo(2), "image/png")}
    assert "Version 2" in desk.post(f"{added.url.path}/versions", files=files).text
    assert "(out of use)" in desk.post(f"{added.url.path}/retired", data={"retired": "yes"}).text
    assert "No artwork yet" in desk.get("/").text


def test_settings_are_kept_and_nonsense_is_told_plainly(desk: TestClient) -> None:
    assert 'value="30"' in desk.post("/settings", data={"photo_days": "30", "keep_metadata": "yes"}).text
    nonsense = desk.post("/settings", data={"photo_days": "soon"})
    assert nonsense.status_code == 422
    assert "whole number of days" in nonsense.text


def test_an_error_is_a_page_for_a_person_and_a_problem_for_a_program(desk: TestClient) -> None:
    page = desk.get("/nowhere")
    assert (page.status_code, page.headers["Content-Type"]) == (404, "text/html; charset=utf-8")
    problem = desk.get("/nowhere", headers={"Accept": "application/json"})
    assert problem.json()["code"] == "not-found"
    assert desk.get(f"{API}/inspections/nowhere").json()["code"] == "not-found"


def test_styles_and_scripts_are_kept_for_good_under_their_fingerprint(
    desk: TestClient,
) -> None:
    addresses = re.findall(r'(?:src|href)="(/static/[^"]+)"', desk.get("/").text)
    assert len(addresses) >= 4
    for each in addresses:
        assert "immutable" in desk.get(each).headers["Cache-Control"]
    assert desk.get("/static/0000000000000000/shop.css").status_code == 404
    assert desk.get(f"{addresses[0].rpartition('/')[0]}/..%2fapp.py").status_code == 404
