"""The reference card: print it, and give its true colours."""

from typing import Annotated

from fastapi import APIRouter, Path, Request, Response
from fastapi.concurrency import run_in_threadpool

from dyecast_api.records.card_records import list_card_values, withdraw_card_values
from dyecast_api.server.api_shop import ValuesWishes
from dyecast_api.server.caller import BenchCaller, OwnerCaller
from dyecast_api.server.card_files import kept_card_values
from dyecast_api.server.pages.own_pages import go_to
from dyecast_api.server.pages.render import page
from dyecast_api.server.state import Server
from dyecast_api.server.uploads import read_form, understood
from dyecast_api.store.database import reading, writing

router = APIRouter(prefix="/card")


@router.get("")
def card(request: Request, server: Server, caller: BenchCaller) -> Response:
    """Show how to print the card and what is known of its colours."""
    with reading(server.engine) as connection:
        values = list_card_values(connection, caller.shop_id)
    return page(request, "card.html", {"values": values}, caller=caller)


@router.post("/values")
async def add_values(request: Request, server: Server, caller: OwnerCaller) -> Response:
    """Take in measured colours and show the card's page."""
    form = await read_form(request)
    layout = understood(ValuesWishes, form.fields).layout
    await run_in_threadpool(kept_card_values, server, caller.shop_id, form.file("file"), layout)
    return go_to("/card")


@router.post("/values/{values_id}/withdraw")
def withdraw_values(
    values_id: Annotated[int, Path(ge=1, le=2**31 - 1)], server: Server, caller: OwnerCaller
) -> Response:
    """Take values out of use and show the card's page."""
    with writing(server.engine) as connection:
        withdraw_card_values(connection, caller.shop_id, values_id, server.clock())
    return go_to("/card")
