"""All that inspects for one server or one `dyecast worker`: a pool, and a sweeper where there is a broker."""

import time
from typing import Self

from sqlalchemy import Engine

from dyecast_api.work.file_store import LocalFileStore, open_file_store
from dyecast_api.work.worker_pool import WorkerPool
from dyecast_api.work.worker_process import WorkPlace

UNFINISHED_SECONDS = 3600.0
"""Age from which a half-written file in the store is one whose writer was killed."""


class Workforce:
    """Workers on one shop's queue, from `start` to `stop`, and the way to tell them of work.

    With a count of 0 nobody works here; photos are only told of, to workers elsewhere.
    """

    def __init__(self, engine: Engine, place: WorkPlace, count: int) -> None:
        self.place = place
        self._sweeper = None
        if place.broker_url is not None:
            from dyecast_api.work.sweeper import Sweeper

            self._sweeper = Sweeper(engine, place.broker_url)
        when_freed = None if self._sweeper is None else self._sweeper.sweep_soon
        self._pool = WorkerPool(place, count, when_freed=when_freed)

    def start(self) -> Self:
        """Start all."""
        store = open_file_store(self.place.files)
        if isinstance(store, LocalFileStore):
            store.remove_unfinished(time.time() - UNFINISHED_SECONDS)
        self._pool.start()
        if self._sweeper is not None:
            self._sweeper.start()
        return self

    def tell(self, inspection_id: int) -> None:
        """Tell the workers of an accepted photo; returns at once. They would find it later all the same."""
        if self._sweeper is None:
            self._pool.wake()
        else:
            self._sweeper.tell(inspection_id)

    def process_ids(self) -> list[int]:
        """Return the numbers of the running workers' processes."""
        return list(self._pool.process_ids().values())

    def stop(self) -> None:
        """Let inspections in hand be finished, and end."""
        if self._sweeper is not None:
            self._sweeper.stop()
        self._pool.stop()
