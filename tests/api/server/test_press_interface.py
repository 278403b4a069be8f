"""The press log, its plan and what pressing costs over HTTP: all that their pages do, for programs."""

import csv
import io
from typing import Any

import pytest
from sqlalchemy import insert
from starlette.testclient import TestClient

from dyecast_api.press_log.log_rows import all_recipes
from dyecast_api.server.batch_requests import kept_once
from dyecast_api.store.database import first_shop_id, reading
from dyecast_api.store.press_tables import presses
from dyecast_shared.request_errors import NameTaken

from .press_shop import MAGNET, PRESS, PressLog, add_log, added, inspected, photograph, start_batch
from .shop_server import API, ShopServer, add_artwork, assert_problem


@pytest.fixture
def log(owner: TestClient) -> PressLog:
    return add_log(owner)


def pressed(client: TestClient, log: PressLog, **more: Any) -> dict[str, Any]:
    """Log a pressing that Kim calls good."""
    return added(client, "pressings", {"recipe": log.recipe, "grade": "good", "judged_by": "Kim", **more})


def refused(client: TestClient, path: str, body: dict[str, Any], code: str, field: str | None) -> str:
    """Check that adding something is refused for one thing; return what is said."""
    answer = client.post(f"{API}/{path}", json=body)
    assert_problem(answer, 422, code)
    assert answer.json()["field"] == field
    return f"{answer.json()['detail']} {answer.json()['advice']}"


def test_temperatures_are_sent_in_celsius_and_kept_in_kelvin(
    server: ShopServer, owner: TestClient, log: PressLog
) -> None:
    (recipe,) = owner.get(f"{API}/recipes").json()["items"]
    assert (recipe["temperature_celsius"], recipe["time_seconds"]) == (193.0, 90.0)
    with reading(server.engine) as connection:
        (kept,) = all_recipes(connection, first_shop_id(connection))
    assert kept.temperature_k == pytest.approx(466.15)
    (blank,) = owner.get(f"{API}/blanks").json()["items"]
    assert {name: blank[name] for name in MAGNET} == MAGNET
    (press,) = owner.get(f"{API}/presses").json()["items"]
    assert press["highest_temperature_celsius"] == PRESS["highest_temperature_celsius"]
    assert log.recipe == recipe["id"]


def test_a_fahrenheit_figure_is_questioned_and_not_swallowed(owner: TestClient, log: PressLog) -> None:
    body = {"name": "slip", "press": log.press, "blank": log.blank, "time_seconds": 60}
    body["temperature_celsius"] = 380
    told = refused(owner, "recipes", body, "press-entry-unclear", None)
    assert "Did you mean 380 °F? Then write 380F: 193 °C (380 °F)." in told
    refused(owner, "recipes", {**body, "as_written": True}, "press-entry-unclear", None)


def test_an_unusual_temperature_is_taken_once_it_is_confirmed(owner: TestClient) -> None:
    cool = {"name": "cool press", "highest_temperature_celsius": 110}
    told = refused(owner, "presses", cool, "press-entry-unclear", "as_written")
    assert "meant as written" in told
    assert added(owner, "presses", {**cool, "as_written": True})["highest_temperature_celsius"] == 110.0


def test_a_recipe_beyond_a_limit_and_a_blank_without_half_of_a_pair_are_refused(
    owner: TestClient, log: PressLog
) -> None:
    hot = {"name": "hot", "press": log.press, "blank": log.blank}
    hot |= {"temperature_celsius": 220, "time_seconds": 60}
    assert "lies above the highest of 'front press'" in refused(
        owner, "recipes", hot, "press-log-invalid", None
    )
    half = {**MAGNET, "name": "half", "supplier_time_seconds": None}
    assert "Give both together" in refused(owner, "blanks", half, "press-log-invalid", "supplier")
    cheese = {**MAGNET, "name": "cheese", "material": "cheese"}
    assert "Known are: glass" in refused(owner, "blanks", cheese, "press-log-invalid", "material")


@pytest.mark.parametrize(("path", "body"), [("presses", PRESS), ("blanks", MAGNET)])
@pytest.mark.usefixtures("log")
def test_a_name_stands_for_one_thing(owner: TestClient, path: str, body: dict[str, Any]) -> None:
    assert "already" in refused(owner, path, body, "press-log-invalid", None)


def test_of_two_who_add_the_same_name_at_once_the_second_is_told(server: ShopServer) -> None:
    row = {"shop_id": 1, "name": "twin", "created_at": server.clock()}
    with kept_once(server.engine) as connection:
        connection.execute(insert(presses).values(row))
    with pytest.raises(NameTaken), kept_once(server.engine) as connection:
        connection.execute(insert(presses).values(row))


