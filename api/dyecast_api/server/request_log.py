"""One line a request, with its number; never who asked, what was sent, or a token."""

import re
import secrets
import time
from typing import Any, Final

import structlog
from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from dyecast_api.server.metrics import ServerMetrics

HEADER: Final = "X-Request-ID"
_SANE: Final = re.compile(r"[A-Za-z0-9._-]{8,64}")

log = structlog.stdlib.get_logger("dyecast.requests")


class RequestLog:
    """Numbers every request, logs its route, status and time, and counts it."""

    def __init__(self, app: ASGIApp, metrics: ServerMetrics) -> None:
        self.app, self.metrics = app, metrics

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        given = Headers(scope=scope).get(HEADER, "")
        request_id = given if _SANE.fullmatch(given) else secrets.token_hex(8)
        scope.setdefault("state", {})["request_id"] = request_id
        began, status = time.perf_counter(), 500

        async def send_numbered(message: Message) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
                MutableHeaders(scope=message)[HEADER] = request_id
                self._note(scope, request_id, status, time.perf_counter() - began)
            await send(message)

        await self.app(scope, receive, send_numbered)

    def _note(self, scope: Scope, request_id: str, status: int, seconds: float) -> None:
        route = route_of(scope)
        self.metrics.requests.labels(route, str(status)).inc()
        self.metrics.seconds.labels(route).observe(seconds)
        log.info(
            "request",
            request_id=request_id,
            method=scope["method"],
            route=route,
            status=status,
            milliseconds=round(1000 * seconds, 1),
        )


def route_of(scope: Scope) -> str:
    """Return the pattern of the address asked for: addresses themselves could tell more than a log should."""
    route: Any = scope.get("route")
    return str(getattr(route, "path", "")) or "unknown"


def set_up_logging(level: str = "INFO") -> None:
    """Write the log as one JSON object a line on standard error."""
    import logging
    import sys

    shared: list[Any] = [
        structlog.stdlib.add_log_level,
        structlog.stdlib.add_logger_name,
        structlog.processors.TimeStamper(fmt="iso", utc=True),
        structlog.processors.format_exc_info,
    ]
    structlog.configure(
        processors=[*shared, structlog.stdlib.ProcessorFormatter.wrap_for_formatter],
        logger_factory=structlog.stdlib.LoggerFactory(),
        wrapper_class=structlog.stdlib.BoundLogger,
    )
    formatter = structlog.stdlib.ProcessorFormatter(
        foreign_pre_chain=shared,
        processors=[
            structlog.stdlib.ProcessorFormatter.remove_processors_meta,
            structlog.processors.JSONRenderer(),
        ],
    )
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(formatter)
    root = logging.getLogger()
    root.handlers = [handler]
    root.setLevel(level)
    for chatty in ("alembic", "uvicorn"):
        logging.getLogger(chatty).setLevel(logging.WARNING)
