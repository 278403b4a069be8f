"""The server as a shop runs it: its own process, real workers, a real photo, from sign-in to verdict."""

import json
import os
import re
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import httpx2
import pytest
from PIL import Image

from inspected_scenes import piece_scene
from scenes.render import render, write_photo

from .shop_server import API

UPLOAD_SECONDS = 3.0
"""How long an upload may take on this server."""


@dataclass(frozen=True, slots=True)
class RunningServer:
    """A server process: its address and the owner's passphrase."""

    url: str
    passphrase: str
    folder: Path


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RunningServer]:
    """Start `dyecast serve` in an empty folder, and stop it calmly at the end."""
    folder, port = tmp_path_factory.mktemp("serve"), free_port()
    environment = {**os.environ, "DYECAST_DATA": str(folder), "DYECAST_HOST": "127.0.0.1"}
    environment["DYECAST_UPLOAD_SECONDS"] = str(UPLOAD_SECONDS)
    command = [sys.executable, "-m", "dyecast_api", "serve", "--port", str(port), "--workers", "1"]
    with (folder / "log").open("w", encoding="utf-8") as log:
        process = subprocess.Popen(
            command, stdout=subprocess.PIPE, stderr=log, text=True, env=environment, cwd=folder
        )
        assert process.stdout is not None
        said = ""
        while "Stop with Ctrl-C" not in said:
            line = process.stdout.readline()
            assert line, (folder / "log").read_text(encoding="utf-8")
            said += line
        found = re.search(r"passphrase, shown this once: (\S+)", said)
        assert found, said
        url = f"http://127.0.0.1:{port}"
        _until_up(url)
        yield RunningServer(url, found[1], folder)
        process.terminate()
        assert process.wait(40) == 0, (folder / "log").read_text(encoding="utf-8")
        process.stdout.close()


def _until_up(url: str) -> None:
    deadline = time.monotonic() + 60
    while True:
        try:
            httpx2.get(f"{url}/healthz")
        except httpx2.TransportError:
            assert time.monotonic() < deadline, "the server did not start"
            time.sleep(0.1)
        else:
            return


@pytest.fixture(scope="module")
def piece(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """Photograph a good piece, and keep its artwork."""
    folder = tmp_path_factory.mktemp("piece")
    photo, artwork, scene = folder / "coaster.jpg", folder / "artwork.png", piece_scene()
    assert scene.piece is not None
    write_photo(photo, render(scene, 1))
    Image.fromarray(scene.piece.artwork).save(artwork)
    return photo, artwork


def test_a_program_sends_a_photo_and_hears_the_verdict(
    running: RunningServer, piece: tuple[Path, Path]
) -> None:
    photo, artwork = piece
    with httpx2.Client(base_url=running.url) as owner:
        owner.headers["Origin"] = running.url
        assert owner.post(f"{API}/sign-in", json={"passphrase": running.passphrase}).status_code == 201
        files = {"file": (artwork.name, artwork.read_bytes())}
        assert owner.post(f"{API}/artworks", data={"name": "Coaster"}, files=files).status_code == 201
        token = owner.post(f"{API}/programs", json={"name": "till"}).json()["token"]
    command = [sys.executable, "-m", "dyecast_api", "inspect", str(photo), "--artwork", "Coaster"]
    command += ["--server", running.url]
    told = subprocess.run(
        command, capture_output=True, text=True, env={**os.environ, "DYECAST_TOKEN": token}, check=False
    )
    assert told.returncode == 0, told.stderr
    assert told.stdout.startswith("Good \u2713  coaster.jpg")
    as_json = subprocess.run(
        [*command, "--json"],
        capture_output=True,
        text=True,
        env={**os.environ, "DYECAST_TOKEN": token},
        check=False,
    )
    assert json.loads(as_json.stdout)["verdict"] == "good"


def test_a_wrong_token_and_a_wrong_address_are_told_plainly(
    running: RunningServer, piece: tuple[Path, Path]
) -> None:
    photo, _ = piece
    command = [sys.executable, "-m", "dyecast_api", "inspect", str(photo), "--artwork", "Coaster"]
    told = subprocess.run(
        [*command, "--server", running.url, "--token", "none"], capture_output=True, text=True, check=False
    )
    assert (told.returncode, "not signed in" in told.stderr) == (2, True)
    nobody = f"http://127.0.0.1:{free_port()}"
    told = subprocess.run(
        [*command, "--server", nobody, "--token", "none"], capture_output=True, text=True, check=False
    )
    assert told.returncode == 2
    assert "did not answer" in told.stderr
    assert "Traceback" not in told.stderr


def test_a_body_that_trickles_is_ended_and_the_server_stays_up(running: RunningServer) -> None:
    """The time for a body counts as a whole, so a byte now and then does not hold a connection for ever."""
    host, port = running.url.removeprefix("http://").split(":")
    with socket.create_connection((host, int(port)), timeout=20) as connection:
        head = f"POST {API}/sign-in HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\n"
        connection.sendall((head + "Content-Length: 1000\r\n\r\n").encode("ascii"))
        for _ in range(int(UPLOAD_SECONDS / 0.25)):
            connection.sendall(b" ")
            time.sleep(0.25)
        answer = connection.recv(4096)
    assert answer.startswith(b"HTTP/1.1 408")
    assert httpx2.get(f"{running.url}/healthz").status_code == 200
