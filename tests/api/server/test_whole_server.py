"""The server as a shop runs it: its own process, real workers, a real photo, from sign-in to verdict."""

import json
import os
import socket
import subprocess
import sys
import time
from collections.abc import Iterator

import httpx2
import pytest

from running_server import RunningServer
from servers.debian_programs import free_port

from .shop_server import API

UPLOAD_SECONDS = 3.0
"""How long an upload may take on this server."""


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RunningServer]:
    """Start `dyecast serve` in an empty folder with an artwork and a photo of it, and stop it at the end."""
    settings = {"DYECAST_UPLOAD_SECONDS": str(UPLOAD_SECONDS)}
    server = RunningServer(tmp_path_factory.mktemp("serve"), 1, settings)
    server.start()
    server.set_up()
    yield server
    assert server.stop() == 0, (server.folder / "log").read_text(encoding="utf-8")


def inspect(
    running: RunningServer, *more: str, url: str = "", token: str = ""
) -> "subprocess.CompletedProcess[str]":
    """Let the server inspect its photo, asked from the command line."""
    command = [sys.executable, "-m", "dyecast_api", "inspect", str(running.folder / "photo.jpg")]
    command += ["--artwork", "Coaster", "--server", url or running.url, *more]
    environment = {**os.environ, "DYECAST_TOKEN": token or running.token}
    return subprocess.run(command, capture_output=True, text=True, env=environment, check=False)


def test_a_program_sends_a_photo_and_hears_the_verdict(running: RunningServer) -> None:
    told = inspect(running)
    assert told.returncode == 0, told.stderr
    assert told.stdout.startswith("Good \u2713  photo.jpg")
    assert json.loads(inspect(running, "--json").stdout)["verdict"] == "good"


def test_a_wrong_token_and_a_wrong_address_are_told_plainly(running: RunningServer) -> None:
    told = inspect(running, token="none")
    assert (told.returncode, "not signed in" in told.stderr) == (2, True)
    told = inspect(running, url=f"http://127.0.0.1:{free_port()}")
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
