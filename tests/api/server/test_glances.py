"""Frames of a viewfinder sent to the server: what it says of them, and that it keeps none."""

import io
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from starlette.testclient import TestClient

from dyecast_api.server import api_glances
from dyecast_calibration.card_layout import layout_named
from dyecast_shared.photo import Photo
from synthetic_card import Pose, drawn_card, empty_table, lay, photo_of

from .shop_server import API, ShopServer, assert_problem

JPEG = {"Content-Type": "image/jpeg"}
GLANCES = f"{API}/glances"


def as_jpeg(frame: Photo) -> bytes:
    stream = io.BytesIO()
    Image.fromarray(frame.pixels.astype(np.uint8)).save(stream, "JPEG", quality=85)
    return stream.getvalue()


def frame(hidden: tuple[int, ...] = (), scale: float = 2.4) -> bytes:
    layout = layout_named("a6")
    table = lay(empty_table(), drawn_card(layout, hidden), Pose(scale=scale).homography(layout))
    return as_jpeg(photo_of(table))


@pytest.fixture
def phone(server: ShopServer, owner: TestClient) -> TestClient:
    return server.phone(owner)


def test_a_good_frame_is_ready(phone: TestClient) -> None:
    told = phone.post(f"{GLANCES}?photo_long_side=4032", content=frame(), headers=JPEG)
    assert told.status_code == 200
    body = told.json()
    assert (body["signal"], body["card_found"], body["layout"]) == ("ready", True, "a6")
    assert body["words"] == "The card is found. Take the photo."
    assert (body["missing_markers"], body["glare"], body["burnt_out"]) == ([], [], False)


@pytest.mark.parametrize(
    ("hidden", "scale", "signal", "words"),
    [
        ((10,), 2.4, "caution", "The card's marker at the upper left is not seen"),
        ((10, 13), 2.4, "no-card", "The card's markers at the upper left and the lower left are not seen"),
        ((10, 11, 12, 13), 2.4, "no-card", "No card is seen"),
        ((), 0.9, "no-card", "The card is too far away: go closer."),
    ],
)
def test_what_is_amiss_is_said_in_words(
    phone: TestClient, hidden: tuple[int, ...], scale: float, signal: str, words: str
) -> None:
    body = phone.post(GLANCES, content=frame(hidden, scale), headers=JPEG).json()
    assert body["signal"] == signal
    assert body["words"].startswith(words)


def test_nothing_of_a_frame_is_kept_or_logged(
    server: ShopServer, phone: TestClient, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    before = {path: path.stat().st_size for path in tmp_path.rglob("*") if "sqlite" not in path.name}
    with caplog.at_level("DEBUG"):
        assert phone.post(GLANCES, content=frame(), headers=JPEG).status_code == 200
    after = {path: path.stat().st_size for path in tmp_path.rglob("*") if "sqlite" not in path.name}
    assert after == before
    assert server.told == []
    assert "The card is found" not in caplog.text
    assert "a6" not in caplog.text


def test_only_signed_in_devices_are_answered(server: ShopServer) -> None:
    assert_problem(server.client().post(GLANCES, content=frame(), headers=JPEG), 401, "sign-in-needed")


def test_a_frame_is_a_small_jpeg(phone: TestClient) -> None:
    picture = Image.new("RGB", (64, 64))
    stream = io.BytesIO()
    picture.save(stream, "PNG")
    assert_problem(phone.post(GLANCES, content=stream.getvalue(), headers=JPEG), 415, "not-a-picture")
    assert_problem(phone.post(GLANCES, content=b"", headers=JPEG), 415, "not-a-picture")
    large = io.BytesIO()
    Image.new("RGB", (1300, 700)).save(large, "JPEG")
    assert_problem(phone.post(GLANCES, content=large.getvalue(), headers=JPEG), 413, "picture-too-large")
    cut = frame()[:-9000]
    assert_problem(phone.post(GLANCES, content=cut, headers=JPEG), 422, "picture-damaged")


def test_more_bytes_than_a_frame_has_are_refused(phone: TestClient) -> None:
    answer = phone.post(GLANCES, content=frame() + bytes(600_000), headers=JPEG)
    assert_problem(answer, 413, "upload-too-large")
    assert "600 kB" in answer.json()["detail"]


def test_too_many_frames_are_refused_and_nothing_else_is(phone: TestClient) -> None:
    for _ in range(120):
        assert phone.post(GLANCES, content=b"none", headers=JPEG).status_code == 415
    assert_problem(phone.post(GLANCES, content=b"none", headers=JPEG), 429, "too-many-requests")
    assert phone.get(f"{API}/inspections").status_code == 200


def test_frames_are_looked_at_one_at_a_time_and_pages_are_answered_meanwhile(
    phone: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    running, most = 0, 0

    def slow(content: bytes, photo_long_side: int | None) -> api_glances.GlanceBody:
        nonlocal running, most
        running += 1
        most = max(most, running)
        time.sleep(0.15)
        running -= 1
        return quick(content, photo_long_side)

    quick = api_glances._glance
    monkeypatch.setattr(api_glances, "_glance", slow)
    content = frame()
    with phone, ThreadPoolExecutor(5) as people:
        glances = [people.submit(phone.post, GLANCES, content=content, headers=JPEG) for _ in range(4)]
        assert phone.get(f"{API}/me").status_code == 200
        assert not all(each.done() for each in glances)
        assert [each.result().status_code for each in glances] == [200] * 4
    assert most == 1
