"""Photos sent while the server and its workers are killed: ``python tests/benchmark/server_kill.py``.

With ``--scaled`` the shop's data lies in PostgreSQL, and RabbitMQ tells the workers of photos.

Clients send over HTTP and try again with the same key, as the bench page does; a killer kills the whole
server, or one worker, at random, and starts the server again. At the end every photo has one inspection.
"""

import argparse
import contextlib
import os
import random
import secrets
import signal
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

import httpx2

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmark.tables import Cell, Table, markdown
from running_server import API, RunningServer
from servers.postgresql import postgresql_server
from servers.rabbitmq import rabbitmq_broker

CLIENTS = 8


def main(arguments: Sequence[str] | None = None) -> int:
    """Send, kill, count, print; 1 when a photo was lost or doubled."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--photos", type=int, default=200)
    parser.add_argument("--kills", type=int, default=20)
    parser.add_argument("--scaled", action="store_true", help="PostgreSQL and RabbitMQ, from Debian")
    parser.add_argument("--seconds", type=float, default=4.0, help="mean time between two kills")
    order = parser.parse_args(arguments)
    began = time.perf_counter()
    with contextlib.ExitStack() as stack:
        folder = stack.enter_context(tempfile.TemporaryDirectory())
        environment = _scaled(stack) if order.scaled else {}
        server = RunningServer(Path(folder), os.cpu_count() or 1, environment)
        server.start()
        server.set_up()
        sent: dict[int, str] = {}
        senders = [
            threading.Thread(target=_send, args=(server, range(place, order.photos, CLIENTS), sent))
            for place in range(CLIENTS)
        ]
        for sender in senders:
            sender.start()
        kills = _kill(server, order.kills, order.seconds)
        for sender in senders:
            sender.join()
        with server.client() as client:
            while server.depth(client):
                time.sleep(0.5)
            listed = client.get(f"{API}/inspections.json").json()
        server.stop()
    return _told(order.photos, sent, listed, kills, time.perf_counter() - began)


def _scaled(stack: contextlib.ExitStack) -> dict[str, str]:
    """Start a database server and a broker; return the settings that point to them."""
    database = stack.enter_context(postgresql_server()).new_database()
    return {
        "DYECAST_DATABASE_URL": database,
        "DYECAST_BROKER_URL": stack.enter_context(rabbitmq_broker()),
    }


def _send(server: RunningServer, numbers: range, sent: dict[int, str]) -> None:
    """Send photos one after the other, each again and again until the server has answered."""
    with server.client() as client:
        for number in numbers:
            key = secrets.token_hex(16)
            while number not in sent:
                try:
                    sent[number] = server.send(client, number, key)
                except httpx2.HTTPError:
                    time.sleep(0.3)


def _kill(server: RunningServer, count: int, seconds: float) -> Counter[str]:
    """Kill the server or a worker, `count` times; the server is started again at once."""
    chance = random.Random(20)
    killed: Counter[str] = Counter()
    for number in range(count):
        time.sleep(chance.expovariate(1.0 / seconds))
        workers = server.worker_processes()
        if chance.random() < 0.5 and workers:
            os.kill(chance.choice(workers), signal.SIGKILL)
            killed["worker"] += 1
        else:
            server.kill()
            server.start()
            killed["server"] += 1
        print(f"\r{number + 1} of {count} kills   ", end="", file=sys.stderr, flush=True)
    return killed


def _told(
    photos: int, sent: dict[int, str], listed: list[dict[str, object]], kills: Counter[str], wall: float
) -> int:
    names = Counter(str(each["photo"]) for each in listed)
    lost = sum(f"piece-{number}.jpg" not in names for number in range(photos))
    doubled = sum(count > 1 for count in names.values())
    verdicts = Counter(str(each["verdict"]) for each in listed)
    rows: tuple[tuple[Cell, ...], ...] = (
        ("photos answered", len(sent)),
        ("inspections", len(listed)),
        ("lost", lost),
        ("doubled", doubled),
        ("server killed", kills["server"]),
        ("worker killed", kills["worker"]),
        *((f"called {verdict}", count) for verdict, count in sorted(verdicts.items())),
        ("seconds", wall),
    )
    print(markdown(Table("Photos sent while server and workers are killed", ("what", "value"), rows)))
    return int(bool(lost or doubled or len(listed) != photos))


if __name__ == "__main__":
    sys.exit(main())
