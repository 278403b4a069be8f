"""The application: its routes, what stands around them, and its state. No globals."""

from collections.abc import Callable
from datetime import datetime

from fastapi import FastAPI
from sqlalchemy import Engine

from dyecast_api.server import (
    api_artworks,
    api_batches,
    api_devices,
    api_export,
    api_glances,
    api_inspections,
    api_press,
    api_press_plan,
    api_shop,
    api_upload,
    api_worth,
    event_stream,
    health,
)
from dyecast_api.server.body_limits import BodyLimits
from dyecast_api.server.metrics import ServerMetrics
from dyecast_api.server.pages import include_pages
from dyecast_api.server.problems import answer_errors
from dyecast_api.server.rate_limits import RateLimits
from dyecast_api.server.request_log import RequestLog
from dyecast_api.server.security_headers import SecurityHeaders
from dyecast_api.server.settings import ServerSettings
from dyecast_api.server.state import ServerState, now_utc
from dyecast_api.version import VERSION
from dyecast_api.work.file_store import FileStore

DESCRIPTION = """The shop's own server: photos of pressed pieces go in, verdicts come out.

Sign in with the owner's passphrase (a cookie), pair a phone, or send a program's token as a bearer. Every
error is a problem document (RFC 9457) with a stable `code`."""

ROUTERS = (
    api_upload.router,
    api_glances.router,
    api_export.router,
    event_stream.router,
    api_inspections.router,
    api_artworks.router,
    api_batches.router,
    api_press.router,
    api_press_plan.router,
    api_worth.router,
    api_devices.router,
    api_shop.router,
    health.router,
)
"""In the order in which addresses are tried."""

FORM_OVERHEAD_BYTES = 64 * 1024
"""What a form adds to its files."""


def create_app(  # noqa: PLR0913 (what a server is made of, each by name)
    settings: ServerSettings,
    engine: Engine,
    files: FileStore,
    *,
    tell: Callable[[int], None] = lambda _: None,
    workers_alive: Callable[[], int] = lambda: 0,
    clock: Callable[[], datetime] = now_utc,
) -> FastAPI:
    """Return the application on an open database and file store.

    `tell` is called with the row number of each inspection that was taken in; `workers_alive` tells how many
    worker processes run.
    """
    app = FastAPI(
        title="dyecast shop server",
        version=VERSION,
        description=DESCRIPTION,
        openapi_url="/api/v1/openapi.json",
        docs_url=None,  # its pages load scripts from elsewhere
        redoc_url=None,
        separate_input_output_schemas=False,
    )
    state = ServerState(engine, files, settings, tell, workers_alive, RateLimits(), ServerMetrics(), clock)
    app.state.server = state
    answer_errors(app)
    for router in ROUTERS:
        app.include_router(router)
    include_pages(app)
    app.add_middleware(
        BodyLimits,
        most_bytes=settings.upload_bytes + FORM_OVERHEAD_BYTES,
        most_seconds=settings.upload_seconds,
        narrower={api_glances.PATH: api_glances.MOST_BYTES},
    )
    app.add_middleware(SecurityHeaders)
    app.add_middleware(RequestLog, metrics=state.metrics)
    return app
