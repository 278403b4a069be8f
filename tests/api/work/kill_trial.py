"""A trial by killing: many clients send photos, workers inspect them, and both are killed at random.

Run as a script it is the clients: one process that forks them and kills some of them now and then. A client
that was killed begins again as a phone does: it sends what was not acknowledged once more, with the same key.
"""

import argparse
import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import Engine, func, select

from api.work.pieces_of_work import rows_of, shop_of, small_photo
from dyecast_api.store.database import engine_for, reading
from dyecast_api.store.inspection_tables import inspections
from dyecast_api.work.accept_photo import PhotoOrder, accept_photo
from dyecast_api.work.file_store import FileStore, open_file_store
from dyecast_api.work.queue import waiting_count
from dyecast_api.work.task_messages import task_messages
from dyecast_api.work.worker_pool import WorkerPool
from dyecast_api.work.worker_process import WorkPlace

CLIENTS = 8


@dataclass(frozen=True, slots=True)
class Trial:
    """What is sent and killed. Pauses, in seconds, are the longest between two kills or two photos.

    `photos` is a folder of photos to send in turn, or empty for small made ones.
    """

    photos: str = ""
    artwork_version_id: int | None = None
    count: int = 200
    client_kills: int = 14
    worker_kills: int = 6
    client_pause: float = 0.04
    client_kill_pause: float = 0.25
    worker_kill_pause: float = 0.3
    workers: int = 2
    seed: int = 1


@dataclass(slots=True)
class Outcome:
    """What was lost or doubled, and what it took."""

    seconds: float
    worker_kills: int
    client_kills: int
    acknowledged: dict[str, str] = field(default_factory=dict)
    problems: list[str] = field(default_factory=list)
    attempts: list[int] = field(default_factory=list)
    verdicts: list[str | None] = field(default_factory=list)


def run_trial(place: WorkPlace, engine: Engine, trial: Trial, folder: Path) -> Outcome:
    """Run clients and workers, kill both, wait until nothing waits; return what came out."""
    acknowledgements = folder / "acknowledged"
    acknowledgements.touch()
    started = time.monotonic()
    pool = WorkerPool(place, trial.workers, rest_seconds=0.1).start()
    clients = subprocess.Popen(
        _clients_command(place, trial, acknowledgements), stdout=subprocess.PIPE, text=True
    )
    try:
        kills = _kill_workers(pool, engine, clients, trial)
    finally:
        pool.stop()
        told, _ = clients.communicate()
    assert clients.returncode == 0
    outcome = Outcome(round(time.monotonic() - started, 1), kills, int(told))
    _judge(outcome, engine, open_file_store(place.files), acknowledgements, trial)
    return outcome


def _kill_workers(pool: WorkerPool, engine: Engine, clients: "subprocess.Popen[str]", trial: Trial) -> int:
    """Kill workers at random until nothing waits, each time after some work was done; return how often.

    Every other time it is one that has a photo in hand.
    """
    chance, kills, done_before = random.Random(trial.seed), 0, 0
    deadline = time.monotonic() + 600
    while True:
        time.sleep(chance.uniform(0.0, trial.worker_kill_pause))
        is_over = clients.poll() is not None and not waiting_count(engine)
        if is_over and kills >= trial.worker_kills:
            return kills
        assert time.monotonic() < deadline, f"{waiting_count(engine)} photos still wait"
        done, victims = finished_count(engine), pool.process_ids()
        if victims and kills < trial.worker_kills and (done > done_before or is_over):
            busy = [name for name in busy_workers(engine) if name in victims and kills % 2 == 0]
            os.kill(victims[chance.choice(busy or list(victims))], signal.SIGKILL)
            kills, done_before = kills + 1, done


def finished_count(engine: Engine) -> int:
    """Return how many inspections are done."""
    counting = select(func.count()).select_from(inspections).where(inspections.c.finished_at.is_not(None))
    with reading(engine) as connection:
        return int(connection.execute(counting).scalar_one())


def busy_workers(engine: Engine) -> list[str]:
    """Return the names of workers that have a photo in hand."""
    with reading(engine) as connection:
        named = select(inspections.c.worker).where(inspections.c.worker.is_not(None))
        return [str(name) for name in connection.execute(named).scalars()]


def _clients_command(place: WorkPlace, trial: Trial, acknowledgements: Path) -> list[str]:
    words = [place.database_url, place.files, place.broker_url or "", str(acknowledgements), trial.photos]
    numbers = [trial.artwork_version_id or 0, trial.count, trial.client_kills]
    pauses = [trial.client_pause, trial.client_kill_pause, trial.seed]
    return [sys.executable, "-m", "api.work.kill_trial", *words, *map(str, [*numbers, *pauses])]