def test_a_pressing_is_logged_by_a_persons_word(owner: TestClient, log: PressLog) -> None:
    kept = pressed(owner, log, time_seconds=100, pressed_at="2026-05-04T10:00:00+02:00", lost=True)
    assert (kept["temperature_celsius"], kept["time_seconds"], kept["lost"]) == (193.0, 100.0, True)
    assert kept["pressed_at"] == "2026-05-04T08:00:00Z"
    assert [(one["grade"], one["judged_by"]) for one in kept["grades"]] == [("good", "Kim")]


def test_a_pressing_is_logged_by_its_photo_once(server: ShopServer, owner: TestClient, log: PressLog) -> None:
    wishes = {"artwork": str(add_artwork(owner))}
    inspection = inspected(server, owner, wishes, 1, 0.91)
    body = {"recipe": log.recipe, "inspection": inspection}
    kept = added(owner, "pressings", body)
    assert (kept["judged_by"], kept["transferred_fraction"]) == ("dyecast", 0.91)
    assert "as pressing 1" in refused(owner, "pressings", body, "press-log-invalid", "inspection")


def test_a_persons_word_stands_above_the_photos_whose_figures_stay(
    server: ShopServer, owner: TestClient, log: PressLog
) -> None:
    inspection = inspected(server, owner, {"artwork": str(add_artwork(owner))}, 1, 0.91)
    kept = pressed(owner, log, inspection=inspection, grade="under-pressed")
    assert (kept["grade"], kept["judged_by"], kept["confidence"]) == ("under-pressed", "Kim", None)
    assert kept["transferred_fraction"] == 0.91


def test_a_pressing_of_which_nobody_says_anything_is_refused(owner: TestClient, log: PressLog) -> None:
    body = {"recipe": log.recipe}
    refused(owner, "pressings", body, "press-log-invalid", "grade")
    refused(owner, "pressings", {**body, "judged_by": "Kim"}, "press-log-invalid", "grade")
    refused(owner, "pressings", {**body, "grade": "good"}, "press-log-invalid", "judged_by")
    assert_problem(owner.post(f"{API}/pressings", json={**body, "inspection": "none"}), 404, "not-found")
    assert owner.get(f"{API}/pressings").json()["items"] == []


def test_a_piece_of_a_batch_is_not_logged_twice(server: ShopServer, owner: TestClient) -> None:
    batch = start_batch(owner)
    inspection = photograph(server, owner, batch, 1)
    recipe = owner.get(f"{API}/batches/{batch}").json()["recipe"]
    body = {"recipe": recipe, "inspection": inspection}
    assert "belongs to a batch" in refused(owner, "pressings", body, "press-log-invalid", "inspection")


def test_what_a_pressing_passes_or_contradicts_is_kept_and_said(owner: TestClient, log: PressLog) -> None:
    pressed(owner, log, grade="over-pressed", time_seconds=60)
    kept = pressed(owner, log, grade="under-pressed", time_seconds=120, temperature_celsius=193)
    (note,) = kept["notes"]
    assert "the shorter pressing 1" in note
    assert owner.get(f"{API}/press-notes").json()["notes"] == [note]
    beyond = pressed(owner, log, temperature_celsius=220)
    assert "beyond a limit" in beyond["notes"][0]


def test_pressings_are_read_page_by_page_with_the_newest_first(owner: TestClient, log: PressLog) -> None:
    for seconds in (80, 90, 100):
        pressed(owner, log, time_seconds=seconds)
    first = owner.get(f"{API}/pressings?limit=2")
    assert [one["time_seconds"] for one in first.json()["items"]] == [100.0, 90.0]
    second = owner.get(first.links["next"]["url"]).json()
    assert ([one["time_seconds"] for one in second["items"]], second["next"]) == ([80.0], None)
    assert owner.get(f"{API}/pressings?blank={log.blank + 1}").json()["items"] == []


@pytest.mark.parametrize("path", ["presses", "blanks", "recipes"])
def test_what_is_pressed_with_is_read_page_by_page_too(owner: TestClient, log: PressLog, path: str) -> None:
    more: dict[str, dict[str, Any]] = {
        "presses": {"name": "second"},
        "blanks": {**MAGNET, "name": "second"},
        "recipes": {
            "name": "second",
            "press": log.press,
            "blank": log.blank,
            "temperature_celsius": 190,
            "time_seconds": 80,
        },
    }
    added(owner, path, more[path])
    first = owner.get(f"{API}/{path}?limit=1")
    second = owner.get(first.links["next"]["url"]).json()
    assert first.json()["items"][0]["name"] == "second"
    assert (len(second["items"]), second["next"]) == (1, None)


