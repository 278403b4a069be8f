"""What every request needs of the server: one value, made at the start."""

import asyncio
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Annotated

from fastapi import Depends, Request
from sqlalchemy import Engine

from dyecast_api.server.metrics import ServerMetrics
from dyecast_api.server.rate_limits import RateLimits
from dyecast_api.server.settings import ServerSettings
from dyecast_api.work.file_store import FileStore

GLANCES_AT_A_TIME = 1
"""Frames of viewfinders that are looked at at the same time: each takes a tenth of a second of one core, and
pages and inspections want the rest."""


def now_utc() -> datetime:
    """Return the time."""
    return datetime.now(UTC)


@dataclass(frozen=True, slots=True, eq=False)
class ServerState:
    """The server's database, files, settings and helpers.

    Attributes
    ----------
    tell
        Tells workers of the inspection of this row number; it may be lost, since workers look themselves.
    workers_alive
        Number of worker processes of this server that run.
    clock
        The time, UTC.
    glances
        Bounds how many frames of viewfinders are looked at at a time.
    """

    engine: Engine
    files: FileStore
    settings: ServerSettings
    tell: Callable[[int], None]
    workers_alive: Callable[[], int]
    limits: RateLimits
    metrics: ServerMetrics
    clock: Callable[[], datetime] = now_utc
    glances: asyncio.Semaphore = field(default_factory=lambda: asyncio.Semaphore(GLANCES_AT_A_TIME))


def state_of(request: Request) -> ServerState:
    """Return the server a request came to."""
    state: ServerState = request.app.state.server
    return state


Server = Annotated[ServerState, Depends(state_of)]
"""The server, as an argument of an endpoint."""
