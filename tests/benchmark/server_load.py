"""What a server bears: ``python tests/benchmark/server_load.py --photos 120``.

Starts `dyecast serve` in an empty folder, sends photos from several clients, asks for pages meanwhile.
"""

import argparse
import os
import re
import socket
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import httpx2
from PIL import Image

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmark.tables import Cell, Table, markdown
from inspected_scenes import piece_scene
from scenes.render import render, write_photo

API = "/api/v1"
CLIENTS = 8
ALONE = 12
"""Photos sent one by one, to learn what one inspection costs when nothing else goes on."""

PAGES = ("/", "/inspections", "/artworks", f"{API}/inspections")


@dataclass(slots=True)
class Bench:
    """A running server and a program that may do all."""

    process: "subprocess.Popen[str]"
    client: httpx2.Client
    artwork: int
    photo: bytes
    page_seconds: list[float] = field(default_factory=list)

    def workers(self) -> list[int]:
        """Return the process numbers of the workers."""
        path = Path(f"/proc/{self.process.pid}/task/{self.process.pid}/children")
        found = {int(child) for child in path.read_text().split()}
        for task in Path(f"/proc/{self.process.pid}/task").iterdir():
            found |= {int(child) for child in (task / "children").read_text().split()}
        return sorted(found)

    def send(self, number: int) -> str:
        """Send a photo that no other sends; return its inspection."""
        content = self.photo + number.to_bytes(8, "big")  # bytes behind a JPEG's end: same picture, new file
        answer = self.client.post(
            f"{API}/inspections?artwork={self.artwork}&name=piece-{number}.jpg",
            content=content,
            headers={"Content-Type": "image/jpeg"},
        )
        answer.raise_for_status()
        return str(answer.json()["id"])

    def depth(self) -> int:
        """Return how many inspections are not finished."""
        told = re.search(r"dyecast_queue_depth (\d+)", self.client.get("/metrics").text)
        return int(told[1]) if told else 0


def main(arguments: Sequence[str] | None = None) -> int:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--photos", type=int, default=120)
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    order = parser.parse_args(arguments)
    with tempfile.TemporaryDirectory() as folder, _bench(Path(folder), order.workers) as bench:
        alone = _cpu_seconds_alone(bench)
        memory_before = _memory(bench)
        wall, cpu = _under_load(bench, order.photos)
        memory_after = _memory(bench)
    rate = order.photos / wall
    pages = sorted(bench.page_seconds)
    rows: tuple[tuple[Cell, ...], ...] = (
        ("photos", order.photos),
        ("workers", order.workers),
        ("CPU seconds of one inspection, alone", alone),
        ("CPU seconds of one inspection, under load", cpu / order.photos),
        ("photos a minute", 60 * rate),
        ("ratio to cores / CPU seconds of one", rate * alone / (os.cpu_count() or 1)),
        ("page answers during the load", len(pages)),
        ("page answer, median, ms", 1000 * statistics.median(pages)),
        ("page answer, 95th percentile, ms", 1000 * pages[int(0.95 * len(pages))]),
        ("largest worker before, MB", memory_before / 1e6),
        ("largest worker after, MB", memory_after / 1e6),
    )
    print(markdown(Table("A server under load", ("what", "value"), rows)))
    return 0


@contextmanager
def _bench(folder: Path, workers: int) -> Iterator[Bench]:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    environment = {**os.environ, "DYECAST_DATA": str(folder / "data"), "DYECAST_HOST": "127.0.0.1"}
    command = [sys.executable, "-m", "dyecast_api", "serve", "--port", str(port), "--workers", str(workers)]
    with (folder / "log").open("w", encoding="utf-8") as log:
        process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=log, text=True, env=environment)
        assert process.stdout is not None
        said = ""
        while "Stop with Ctrl-C" not in said:
            said += process.stdout.readline()
        passphrase = re.findall(r"shown this once: (\S+)", said)[0]
        try:
            yield _signed_in(process, f"http://127.0.0.1:{port}", passphrase, folder)
        finally:
            process.terminate()
            process.wait(60)


def _signed_in(process: "subprocess.Popen[str]", url: str, passphrase: str, folder: Path) -> Bench:
    scene = piece_scene()
    assert scene.piece is not None
    photo, artwork = folder / "photo.jpg", folder / "artwork.png"
    write_photo(photo, render(scene, 1))
    Image.fromarray(scene.piece.artwork).save(artwork)
    client = httpx2.Client(base_url=url, headers={"Origin": url}, timeout=60)
    while True:
        try:
            client.post(f"{API}/sign-in", json={"passphrase": passphrase}).raise_for_status()
            break
        except httpx2.TransportError:
            time.sleep(0.2)
    token = client.post(f"{API}/programs", json={"name": "load", "role": "owner"}).json()["token"]
    program = httpx2.Client(base_url=url, headers={"Authorization": f"Bearer {token}"}, timeout=60)
    files = {"file": (artwork.name, artwork.read_bytes())}
    added = program.post(f"{API}/artworks", data={"name": "Coaster"}, files=files)
    return Bench(process, program, added.json()["id"], photo.read_bytes())


def _cpu_seconds_alone(bench: Bench) -> float:
    """Return the CPU seconds of one inspection when photos come one by one; the first ones warm up."""
    for number in range(4):
        _inspected(bench, number)
    before = _cpu(bench)
    for number in range(10, 10 + ALONE):
        _inspected(bench, number)
    return (_cpu(bench) - before) / ALONE


def _inspected(bench: Bench, number: int) -> None:
    identifier = bench.send(number)
    while bench.client.get(f"{API}/inspections/{identifier}").json()["state"] != "finished":
        time.sleep(0.1)


def _under_load(bench: Bench, photos: int) -> tuple[float, float]:
    """Send all photos from several clients, wait for the last; return wall seconds and the workers' CPU."""
    done = threading.Event()
    asking = threading.Thread(target=_ask_for_pages, args=(bench, done))
    cpu, began = _cpu(bench), time.perf_counter()
    asking.start()
    with ThreadPoolExecutor(CLIENTS) as clients:
        list(clients.map(bench.send, range(1000, 1000 + photos)))
    while waiting := bench.depth():
        print(f"\r{waiting} to go   ", end="", file=sys.stderr, flush=True)
        time.sleep(0.25)
    wall = time.perf_counter() - began
    done.set()
    asking.join()
    return wall, _cpu(bench) - cpu


def _ask_for_pages(bench: Bench, done: threading.Event) -> None:
    headers = {"Accept": "text/html", "Authorization": bench.client.headers["Authorization"]}
    with httpx2.Client(base_url=bench.client.base_url, headers=headers, timeout=60) as reader:
        while not done.wait(0.1):
            for page in PAGES:
                began = time.perf_counter()
                reader.get(page).raise_for_status()
                bench.page_seconds.append(time.perf_counter() - began)


def _cpu(bench: Bench) -> float:
    """Return the CPU seconds that the workers have taken."""
    ticks = os.sysconf("SC_CLK_TCK")
    total = 0.0
    for worker in bench.workers():
        fields = Path(f"/proc/{worker}/stat").read_text().rpartition(")")[2].split()
        total += (int(fields[11]) + int(fields[12])) / ticks
    return total


def _memory(bench: Bench) -> float:
    """Return the resident set of the largest worker, bytes."""
    page = os.sysconf("SC_PAGE_SIZE")
    return max(int(Path(f"/proc/{worker}/statm").read_text().split()[1]) * page for worker in bench.workers())


if __name__ == "__main__":
    sys.exit(main())
