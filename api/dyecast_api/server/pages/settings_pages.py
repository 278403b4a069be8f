"""The shop's settings, and whether the server is well."""

from typing import Annotated

from fastapi import APIRouter, Form, Request, Response

from dyecast_api.records.queue_records import queue_depth
from dyecast_api.records.shop_records import ShopSettings, change_settings, shop_settings
from dyecast_api.server.caller import OwnerCaller
from dyecast_api.server.health import readiness
from dyecast_api.server.pages.own_pages import go_to
from dyecast_api.server.pages.render import page
from dyecast_api.server.state import Server
from dyecast_api.store.database import reading, writing
from dyecast_shared.request_errors import RequestInvalid

router = APIRouter(prefix="/settings")

MOST_DAYS = 36500


@router.get("")
def settings(request: Request, server: Server, caller: OwnerCaller) -> Response:
    """Show the settings and the server's health."""
    with reading(server.engine) as connection:
        kept = shop_settings(connection, caller.shop_id)
        waiting = queue_depth(connection)
    shown = {"settings": kept, "waiting": waiting, "checks": readiness(server)}
    return page(request, "settings.html", shown, caller=caller)


@router.post("")
def change(
    server: Server,
    caller: OwnerCaller,
    keep_metadata: Annotated[str, Form(max_length=10)] = "",
    photo_days: Annotated[str, Form(max_length=10)] = "",
) -> Response:
    """Change the settings and show them."""
    days = photo_days.strip()
    if days and not (days.isdecimal() and 1 <= int(days) <= MOST_DAYS):
        raise RequestInvalid(
            f"Photos are kept a whole number of days, 1 to {MOST_DAYS}, or for good.",
            advice="Go back and correct it; leave it empty to keep them.",
        )
    wanted = ShopSettings(keep_metadata == "yes", int(days) if days else None)
    with writing(server.engine) as connection:
        change_settings(connection, caller.shop_id, wanted, server.clock())
    return go_to("/settings")
