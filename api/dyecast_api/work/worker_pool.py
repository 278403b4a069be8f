"""Workers in processes of their own: started, replaced when they die, ended with the pool."""

import contextlib
import logging
import os
import secrets
import shutil
import subprocess
import tempfile
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final, Self

from sqlalchemy import Engine

from dyecast_api.store.database import engine_for
from dyecast_api.work.queue import free_leases
from dyecast_api.work.worker_process import SCRATCH_VARIABLE, WorkPlace, command_of
from dyecast_shared.errors import StoreTrouble

LOOK_SECONDS: Final = 0.1
"""How often the pool looks after its workers."""

REST_SECONDS: Final = 2.0
"""How long a worker's place stays empty when it died within that time of its start: something is wrong with
the installation, and starting processes as fast as they die would help nobody."""

STOP_SECONDS: Final = 25.0
"""How long a worker may take to end before it is killed."""

log = logging.getLogger("dyecast.work")


@dataclass(slots=True, eq=False)
class WorkerProcess:
    """A running worker: its name in the queue, its process, its temporary files, when it was started."""

    name: str
    process: "subprocess.Popen[bytes]"
    scratch: Path
    started: float = field(default_factory=time.monotonic)
    is_forgotten: bool = False


class WorkerPool:
    """So many workers on one shop's queue, from `start` to `stop`.

    When this process is killed, its workers see the end of their pipe and end too. What a dead worker had in
    hand is free at once.
    """

    def __init__(
        self,
        place: WorkPlace,
        count: int,
        *,
        rest_seconds: float = REST_SECONDS,
        when_freed: Callable[[], None] | None = None,
    ) -> None:
        self.place, self.count, self.rest_seconds, self.when_freed = place, count, rest_seconds, when_freed
        self._engine: Engine | None = None
        self._workers: list[WorkerProcess] = []
        self._stopping = threading.Event()
        self._guard = threading.Lock()
        self._keeper: threading.Thread | None = None

    def start(self) -> Self:
        """Start the workers and look after them in a thread."""
        self._engine = engine_for(self.place.database_url)
        with self._guard:
            self._workers = [self._started() for _ in range(self.count)]
        self._keeper = threading.Thread(target=self._look_after, name="worker pool", daemon=True)
        self._keeper.start()
        return self

    def stop(self, seconds: float = STOP_SECONDS) -> None:
        """Let every worker finish what it has in hand, and end it; kill what takes longer than that."""
        self._stopping.set()
        if self._keeper is not None:
            self._keeper.join()
        with self._guard:
            for worker in self._workers:
                worker.process.terminate()
            deadline = time.monotonic() + seconds
            for worker in self._workers:
                self._end(worker, deadline)
            self._workers = []
        if self._engine is not None:
            self._engine.dispose()

    def wake(self) -> None:
        """Tell every worker that there is work; they would find it a quarter of a second later anyway."""
        with self._guard:
            for worker in self._workers:
                if worker.process.stdin is not None:
                    with contextlib.suppress(OSError, ValueError):  # it is dead, or was woken often enough
                        os.write(worker.process.stdin.fileno(), b"\n")

    def process_ids(self) -> dict[str, int]:
        """Return the numbers of the running workers' processes by the workers' names in the queue."""
        with self._guard:
            return {
                worker.name: worker.process.pid for worker in self._workers if worker.process.poll() is None
            }

    def _started(self) -> WorkerProcess:
        name = secrets.token_hex(8)
        scratch = tempfile.mkdtemp(prefix="dyecast-worker-")
        command, environment = command_of(self.place, name)
        environment["TMPDIR"] = environment[SCRATCH_VARIABLE] = scratch
        process = subprocess.Popen(command, stdin=subprocess.PIPE, env=environment)
        assert process.stdin is not None
        os.set_blocking(process.stdin.fileno(), False)
        return WorkerProcess(name, process, Path(scratch))

    def _look_after(self) -> None:
        """Replace workers that ended, until the pool stops."""
        while not self._stopping.wait(LOOK_SECONDS):
            with self._guard:
                for place, worker in enumerate(self._workers):
                    if worker.process.poll() is None:
                        continue
                    self._forget(worker)
                    if time.monotonic() - worker.started > self.rest_seconds:
                        self._workers[place] = self._started()

    def _forget(self, worker: WorkerProcess) -> None:
        """Close a dead worker's pipe and free what it had in hand."""
        if worker.is_forgotten:
            return
        worker.is_forgotten = True
        _close_pipe(worker)
        shutil.rmtree(worker.scratch, ignore_errors=True)  # photos that a killed worker had in hand
        if worker.process.returncode != 0:
            log.error("worker %s ended with status %s", worker.name, worker.process.returncode)
        if self._engine is not None:
            with contextlib.suppress(StoreTrouble):  # else its lease runs out by itself
                free_leases(self._engine, worker.name)
        if self.when_freed is not None:
            self.when_freed()

    def _end(self, worker: WorkerProcess, deadline: float) -> None:
        try:
            worker.process.wait(max(0.1, deadline - time.monotonic()))
        except subprocess.TimeoutExpired:
            worker.process.kill()
            worker.process.wait()
        self._forget(worker)


def _close_pipe(worker: WorkerProcess) -> None:
    with contextlib.suppress(OSError):
        if worker.process.stdin is not None:
            worker.process.stdin.close()
