"""The shop's cards, settings and open batches over HTTP."""

from typing import Annotated, Literal

from fastapi import APIRouter, Depends, Path, Query, Request, Response
from fastapi.concurrency import run_in_threadpool
from pydantic import BaseModel, ConfigDict

from dyecast_api.records.card_records import list_card_values, withdraw_card_values
from dyecast_api.records.shop_records import ShopSettings, change_settings, shop_settings
from dyecast_api.server.api_models import PREFIX, CardValuesBody, SettingsBody
from dyecast_api.server.caller import BenchCaller, OwnerCaller, bench_caller
from dyecast_api.server.card_files import card_pdf, kept_card_values
from dyecast_api.server.documented import FILE, SIGNED_IN, form_body, problems
from dyecast_api.server.state import Server
from dyecast_api.server.uploads import read_form, understood
from dyecast_api.store.database import reading, writing
from dyecast_shared.request_errors import NotFound

router = APIRouter(prefix=PREFIX, tags=["shop"], responses=problems(*SIGNED_IN))

Layout = Literal["a6", "pocket"]


class ValuesWishes(BaseModel):
    """What goes with measurements of a card."""

    model_config = ConfigDict(extra="ignore")

    layout: Layout = "a6"


@router.get(
    "/card.pdf",
    dependencies=[Depends(bench_caller)],
    operation_id="getCard",
    response_class=Response,
    responses={200: {"content": {"application/pdf": {}}, "description": "The card at its exact size."}},
)
def card(server: Server, layout: Annotated[Layout, Query()] = "a6") -> Response:
    """Return the reference card to be printed at 100 %."""
    headers = {"Content-Disposition": f'attachment; filename="dyecast-card-{layout}.pdf"'}
    return Response(card_pdf(layout, server.clock().date()), media_type="application/pdf", headers=headers)


@router.get("/card-values", operation_id="listCardValues")
def values(server: Server, caller: BenchCaller) -> list[CardValuesBody]:
    """List the true colours given for the shop's cards; the newest of each layout count."""
    with reading(server.engine) as connection:
        return [CardValuesBody.model_validate(each) for each in list_card_values(connection, caller.shop_id)]


@router.post(
    "/card-values",
    operation_id="addCardValues",
    status_code=201,
    responses=problems(408, 413),
    openapi_extra=form_body(
        {"file": FILE, "layout": {"type": "string", "enum": ["a6", "pocket"]}}, ("file",)
    ),
)
async def add_values(request: Request, server: Server, caller: OwnerCaller) -> CardValuesBody:
    """Give the true colours of a printed card: a spectrophotometer's CGATS file, or a file of ours.

    `layout` is the card that was measured, a6 unless told otherwise; a file of ours names its own card.
    """
    form = await read_form(request)
    layout = understood(ValuesWishes, form.fields).layout
    kept = await run_in_threadpool(kept_card_values, server, caller.shop_id, form.file("file"), layout)
    return CardValuesBody.model_validate(kept)


@router.delete(
    "/card-values/{values_id}", operation_id="withdrawCardValues", status_code=204, responses=problems(404)
)
def withdraw_values(
    values_id: Annotated[int, Path(ge=1, le=2**31 - 1)], server: Server, caller: OwnerCaller
) -> None:
    """Take a card's values out of use."""
    with writing(server.engine) as connection:
        withdrawn = withdraw_card_values(connection, caller.shop_id, values_id, server.clock())
    if not withdrawn:
        raise NotFound("There are no such card values.")


@router.get("/settings", operation_id="getSettings")
def settings_of_shop(server: Server, caller: OwnerCaller) -> SettingsBody:
    """Return what the owner has set."""
    with reading(server.engine) as connection:
        return SettingsBody.model_validate(shop_settings(connection, caller.shop_id))


@router.put("/settings", operation_id="changeSettings")
def set_settings(wanted: SettingsBody, server: Server, caller: OwnerCaller) -> SettingsBody:
    """Set how long photos are kept, and whether place and camera stay in them."""
    chosen = ShopSettings(wanted.keep_metadata, wanted.photo_days)
    with writing(server.engine) as connection:
        change_settings(connection, caller.shop_id, chosen, server.clock())
    return wanted
