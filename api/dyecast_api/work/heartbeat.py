"""A worker's sign of life: extends the lease and tells the stage, beside the inspection's own work."""

import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Final

from sqlalchemy import Engine

from dyecast_api.work.queue import LEASE_SECONDS, Claimed, extend_lease, set_stage
from dyecast_shared.errors import StoreTrouble

LOOK_SECONDS: Final = 0.1
"""How often a new stage is noticed. Stages shorter than that are not told: nobody could read them."""


@dataclass(slots=True, eq=False)
class Heartbeat:
    """What the inspecting thread tells the one that writes."""

    engine: Engine
    claimed: Claimed
    lease_seconds: float
    stage: str = ""
    over: threading.Event = field(default_factory=threading.Event)

    def say(self, stage: str) -> None:
        """Tell the stage that begins; costs nothing."""
        self.stage = stage

    def beat(self) -> None:
        """Write until the inspection is over; a database that is busy is asked again at the next beat."""
        told, extend_at = "", time.monotonic() + self.lease_seconds / 3
        while not self.over.wait(LOOK_SECONDS):
            try:
                if self.stage != told:
                    told = self.stage
                    set_stage(self.engine, self.claimed, told)
                if time.monotonic() >= extend_at:
                    extend_lease(self.engine, self.claimed, datetime.now(UTC), self.lease_seconds)
                    extend_at = time.monotonic() + self.lease_seconds / 3
            except StoreTrouble:
                continue


@contextmanager
def heartbeat(engine: Engine, claimed: Claimed, lease_seconds: float = LEASE_SECONDS) -> Iterator[Heartbeat]:
    """Keep a claimed inspection for as long as the block runs."""
    beating = Heartbeat(engine, claimed, lease_seconds)
    thread = threading.Thread(target=beating.beat, name="heartbeat", daemon=True)
    thread.start()
    try:
        yield beating
    finally:
        beating.over.set()
        thread.join()