def _judge(outcome: Outcome, engine: Engine, store: FileStore, acknowledgements: Path, trial: Trial) -> None:
    """Compare what was acknowledged with what is in the record."""
    outcome.acknowledged = dict(line.split() for line in acknowledgements.read_text("ascii").splitlines())
    rows = rows_of(engine)
    by_key = {row.idempotency_key: row for row in rows}
    if len(rows) != trial.count or len(by_key) != trial.count:
        outcome.problems.append(f"{len(rows)} inspections of {len(by_key)} photos, not {trial.count}")
    for key, public_id in outcome.acknowledged.items():
        if key not in by_key or by_key[key].public_id != public_id:
            outcome.problems.append(f"photo {key} was acknowledged and is not in the record")
    for row in rows:
        store.read(row.photo_sha256)  # raises for a missing or damaged one
        if row.finished_at is None or (row.document is None) == (row.problem is None):
            outcome.problems.append(f"inspection {row.id} has not one result: {row.verdict}, {row.problem}")
        outcome.attempts.append(row.attempt)
        outcome.verdicts.append(row.verdict)


def main() -> None:
    """Be the clients; print how many of them were killed."""
    parser = argparse.ArgumentParser()
    for name in ("database", "files", "broker", "acknowledgements", "photos"):
        parser.add_argument(name)
    for name in ("artwork", "count", "kills"):
        parser.add_argument(name, type=int)
    for name in ("pause", "kill_pause", "seed"):
        parser.add_argument(name, type=float)
    print(_run_clients(parser.parse_args()))


def _run_clients(given: argparse.Namespace) -> int:
    """Fork the clients, kill some, begin again for the killed; return the number of kills."""
    chance = random.Random(given.seed)
    share = -(-given.count // CLIENTS)
    numbers = [range(start, min(start + share, given.count)) for start in range(0, given.count, share)]
    running = {_forked(given, mine): mine for mine in numbers}
    kills, next_kill = 0, time.monotonic() + chance.uniform(0.0, given.kill_pause)
    while running:
        if kills < given.kills and time.monotonic() > next_kill:
            os.kill(chance.choice(list(running)), signal.SIGKILL)
            kills, next_kill = kills + 1, time.monotonic() + chance.uniform(0.0, given.kill_pause)
        process_id, status = os.waitpid(-1, os.WNOHANG)
        if process_id == 0:
            time.sleep(0.005)
            continue
        mine = running.pop(process_id)
        if status:
            running[_forked(given, mine)] = mine
    return kills


def _forked(given: argparse.Namespace, mine: range) -> int:
    """Start a client for the photos that were not acknowledged yet; return its process's number."""
    process_id = os.fork()
    if process_id:
        return process_id
    try:
        _send_all(given, mine)
    except BaseException as error:
        print(f"client: {error}", file=sys.stderr)
        os._exit(1)
    os._exit(0)


def _send_all(given: argparse.Namespace, mine: range) -> None:
    """Send this client's photos one after the other, and note each acknowledgement as a phone would."""
    acknowledged = {line.split()[0] for line in Path(given.acknowledgements).read_text("ascii").splitlines()}
    engine, store = engine_for(given.database), open_file_store(given.files)
    messages = task_messages(given.broker) if given.broker else None
    photo_of, chance, shop = photos(given.photos), random.Random(), shop_of(engine)
    for number in mine:
        if str(number) in acknowledged:
            continue
        name, photo = photo_of(number)
        order = PhotoOrder(shop, name, given.artwork or None, idempotency_key=str(number))
        accepted = accept_photo(engine, store, order, photo, datetime.now(UTC))
        with Path(given.acknowledgements).open("ab", buffering=0) as acknowledgements:
            acknowledgements.write(f"{number} {accepted.public_id}\n".encode("ascii"))
        if messages is not None:
            messages.tell(accepted.inspection_id)
        time.sleep(chance.uniform(0.0, given.pause))


def photos(folder: str) -> Callable[[int], tuple[str, bytes]]:
    """Return what makes the name and bytes of photo number N."""
    if not folder:
        return lambda number: (f"trial-{number}.jpg", small_photo(number))
    files = sorted(Path(folder).glob("*.jpg"))
    return lambda number: (files[number % len(files)].name, files[number % len(files)].read_bytes())


if __name__ == "__main__":
    main()
