"""Keeping the broker's messages in step with the queue: what waits is told of until it is taken."""

import logging
import queue
import threading
import time
from datetime import UTC, datetime
from typing import Final

from sqlalchemy import Engine

from dyecast_api.work.queue import give_up, waiting_ids
from dyecast_api.work.task_messages import TaskMessages, task_messages
from dyecast_shared.errors import StoreTrouble

SWEEP_SECONDS: Final = 5.0
"""How often the sweeper looks for what waits. A photo whose message was lost, or whose worker died, waits
this long at most beside the lease."""

log = logging.getLogger("dyecast.work")


def sweep(engine: Engine, messages: TaskMessages, now: datetime) -> int:
    """Tell of as many waiting inspections as the broker lacks messages; return how many were told of.

    What was begun too often is given up. Raises StoreUnavailable.
    """
    give_up(engine, now)
    waiting = waiting_ids(engine, now)
    lacking = waiting[: max(0, len(waiting) - messages.untaken())] if waiting else []
    return sum(messages.tell(number) for number in lacking)


class Sweeper:
    """Tells of inspections from `start` to `stop`, in a thread, so that nobody waits for the broker."""

    def __init__(self, engine: Engine, url: str, seconds: float = SWEEP_SECONDS) -> None:
        self.engine, self.url, self.seconds = engine, url, seconds
        self._messages: TaskMessages | None = None
        self._stopping = threading.Event()
        self._orders: queue.SimpleQueue[int | None] = queue.SimpleQueue()
        self._thread = threading.Thread(target=self._run, name="sweeper", daemon=True)

    def start(self) -> None:
        """Begin; raises StoreUnavailable for an address that is none. The broker need not answer yet."""
        self._messages = task_messages(self.url)
        self._thread.start()

    def tell(self, inspection_id: int) -> None:
        """Tell of an inspection that has just been accepted."""
        self._orders.put(inspection_id)

    def sweep_soon(self) -> None:
        """Sweep now: a worker has died."""
        self._orders.put(None)

    def stop(self) -> None:
        """End after what is in hand."""
        self._stopping.set()
        self._orders.put(None)
        if self._thread.ident is not None:
            self._thread.join()

    def _run(self) -> None:
        assert self._messages is not None
        messages, next_sweep = self._messages, 0.0
        while not self._stopping.is_set():
            try:
                order = self._orders.get(timeout=max(0.0, next_sweep - time.monotonic()))
            except queue.Empty:
                order = None
            if order is not None:
                messages.tell(order)
                continue
            self._sweep(messages)
            next_sweep = time.monotonic() + self.seconds
        messages.close()

    def _sweep(self, messages: TaskMessages) -> None:
        try:
            sweep(self.engine, messages, datetime.now(UTC))
        except StoreTrouble as error:
            log.error("the sweeper rests: %s", error)