def test_a_plan_is_numbers_reasons_and_a_picture(owner: TestClient, log: PressLog) -> None:
    pressed(owner, log, grade="under-pressed")
    place = {"blank": log.blank, "press": log.press}
    plan = owner.get(f"{API}/press-plan", params=place).json()
    assert [one["grades"] for one in plan["tried"]] == [["under-pressed"]]
    chances = plan["map"]
    assert len(chances["good"]) == len(chances["temperatures_celsius"])
    assert len(chances["good"][0]) == len(chances["times_seconds"])
    total = chances["pale"][0][0] + chances["good"][0][0] + chances["over"][0][0]
    assert total == pytest.approx(1.0)
    low, high = plan["limits"]["lowest_temperature_celsius"], plan["limits"]["highest_temperature_celsius"]
    assert low <= plan["next"]["temperature_celsius"] <= high
    assert plan["next"]["time_seconds"] > 90.0  # a pale piece asks for more heat
    assert plan["next"]["expected_lost"] > 0.0
    assert plan["reasons"]
    assert owner.get(plan["picture"]).headers["Content-Type"] == "image/svg+xml"
    small = owner.get(f"{API}/press-plan", params={**place, "steps": "small"}).json()
    assert (plan["small_steps"], small["small_steps"]) == (False, True)


def test_no_recipe_is_made_up_for_a_blank_without_its_suppliers_figure(
    owner: TestClient, log: PressLog
) -> None:
    bare = added(owner, "blanks", {"name": "bare", "material": "glass", "thickness_mm": 4})["id"]
    place = {"blank": bare, "press": log.press}
    answer = owner.get(f"{API}/press-plan", params=place)
    assert_problem(answer, 422, "plan-not-possible")
    assert answer.json()["field"] == "supplier_figure"


def test_what_pressing_costs_is_counted_and_told_as_a_table(owner: TestClient, log: PressLog) -> None:
    pressed(owner, log, grade="over-pressed", lost=True, pressed_at="2026-04-30T12:00:00Z")
    pressed(owner, log, pressed_at="2026-05-02T12:00:00Z")
    worth = owner.get(f"{API}/worth").json()
    total = worth["total"]
    assert (total["pressed"], total["lost"], total["first_piece_yield"]) == (2, 1, 0.5)
    assert total["cost_of_lost"] == [{"amount": 1.2, "currency": "EUR"}]
    assert [month["name"] for month in worth["by_month"]] == ["2026-04", "2026-05"]
    may = owner.get(f"{API}/worth", params={"pressed_from": "2026-05-01T00:00:00Z"}).json()
    assert may["total"]["pressed"] == 1
    table = owner.get(f"{API}/worth.csv")
    rows = list(csv.DictReader(io.StringIO(table.text)))
    assert [row["cost_of_lost"] for row in rows if row["by"] == "all"] == ["1.2"]


def test_a_name_in_the_table_is_no_formula(owner: TestClient, log: PressLog) -> None:
    blank = added(owner, "blanks", {**MAGNET, "name": "=1+1"})["id"]
    heat = {"temperature_celsius": 190, "time_seconds": 80}
    recipe = added(owner, "recipes", {"name": "sum", "press": log.press, "blank": blank, **heat})["id"]
    added(owner, "pressings", {"recipe": recipe, "grade": "good", "judged_by": "Kim"})
    assert "blank,'=1+1," in owner.get(f"{API}/worth.csv").text


def test_the_bench_reads_the_log_and_the_owner_adds_to_it(
    server: ShopServer, owner: TestClient, log: PressLog
) -> None:
    phone = server.phone(owner)
    assert len(phone.get(f"{API}/recipes").json()["items"]) == 1
    assert_problem(phone.post(f"{API}/presses", json={"name": "x"}), 403, "owner-needed")
    body = {"recipe": log.recipe, "grade": "good", "judged_by": "Kim"}
    assert_problem(phone.post(f"{API}/pressings", json=body), 403, "owner-needed")


def test_another_shop_neither_sees_nor_uses_anything(
    server: ShopServer, owner: TestClient, log: PressLog
) -> None:
    pressed(owner, log, lost=True)
    inspection = inspected(server, owner, {"artwork": str(add_artwork(owner))}, 1)
    theirs = server.second_shop()
    for path in ("presses", "blanks", "recipes", "pressings"):
        assert theirs.get(f"{API}/{path}").json()["items"] == []
    assert theirs.get(f"{API}/pressings?press={log.press}").json()["items"] == []
    assert theirs.get(f"{API}/worth").json()["total"]["pressed"] == 0
    own = add_log(theirs)
    heat = {"name": "x", "temperature_celsius": 190, "time_seconds": 80}
    by = {"grade": "good", "judged_by": "them"}
    crossed: list[tuple[str, dict[str, Any]]] = [
        ("recipes", {**heat, "press": log.press, "blank": own.blank}),
        ("recipes", {**heat, "press": own.press, "blank": log.blank}),
        ("pressings", {"recipe": log.recipe, **by}),
        ("pressings", {"recipe": own.recipe, "inspection": inspection}),
    ]
    for path, body in crossed:
        assert_problem(theirs.post(f"{API}/{path}", json=body), 404, "not-found")
    for blank, press in ((log.blank, own.press), (own.blank, log.press)):
        place = {"blank": blank, "press": press}
        for path in ("press-plan", "press-plan.svg"):
            assert_problem(theirs.get(f"{API}/{path}", params=place), 404, "not-found")
    assert len(owner.get(f"{API}/pressings").json()["items"]) == 1
