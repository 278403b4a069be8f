"""Is the server up, can it work, and its figures for Prometheus."""

import ipaddress
from typing import Annotated, Final

from fastapi import APIRouter, Depends, Request, Response
from fastapi.responses import JSONResponse
from sqlalchemy import select

from dyecast_api.server.caller import caller_or_none
from dyecast_api.server.documented import problems
from dyecast_api.server.rate_limits import address_of
from dyecast_api.server.state import Server, ServerState
from dyecast_api.store.database import reading, writing
from dyecast_api.store.shop_tables import shops
from dyecast_api.version import SOFTWARE
from dyecast_shared.errors import DyecastError
from dyecast_shared.request_errors import SignInNeeded

router = APIRouter(tags=["health"])

PROBE: Final = b"dyecast writes this to see whether it can\n"


@router.get("/healthz", operation_id="isUp")
def is_up() -> dict[str, str]:
    """Say that the process answers."""
    return {"status": "up", "software": SOFTWARE}


@router.get("/readyz", operation_id="isReady", responses={503: {"description": "Something cannot work."}})
def is_ready(server: Server) -> JSONResponse:
    """Say whether the database and the files can be written and workers run."""
    checks = readiness(server)
    ready = all(answer == "ok" for answer in checks.values())
    return JSONResponse({"ready": ready, "checks": checks}, 200 if ready else 503)


def may_see_metrics(request: Request, server: Server) -> None:
    """Let this computer and signed-in devices see the figures; raise SignInNeeded for others."""
    if _is_loopback(address_of(request)) and not server.settings.behind_proxy:
        return
    if caller_or_none(request, server) is None:
        raise SignInNeeded("The figures are for this shop's devices.")


@router.get(
    "/metrics",
    operation_id="getMetrics",
    response_class=Response,
    responses={
        200: {"content": {"text/plain": {}}, "description": "Prometheus' text format."},
        **problems(401),
    },
)
def metrics(server: Server, _: Annotated[None, Depends(may_see_metrics)]) -> Response:
    """Return figures: requests, queue, verdicts, workers."""
    with reading(server.engine) as connection:
        told = server.metrics.told(connection, server.workers_alive())
    return Response(told, media_type="text/plain; version=0.0.4; charset=utf-8")


def readiness(server: ServerState) -> dict[str, str]:
    """Return what works ("ok") and what does not (a sentence), by name."""
    return {"database": _database(server), "files": _files(server), "workers": _workers(server)}


def _database(server: ServerState) -> str:
    try:
        with writing(server.engine) as connection:
            connection.execute(select(shops.c.id).limit(1))
    except DyecastError as error:
        return error.message
    return "ok"


def _files(server: ServerState) -> str:
    try:
        server.files.read(server.files.keep(PROBE))
    except DyecastError as error:
        return error.message
    return "ok"


def _workers(server: ServerState) -> str:
    wanted, alive = server.settings.workers, server.workers_alive()
    return "ok" if alive or not wanted else "No worker process runs."


def _is_loopback(address: str) -> bool:
    try:
        return ipaddress.ip_address(address).is_loopback
    except ValueError:
        return False
