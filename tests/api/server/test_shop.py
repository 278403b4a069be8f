"""The shop's cards, and whether the server is well."""

import pytest
from starlette.testclient import TestClient

from dyecast_calibration.card_layout import layout_named
from dyecast_calibration.card_values import designed_values

from .shop_server import API, ShopServer, add_artwork, assert_problem, send_photo


def measurements() -> bytes:
    """Write a CGATS file as a spectrophotometer would, of the A6 card as designed."""
    lab = designed_values(layout_named("a6")).lab_d50
    rows = [f"{name} {' '.join(str(value) for value in values)}" for name, values in lab.items()]
    head = 'CGATS.17\nORIGINATOR "test"\nMEASUREMENT_SOURCE "Illumination=D50 ObserverAngle=2"\n'
    table = "NUMBER_OF_FIELDS 4\nBEGIN_DATA_FORMAT\nSAMPLE_ID LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\n"
    data = f"NUMBER_OF_SETS {len(rows)}\nBEGIN_DATA\n" + "\n".join(rows) + "\nEND_DATA\n"
    return (head + table + data).encode("ascii")


@pytest.mark.parametrize("layout", ["a6", "pocket"])
def test_the_card_can_be_printed_from_the_server(owner: TestClient, layout: str) -> None:
    answer = owner.get(f"{API}/card.pdf?layout={layout}")
    assert answer.headers["Content-Type"] == "application/pdf"
    assert answer.content.startswith(b"%PDF")


def test_measured_colours_of_a_card_are_taken_in_and_taken_out(owner: TestClient) -> None:
    files = {"file": ("card.txt", measurements(), "text/plain")}
    added = owner.post(f"{API}/card-values", files=files)
    assert added.status_code == 201, added.text
    assert (added.json()["layout"], added.json()["trust"]) == ("a6", "measured")
    assert owner.delete(f"{API}/card-values/{added.json()['id']}").status_code == 204
    assert owner.get(f"{API}/card-values").json() == []


def test_measurements_that_lack_patches_are_refused_by_name(owner: TestClient) -> None:
    *kept, _last, end, _nothing = measurements().decode().split("\n")
    files = {"file": ("card.txt", "\n".join([*kept, end, ""]).encode(), "text/plain")}
    answer = owner.post(f"{API}/card-values", files=files)
    assert_problem(answer, 422, "measurements-invalid")


def test_the_server_says_that_it_is_up_and_whether_it_can_work(server: ShopServer) -> None:
    client = server.client()
    assert client.get("/healthz").json()["status"] == "up"
    ready = client.get("/readyz")
    assert ready.status_code == 200
    assert set(ready.json()["checks"]) == {"database", "files", "workers"}


def test_a_server_that_cannot_write_its_files_is_not_ready(server: ShopServer) -> None:
    folder = server.app.state.server.files.folder
    folder.parent.mkdir(exist_ok=True)
    folder.write_text("in the way", encoding="utf-8")
    ready = server.client().get("/readyz")
    assert ready.status_code == 503
    assert ready.json()["checks"]["files"] != "ok"


def test_figures_are_for_the_shops_devices(server: ShopServer, owner: TestClient) -> None:
    send_photo(owner, add_artwork(owner))
    assert_problem(server.client().get("/metrics"), 401, "sign-in-needed")
    told = owner.get("/metrics").text
    assert "dyecast_queue_depth 1.0" in told
    server.work("under-pressed")
    assert 'dyecast_verdicts{verdict="under-pressed"} 1.0' in owner.get("/metrics").text


def test_every_answer_forbids_what_is_foreign(server: ShopServer) -> None:
    headers = server.client().get("/healthz").headers
    assert "default-src 'none'" in headers["Content-Security-Policy"]
    assert "unsafe" not in headers["Content-Security-Policy"]
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["Cache-Control"] == "no-store"


def test_a_sane_request_number_is_kept_and_another_is_replaced(server: ShopServer) -> None:
    client = server.client()
    assert (
        client.get("/healthz", headers={"X-Request-ID": "bench-0007"}).headers["X-Request-ID"] == "bench-0007"
    )
    assert client.get("/healthz", headers={"X-Request-ID": "a b"}).headers["X-Request-ID"] != "a b"


def test_the_log_names_routes_and_never_tokens_or_names(
    owner: TestClient, capsys: pytest.CaptureFixture[str]
) -> None:
    owner.get(f"{API}/inspections?search=secret-name")
    logged = capsys.readouterr().out
    assert "/api/v1/inspections" in logged
    assert "secret-name" not in logged
    assert owner.cookies["dyecast_device"] not in logged
