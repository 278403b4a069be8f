"""What a server bears: ``python tests/benchmark/server_load.py --photos 120``.

Starts `dyecast serve` in an empty folder, sends photos from several clients, asks for pages meanwhile.
"""

import argparse
import os
import statistics
import sys
import tempfile
import threading
import time
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from pathlib import Path

import httpx2

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmark.tables import Cell, Table, markdown
from running_server import API, RunningServer

CLIENTS = 8
ALONE = 12
"""Photos sent one by one, to learn what one inspection costs when nothing else goes on."""

PATIENCE_SECONDS = 2.0
"""How long a refused sender waits: the server counts over the last minute, and room comes bit by bit."""

PAGES = ("/", "/inspections", "/artworks", f"{API}/inspections")


def main(arguments: Sequence[str] | None = None) -> int:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--photos", type=int, default=120)
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    order = parser.parse_args(arguments)
    pages: list[float] = []
    with tempfile.TemporaryDirectory() as folder:
        server = RunningServer(Path(folder), order.workers)
        server.start()
        server.set_up()
        with server.client() as client:
            alone = _cpu_seconds_alone(server, client)
            memory_before = _memory(server)
            wall, cpu = _under_load(server, client, order.photos, pages)
            memory_after = _memory(server)
        server.stop()
    rate, cores = order.photos / wall, os.cpu_count() or 1
    rows: tuple[tuple[Cell, ...], ...] = (
        ("photos", order.photos),
        ("workers", order.workers),
        ("CPU seconds of one inspection, alone", alone),
        ("CPU seconds of one inspection, under load", cpu / order.photos),
        ("photos a minute", 60 * rate),
        ("ratio to cores / CPU seconds of one", rate * alone / cores),
        ("page answers during the load", len(pages)),
        ("page answer, median, ms", 1000 * statistics.median(pages)),
        ("page answer, 95th percentile, ms", 1000 * sorted(pages)[int(0.95 * len(pages))]),
        ("largest worker before, MB", memory_before / 1e6),
        ("largest worker after, MB", memory_after / 1e6),
    )
    print(markdown(Table("A server under load", ("what", "value"), rows)))
    return 0


def _cpu_seconds_alone(server: RunningServer, client: httpx2.Client) -> float:
    """Return the CPU seconds of one inspection when photos come one by one; the first ones warm up."""
    for number in range(4):
        _inspected(server, client, number)
    before = _cpu(server)
    for number in range(10, 10 + ALONE):
        _inspected(server, client, number)
    return (_cpu(server) - before) / ALONE


def _inspected(server: RunningServer, client: httpx2.Client, number: int) -> None:
    identifier = server.send(client, number)
    while client.get(f"{API}/inspections/{identifier}").json()["state"] != "finished":
        time.sleep(0.1)


def _under_load(
    server: RunningServer, client: httpx2.Client, photos: int, pages: list[float]
) -> tuple[float, float]:
    """Send all photos from several clients, wait for the last; return wall seconds and the workers' CPU."""
    done = threading.Event()
    asking = threading.Thread(target=_ask_for_pages, args=(server, done, pages))
    cpu, began = _cpu(server), time.perf_counter()
    asking.start()
    try:
        with ThreadPoolExecutor(CLIENTS) as clients:
            list(clients.map(partial(_send, server, client), range(1000, 1000 + photos)))
        while waiting := server.depth(client):
            print(f"\r{waiting} to go   ", end="", file=sys.stderr, flush=True)
            time.sleep(0.25)
        wall = time.perf_counter() - began
    finally:
        done.set()
        asking.join()
    return wall, _cpu(server) - cpu


def _send(server: RunningServer, client: httpx2.Client, number: int) -> None:
    """Send one photo, patiently: a device may send 240 a minute at most."""
    while True:
        try:
            server.send(client, number)
        except httpx2.HTTPStatusError as refused:
            if refused.response.status_code != httpx2.codes.TOO_MANY_REQUESTS:
                raise
            time.sleep(PATIENCE_SECONDS)
        else:
            return


def _ask_for_pages(server: RunningServer, done: threading.Event, pages: list[float]) -> None:
    with server.client() as reader:
        reader.headers["Accept"] = "text/html"
        while not done.wait(0.1):
            for page in PAGES:
                began = time.perf_counter()
                reader.get(page).raise_for_status()
                pages.append(time.perf_counter() - began)


def _cpu(server: RunningServer) -> float:
    """Return the CPU seconds that the workers have taken."""
    ticks, total = os.sysconf("SC_CLK_TCK"), 0.0
    for worker in server.worker_processes():
        fields = Path(f"/proc/{worker}/stat").read_text().rpartition(")")[2].split()
        total += (int(fields[11]) + int(fields[12])) / ticks
    return total


def _memory(server: RunningServer) -> float:
    """Return the resident set of the largest worker, bytes."""
    page = os.sysconf("SC_PAGE_SIZE")
    sizes = [
        int(Path(f"/proc/{worker}/statm").read_text().split()[1]) for worker in server.worker_processes()
    ]
    return max(sizes) * page


if __name__ == "__main__":
    sys.exit(main())
