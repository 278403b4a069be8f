"""A worker: takes one inspection after the other until it is told to stop."""

import logging
import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from pathlib import Path
from threading import Event
from typing import Final

from sqlalchemy import Engine

from dyecast_api.work.heartbeat import heartbeat
from dyecast_api.work.queue import (
    LEASE_SECONDS,
    TROUBLE,
    Claimed,
    InspectionResult,
    claim,
    finish,
    give_up,
    problem_of,
    release,
)
from dyecast_shared.errors import DyecastError, InspectionFailed, StoreUnavailable

LOOK_SECONDS: Final = 0.25
"""How often an idle worker looks for work that nobody woke it for: a photo accepted by another process."""

REST_SECONDS: Final = 1.0
"""How long a worker rests when the database or the disk refuses to be written."""

MOST_MEMORY_BYTES: Final = 1500 * 1024 * 1024
"""Memory from which a worker ends after the inspection in hand, for a fresh one to take its place: what the
largest photo that is accepted may take (`ReadingBounds`)."""

Inspector = Callable[[Claimed, Callable[[str], None]], InspectionResult]
"""Inspects what was claimed, telling each stage's name as it begins; raises DyecastError."""

log = logging.getLogger("dyecast.work")


@dataclass(frozen=True, slots=True, eq=False)
class Worker:
    """What a worker works with.

    Attributes
    ----------
    engine
        The shop's database.
    inspector
        Inspects what was claimed.
    name
        Names this process in the rows it holds.
    stop, wake
        Set from outside: end after the inspection in hand; look for work at once.
    lease_seconds
        How long it may be silent.
    """

    engine: Engine
    inspector: Inspector
    name: str
    stop: Event = field(default_factory=Event)
    wake: Event = field(default_factory=Event)
    lease_seconds: float = LEASE_SECONDS


def run_worker(worker: Worker, *, until_empty: bool = False) -> None:
    """Work until told to stop, until memory runs high, or with `until_empty` until nothing waits.

    Never raises for what is wrong with a photo, the disk or the database: it says so in the log and goes on.
    """
    while not worker.stop.is_set():
        worker.wake.clear()
        worked = _work_once(worker)
        if worked and memory_bytes() > MOST_MEMORY_BYTES:
            log.warning("worker %s ends: it holds more memory than it should", worker.name)
            return
        if not worked and until_empty:
            return
        if not worked:
            worker.wake.wait(LOOK_SECONDS)


def _work_once(worker: Worker) -> bool:
    """Inspect what waits next; False when there was nothing or nothing could be taken."""
    try:
        give_up(worker.engine, datetime.now(UTC))
        claimed = claim(worker.engine, datetime.now(UTC), worker.lease_seconds, worker=worker.name)
    except StoreUnavailable as error:
        log.error("no work can be taken: %s", error)
        worker.stop.wait(REST_SECONDS)
        return False
    if claimed is None:
        return False
    work_on(worker, claimed)
    return True


def work_on(worker: Worker, claimed: Claimed) -> bool:
    """Inspect what was claimed and write the result; False when it was not written by this worker.

    What the store refuses (a full disk, a database that stays locked) puts the photo back untried.
    """
    started = time.monotonic()
    try:
        with heartbeat(worker.engine, claimed, worker.lease_seconds) as beating:
            result = outcome(lambda: worker.inspector(claimed, beating.say), claimed)
        result = replace(result, seconds=round(time.monotonic() - started, 3))
        return finish(worker.engine, claimed, result, datetime.now(UTC))
    except StoreUnavailable as error:
        log.error("inspection %s is put back: %s", claimed.public_id, error)
        _put_back(worker, claimed)
        worker.stop.wait(REST_SECONDS)
        return False


def outcome(inspect: Callable[[], InspectionResult], claimed: Claimed) -> InspectionResult:
    """Return what inspecting gives; every error but an unavailable store becomes a problem in the record."""
    try:
        return inspect()
    except StoreUnavailable:
        raise
    except DyecastError as error:
        return InspectionResult(verdict=TROUBLE, problem=problem_of(error))
    except Exception as error:
        log.exception("inspection %s failed", claimed.public_id)
        failed = InspectionFailed(f"Something went wrong inside dyecast ({type(error).__name__}).")
        return InspectionResult(verdict=TROUBLE, problem=problem_of(failed))


def _put_back(worker: Worker, claimed: Claimed) -> None:
    """Free the lease now; when even that cannot be written, it runs out by itself."""
    try:
        release(worker.engine, claimed)
    except StoreUnavailable as error:
        log.error("inspection %s waits for its lease to run out: %s", claimed.public_id, error)


def memory_bytes() -> int:
    """Return the memory this process holds, 0 where the system does not tell (it does on Linux)."""
    try:
        pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
    except (OSError, ValueError, IndexError):
        return 0
    return pages * 4096
