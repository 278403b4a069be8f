"""A worker in a process of its own: `python -m dyecast_api.work.worker_process`, started by the pool.

Its standard input is a pipe whose other end the pool holds. A byte means "look for work"; the end of the
pipe means that the pool is gone, however it ended, and that this worker must end too.
"""

import argparse
import importlib
import logging
import os
import shutil
import signal
import sys
import threading
import time
from collections.abc import Callable
from contextlib import nullcontext
from dataclasses import dataclass
from pathlib import Path
from queue import SimpleQueue
from types import FrameType
from typing import Any, Final

from dyecast_api.blas_threads import keep_blas_to_one_thread
from dyecast_api.exit_status import TROUBLE
from dyecast_api.store.data_lock import data_in_use
from dyecast_shared.errors import DyecastError

INSPECTOR: Final = "dyecast_api.work.inspect_claimed:ClaimedInspector"
"""What makes the inspector from an engine and a file store; tests name another one."""

SCRATCH_VARIABLE: Final = "DYECAST_WORK_SCRATCH"
"""Environment variable with the worker's folder of temporary files, which it takes away at its end."""

LEAVE_SECONDS: Final = 20.0
"""How long an inspection in hand may take once the worker was told to stop; then it ends all the same."""


@dataclass(frozen=True, slots=True)
class WorkPlace:
    """Where a worker finds its work, as words that travel to another process.

    Attributes
    ----------
    database_url, files
        The shop's database, and the folder or address of its files.
    broker_url
        RabbitMQ that tells of work (`amqp://…`); without one the worker looks into the database itself.
    inspector
        `module:function` that makes the inspector.
    lease_seconds
        How long a worker may be silent.
    folder
        Data folder that nobody may replace while a worker runs; None for none.
    """

    database_url: str
    files: str
    broker_url: str | None = None
    inspector: str = INSPECTOR
    lease_seconds: float = 10.0
    folder: str | None = None


def command_of(place: WorkPlace, name: str) -> tuple[list[str], dict[str, str]]:
    """Return the command that starts a worker, and its environment: addresses may hold passwords."""
    command = [
        sys.executable,
        "-m",
        "dyecast_api.work.worker_process",
        "--name",
        name,
        "--inspector",
        place.inspector,
    ]
    command += ["--lease", str(place.lease_seconds)]
    environment = {
        **os.environ,
        "DYECAST_WORK_DATABASE": place.database_url,
        "DYECAST_WORK_FILES": place.files,
        "DYECAST_WORK_BROKER": place.broker_url or "",
        "DYECAST_WORK_FOLDER": place.folder or "",
    }
    return command, environment


def main(arguments: list[str] | None = None) -> None:
    """Work until told to stop."""
    name, place = _read_order(arguments)
    keep_blas_to_one_thread()
    logging.basicConfig(stream=sys.stderr, level=logging.WARNING, format="%(levelname)s %(name)s %(message)s")
    stop, wake, told = threading.Event(), threading.Event(), SimpleQueue[None]()

    def note(_number: int, _frame: FrameType | None) -> None:
        told.put(None)  # an event's lock may be held by what the signal broke into; this queue has none

    signal.signal(signal.SIGTERM, note)
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C reaches the pool, which ends its workers calmly
    threading.Thread(target=_end, args=(told, stop, wake), name="end", daemon=True).start()
    threading.Thread(target=_listen, args=(wake, told), name="pool", daemon=True).start()
    try:
        with nullcontext() if place.folder is None else data_in_use(Path(place.folder), place.database_url):
            _run(name, place, stop, wake)
    except DyecastError as error:
        logging.getLogger("dyecast.work").error("the worker cannot work: %s", error)
        raise SystemExit(TROUBLE) from error
    if scratch := os.environ.get(SCRATCH_VARIABLE):
        shutil.rmtree(scratch, ignore_errors=True)


def _read_order(arguments: list[str] | None) -> tuple[str, WorkPlace]:
    parser = argparse.ArgumentParser()
    parser.add_argument("--name", required=True)
    parser.add_argument("--inspector", default=INSPECTOR)
    parser.add_argument("--lease", type=float, default=10.0)
    given = parser.parse_args(arguments)
    broker = os.environ.get("DYECAST_WORK_BROKER") or None
    folder = os.environ.get("DYECAST_WORK_FOLDER") or None
    database, files = os.environ["DYECAST_WORK_DATABASE"], os.environ["DYECAST_WORK_FILES"]
    return given.name, WorkPlace(database, files, broker, given.inspector, given.lease, folder)


def _listen(wake: threading.Event, told: SimpleQueue[None]) -> None:
    """Wake the worker at every byte; end it when the pool is gone."""
    while os.read(0, 4096):
        wake.set()
    told.put(None)


def _end(told: SimpleQueue[None], stop: threading.Event, wake: threading.Event) -> None:
    """Wait until the worker is told to end; let it, and end the process when it takes too long."""
    told.get()
    stop.set()
    wake.set()
    time.sleep(LEAVE_SECONDS)
    os._exit(1)


def _run(name: str, place: WorkPlace, stop: threading.Event, wake: threading.Event) -> None:
    """Open the shop and work."""
    from dyecast_api.store.database import engine_for
    from dyecast_api.work.file_store import open_file_store
    from dyecast_api.work.worker import Worker, run_worker

    engine = engine_for(place.database_url)
    inspector = named_function(place.inspector)(engine, open_file_store(place.files))
    worker = Worker(engine, inspector, name, stop, wake, place.lease_seconds)
    if place.broker_url is None:
        run_worker(worker)
    else:
        from dyecast_api.work.task_messages import run_message_worker

        run_message_worker(worker, place.broker_url)
    engine.dispose()


def named_function(path: str) -> Callable[..., Any]:
    """Return what `module:name` names."""
    module, _, name = path.partition(":")
    found: Callable[..., Any] = getattr(importlib.import_module(module), name)
    return found


if __name__ == "__main__":
    main()
