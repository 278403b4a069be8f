"""A shop's server in a process of its own, started, killed and started again by tests and benchmarks."""

import os
import re
import signal
import subprocess
import sys
import time
from dataclasses import dataclass, field
from pathlib import Path

import httpx2
from PIL import Image

from inspected_scenes import piece_scene
from scenes.render import render, write_photo
from servers.debian_programs import free_port

API = "/api/v1"


@dataclass(slots=True)
class RunningServer:
    """`dyecast serve` on a folder; `environment` adds to its settings.

    Attributes
    ----------
    passphrase
        The owner's, told at the first start.
    token, artwork, photo
        A program's token, the number of the artwork, and a real photo of it, after `set_up`.
    """

    folder: Path
    workers: int
    environment: dict[str, str] = field(default_factory=dict)
    port: int = field(default_factory=free_port)
    passphrase: str = ""
    token: str = ""
    artwork: int = 0
    photo: bytes = b""
    process: "subprocess.Popen[str] | None" = None

    @property
    def url(self) -> str:
        """Its address."""
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        """Start it and wait until it answers."""
        command = [sys.executable, "-m", "dyecast_api", "serve", "--port", str(self.port)]
        command += ["--workers", str(self.workers)]
        settings = {"DYECAST_DATA": str(self.folder / "data"), "DYECAST_HOST": "127.0.0.1"}
        self.folder.mkdir(parents=True, exist_ok=True)
        log = (self.folder / "log").open("a", encoding="utf-8")
        self.process = subprocess.Popen(
            command,
            stdout=subprocess.PIPE,
            stderr=log,
            text=True,
            env={**os.environ, **settings, **self.environment},
        )
        log.close()
        assert self.process.stdout is not None
        said = ""
        while "Stop with Ctrl-C" not in said:
            line = self.process.stdout.readline()
            assert line, (self.folder / "log").read_text(encoding="utf-8")
            said += line
        told = re.search(r"shown this once: (\S+)", said)
        self.passphrase = told[1] if told else self.passphrase
        self._wait_until_up()

    def _wait_until_up(self) -> None:
        deadline = time.monotonic() + 60
        while True:
            try:
                httpx2.get(f"{self.url}/healthz")
            except httpx2.TransportError:
                assert time.monotonic() < deadline, "the server did not start"
                time.sleep(0.1)
            else:
                return

    def set_up(self) -> None:
        """Make a program's token, an artwork, and a photo of a good piece of it."""
        scene = piece_scene()
        assert scene.piece is not None
        photo, artwork = self.folder / "photo.jpg", self.folder / "artwork.png"
        write_photo(photo, render(scene, 1))
        Image.fromarray(scene.piece.artwork).save(artwork)
        with httpx2.Client(base_url=self.url, headers={"Origin": self.url}, timeout=60) as owner:
            owner.post(f"{API}/sign-in", json={"passphrase": self.passphrase}).raise_for_status()
            told = owner.post(f"{API}/programs", json={"name": "benchmark", "role": "owner"})
            self.token = told.json()["token"]
            files = {"file": (artwork.name, artwork.read_bytes())}
            added = owner.post(f"{API}/artworks", data={"name": "Coaster"}, files=files)
        self.artwork, self.photo = int(added.json()["id"]), photo.read_bytes()

    def client(self) -> httpx2.Client:
        """Return a program that may do all."""
        headers = {"Authorization": f"Bearer {self.token}"}
        return httpx2.Client(base_url=self.url, headers=headers, timeout=60)

    def send(self, client: httpx2.Client, number: int, key: str | None = None) -> str:
        """Send a photo that no other sends; return its inspection.

        Bytes behind a JPEG's end make it another file of the same picture.
        """
        headers = {"Content-Type": "image/jpeg", **({"Idempotency-Key": key} if key else {})}
        answer = client.post(
            f"{API}/inspections?artwork={self.artwork}&name=piece-{number}.jpg",
            content=self.photo + number.to_bytes(8, "big"),
            headers=headers,
        )
        answer.raise_for_status()
        return str(answer.json()["id"])

    def depth(self, client: httpx2.Client) -> int:
        """Return how many inspections are not finished."""
        told = re.search(r"dyecast_queue_depth (\d+)", client.get("/metrics").text)
        return int(told[1]) if told else 0

    def worker_processes(self) -> list[int]:
        """Return the process numbers of the workers."""
        assert self.process is not None
        found: set[int] = set()
        for task in Path(f"/proc/{self.process.pid}/task").iterdir():
            found |= {int(child) for child in (task / "children").read_text().split()}
        return sorted(found)

    def kill(self) -> None:
        """Kill the server as a power cut would, without a word."""
        assert self.process is not None
        assert self.process.stdout is not None
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()
        self.process.stdout.close()

    def stop(self) -> int:
        """Stop it calmly; return its exit status."""
        assert self.process is not None
        assert self.process.stdout is not None
        self.process.terminate()
        status = self.process.wait(60)
        self.process.stdout.close()
        return status
