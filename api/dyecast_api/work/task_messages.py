"""Telling workers of work through RabbitMQ: messages carry the number of an inspection and nothing else.

The inspection's row stays the queue: whoever receives a message takes the row that is next, as always. So a
message that is lost, doubled or late does no harm; the sweeper tells again of what still waits.
"""

import contextlib
import logging
import threading
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, Final

from dyecast_api.work.needed_library import needed_library
from dyecast_api.work.queue import claim
from dyecast_api.work.worker import MOST_MEMORY_BYTES, REST_SECONDS, Worker, memory_bytes, work_on
from dyecast_shared.errors import StoreUnavailable

ANSWER_MS: Final = 200
"""How long a worker listens to the broker before it looks whether it was told to stop, milliseconds."""

QUEUE: Final = "inspections"
ACTOR: Final = "inspect"

log = logging.getLogger("dyecast.work")


@dataclass(frozen=True, slots=True, eq=False)
class TaskMessages:
    """A connection to the broker that can tell of work."""

    broker: Any
    actor: Any

    def tell(self, inspection_id: int) -> bool:
        """Tell of an inspection; False when the broker cannot be reached (the sweeper will tell again)."""
        try:
            self.actor.send(inspection_id)
        except Exception as error:  # whatever a broken connection raises, the photo is safe in its row
            log.warning("the broker was not told of inspection %s: %s", inspection_id, type(error).__name__)
            return False
        return True

    def untaken(self) -> int:
        """Return how many messages wait at the broker, 0 when it cannot be reached."""
        try:
            return int(self.broker.get_queue_message_counts(QUEUE)[0])
        except Exception as error:  # as above
            log.warning("the broker does not answer: %s", type(error).__name__)
            with contextlib.suppress(Exception):
                del self.broker.connection  # the next call opens a new one
            return 0

    def close(self) -> None:
        """Close the connection."""
        self.broker.close()


def task_messages(url: str, work: Callable[[int], None] | None = None) -> TaskMessages:
    """Return a connection to RabbitMQ at `amqp://…`; `work` is called with each number by a worker.

    Raises StoreUnavailable when the broker's address is none; it need not answer yet.
    """
    rabbitmq = needed_library("dramatiq.brokers.rabbitmq", "RabbitMQ")
    dramatiq = needed_library("dramatiq", "RabbitMQ")
    middleware = needed_library("dramatiq.middleware", "RabbitMQ")
    try:
        broker = rabbitmq.RabbitmqBroker(url=url, middleware=[middleware.Callbacks()], confirm_delivery=True)
    except Exception as problem:
        raise StoreUnavailable("The broker's address cannot be used.") from problem
    actor = dramatiq.actor(work or _nothing, actor_name=ACTOR, queue_name=QUEUE, broker=broker)
    return TaskMessages(broker, actor)


def _nothing(inspection_id: int) -> None:
    """Stand in for the work where messages are only sent."""


def run_message_worker(worker: Worker, url: str) -> None:
    """Work on what the broker tells of until the worker is told to stop, or memory runs high."""
    full = threading.Event()

    def work(_inspection_id: int) -> None:
        """Take what is next in the queue, which need not be what the message told of."""
        try:
            claimed = claim(worker.engine, datetime.now(UTC), worker.lease_seconds, worker=worker.name)
        except StoreUnavailable as error:
            log.error("no work can be taken: %s", error)
            worker.stop.wait(REST_SECONDS)
            return
        if claimed is not None:
            work_on(worker, claimed)
        if memory_bytes() > MOST_MEMORY_BYTES:
            full.set()
            worker.wake.set()

    messages = task_messages(url, work)
    consuming = needed_library("dramatiq.worker", "RabbitMQ").Worker
    consumer = consuming(messages.broker, worker_threads=1, worker_timeout=ANSWER_MS)
    consumer.start()
    try:
        while not (worker.stop.is_set() or full.is_set()):
            worker.wake.wait()
            worker.wake.clear()
    finally:
        consumer.stop()
        messages.close()
