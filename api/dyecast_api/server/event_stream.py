"""What happens to an inspection, as it happens: server-sent events (WHATWG HTML, section 9.2)."""

import asyncio
from collections.abc import AsyncIterator
from typing import Annotated, Final

from fastapi import APIRouter, Depends
from fastapi.concurrency import run_in_threadpool
from fastapi.sse import EventSourceResponse, ServerSentEvent

from dyecast_api.records.inspection_records import InspectionLine, find_inspection, find_line
from dyecast_api.server.api_models import PREFIX, InspectionBody, InspectionDetail
from dyecast_api.server.caller import BenchCaller
from dyecast_api.server.documented import SIGNED_IN, problems
from dyecast_api.server.state import Server, ServerState
from dyecast_api.store.database import reading
from dyecast_shared.request_errors import NotFound

router = APIRouter(prefix=PREFIX, tags=["inspections"], responses=problems(*SIGNED_IN, 404))

LOOK_SECONDS: Final = 0.2
"""How often the inspection's row is looked at: stages take tenths of a second."""

MOST_SECONDS: Final = 600.0
"""How long one stream lasts; a browser opens the next one by itself."""


def known_inspection(public_id: str, server: Server, caller: BenchCaller) -> str:
    """Return the inspection's address when the shop has it; raise NotFound before anything is streamed."""
    if _line(server, caller.shop_id, public_id) is None:
        raise NotFound("There is no such inspection.")
    return public_id


@router.get(
    "/inspections/{public_id}/events",
    operation_id="followInspection",
    response_class=EventSourceResponse,
)
async def follow_inspection(
    public_id: Annotated[str, Depends(known_inspection)], server: Server, caller: BenchCaller
) -> AsyncIterator[ServerSentEvent]:
    """Follow an inspection: events `stage` while it is made, then one `result` with all of it."""
    told: tuple[str, str | None] | None = None
    end = asyncio.get_running_loop().time() + MOST_SECONDS
    while asyncio.get_running_loop().time() < end:
        line = await run_in_threadpool(_line, server, caller.shop_id, public_id)
        if line is None:
            return
        if line.finished_at is not None:
            yield ServerSentEvent(
                event="result", data=await run_in_threadpool(_result, server, caller.shop_id, public_id)
            )
            return
        body = InspectionBody.of(line)
        if (body.state, body.stage) != told:
            told = (body.state, body.stage)
            yield ServerSentEvent(event="stage", data={"state": body.state, "stage": body.stage})
        await asyncio.sleep(LOOK_SECONDS)


def _line(server: ServerState, shop_id: int, public_id: str) -> InspectionLine | None:
    with reading(server.engine) as connection:
        return find_line(connection, shop_id, public_id)


def _result(server: ServerState, shop_id: int, public_id: str) -> InspectionDetail:
    with reading(server.engine) as connection:
        record = find_inspection(connection, shop_id, public_id)
    if record is None:
        raise NotFound("The inspection is gone.")
    return InspectionDetail.of_record(record)
