"""What every request needs of the server: one value, made at the start."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Annotated

from fastapi import Depends, Request
from sqlalchemy import Engine

from dyecast_api.server.metrics import ServerMetrics
from dyecast_api.server.rate_limits import RateLimits
from dyecast_api.server.settings import ServerSettings
from dyecast_api.work.file_store import FileStore


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
    """

    engine: Engine
    files: FileStore
    settings: ServerSettings
    tell: Callable[[int], None]
    workers_alive: Callable[[], int]
    limits: RateLimits
    metrics: ServerMetrics
    clock: Callable[[], datetime] = now_utc


def state_of(request: Request) -> ServerState:
    """Return the server a request came to."""
    state: ServerState = request.app.state.server
    return state


Server = Annotated[ServerState, Depends(state_of)]
"""The server, as an argument of an endpoint."""
