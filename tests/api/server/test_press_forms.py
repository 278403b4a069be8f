"""The forms that add to the press log and start batches: kept, or shown again with what is wrong."""

import re
from datetime import UTC, datetime

import pytest
from starlette.testclient import TestClient

from .press_shop import add_log, inspected
from .shop_server import API, ShopServer, add_artwork

MAGNET = {
    "name": "magnet",
    "material": "glass",
    "coating_side": "back",
    "thickness": "4",
    "supplier_temperature": "380F",
    "supplier_time": "60s",
}


@pytest.fixture
def desk(owner: TestClient) -> TestClient:
    """The owner's browser, which asks for pages."""
    owner.headers["Accept"] = "text/html"
    return owner


def field(page: str, name: str, form: str = "") -> str:
    """Return a field of a page, as written."""
    part = page.partition(f'<details id="add-{form}"')[2] if form else page
    found = re.search(rf'<(?:input|select)[^>]* name="{name}"[^>]*>', part)
    assert found, name
    return found[0]


def test_a_shop_begins_its_log_in_the_browser(desk: TestClient) -> None:
    assert "Begin with a press and a blank" in desk.get("/press").text
    desk.post("/press/presses", data={"name": "big", "hottest": "210C"})
    desk.post("/press/blanks", data=MAGNET)
    recipe = {"name": "magnets", "press": "1", "blank": "1", "temperature": "380F", "time": "1:00"}
    desk.post("/press/recipes", data=recipe)
    when = {"pressed_on": "2026-05-04", "pressed_at": "14:30"}
    told = {"recipe": "1", "grade": "under-pressed", "judged_by": "Kim", **when}
    page = desk.post("/press/pressings", data=told).text
    assert "Press big, never above 210 °C (410 °F)" in page
    assert "Blank magnet: 4 mm glass, coated on the back" in page
    assert "Recipe magnets: magnet on big" in page
    assert "under-pressed  by Kim" in page
    kept = desk.get(f"{API}/pressings").json()["items"][0]["pressed_at"]
    assert datetime.fromisoformat(kept) == datetime(2026, 5, 4, 14, 30).astimezone(UTC)  # the shop's clock
    assert desk.get("/press/plan?blank=magnet&press=big").status_code == 200


def test_a_form_with_a_slip_comes_back_filled_in_and_says_what_is_wrong(desk: TestClient) -> None:
    refused = desk.post("/press/blanks", data={**MAGNET, "supplier_temperature": "380C", "cost": "1,20"})
    page = refused.text
    assert refused.status_code == 422
    assert "Did you mean 380 °F?" in page
    assert '<details id="add-blank" open>' in page
    assert 'value="380C"' in field(page, "supplier_temperature")
    assert 'value="1,20"' in field(page, "cost")
    assert '<option value="back" selected>' in page
    assert 'value=""' in field(page, "hottest", "press")
    assert desk.get(f"{API}/blanks").json()["items"] == []


def test_an_unusual_temperature_is_asked_about_and_kept_once_it_is_confirmed(desk: TestClient) -> None:
    entry = {"name": "cool", "hottest": "110C"}
    assert "as_written" not in desk.get("/press").text
    asked = desk.post("/press/presses", data=entry).text
    assert 'type="checkbox"' in field(asked, "as_written")
    assert "Press cool" in desk.post("/press/presses", data={**entry, "as_written": "yes"}).text


def test_the_field_that_is_wrong_is_marked_for_those_who_do_not_see_it(desk: TestClient) -> None:
    page = desk.post("/press/blanks", data={**MAGNET, "thickness": ""}).text
    assert 'aria-invalid="true" aria-describedby="trouble"' in field(page, "thickness")
    assert page.count("aria-invalid") == 1


def test_a_pressing_is_logged_by_its_photo_which_is_then_not_offered_again(
    server: ShopServer, desk: TestClient
) -> None:
    recipe = add_log(desk).recipe
    inspection = inspected(server, desk, {"artwork": str(add_artwork(desk))}, 1)
    assert f'<option value="{inspection}">piece-1.jpg: good</option>' in desk.get("/press").text
    page = desk.post("/press/pressings", data={"recipe": recipe, "inspection": inspection}).text
    assert "good  by dyecast" in page
    assert inspection not in page


def test_a_batch_is_started_from_lists(desk: TestClient) -> None:
    assert "A batch needs an" in desk.get("/batches").text
    recipe, artwork = add_log(desk).recipe, add_artwork(desk)
    wanted = {"name": "May", "recipe": recipe, "artwork": artwork, "planned_pieces": "500"}
    page = desk.post("/batches", data={**wanted, "quality_limit_percent": "2.5", "tightened": "yes"})
    assert page.url.path == "/batches/1"
    assert "tightened inspection, quality limit 2.5 %" in page.text
    assert "every 10th piece" in page.text


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"planned_pieces": "many"}, "no whole number above zero"),
        ({"quality_limit_percent": "2.5"}, "its number of pieces must be known"),
        ({"tightened": "yes"}, "needs a quality limit"),
        ({"artwork": ""}, "No artwork was chosen"),
        ({"recipe": "99"}, "There is no such recipe"),
        ({"name": "  "}, "one to a hundred letters"),
    ],
)
def test_a_batch_that_cannot_be_started_says_why_and_keeps_the_form(
    desk: TestClient, wrong: dict[str, str], said: str
) -> None:
    wanted = {"name": "May", "recipe": str(add_log(desk).recipe), "artwork": str(add_artwork(desk))}
    refused = desk.post("/batches", data={**wanted, "every_nth": "3", **wrong})
    assert refused.status_code in {404, 422}
    assert said in refused.text
    assert 'value="3"' in field(refused.text, "every_nth")
    assert desk.get(f"{API}/batches").json()["items"] == []


def test_the_bench_is_offered_no_form(server: ShopServer, desk: TestClient) -> None:
    add_log(desk)
    phone = server.phone(desk)
    phone.headers["Accept"] = "text/html"
    for path in ("/press", "/batches"):
        page = phone.get(path).text
        assert '<form method="post" action="/press' not in page
        assert '<form method="post" action="/batches' not in page
