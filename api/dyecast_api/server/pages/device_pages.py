"""Devices: the code that pairs a phone, and who has a right."""

from typing import Annotated

import segno
from fastapi import APIRouter, Form, Path, Request, Response
from markupsafe import Markup

from dyecast_api.records.device_records import list_devices, revoke_device
from dyecast_api.server.api_devices import Role, new_device, new_pairing, renamed
from dyecast_api.server.caller import OwnerCaller
from dyecast_api.server.pages.own_pages import go_to
from dyecast_api.server.pages.render import page
from dyecast_api.server.state import Server, ServerState
from dyecast_api.store.database import reading, writing

router = APIRouter(prefix="/devices")

Number = Annotated[int, Path(ge=1, le=2**31 - 1)]


@router.get("")
def devices(request: Request, server: Server, caller: OwnerCaller) -> Response:
    """Show the devices, and the forms that let new ones in."""
    return _devices_page(request, server, caller)


@router.post("/pairing")
def pairing(
    request: Request, server: Server, caller: OwnerCaller, role: Annotated[Role, Form()] = "bench"
) -> Response:
    """Make a code, and show it with the devices."""
    offer = new_pairing(request, server, caller, role)
    drawn = segno.make(offer.address, error="m").svg_inline(
        border=2, svgclass="code", lineclass="code-line", omitsize=True, dark="#000", light="#fff"
    )
    return _devices_page(request, server, caller, offer=offer, drawn=Markup(drawn))


@router.post("/programs")
def program(
    request: Request,
    server: Server,
    caller: OwnerCaller,
    name: Annotated[str, Form(max_length=200)] = "program",
    role: Annotated[Role, Form()] = "bench",
) -> Response:
    """Make a program's token, and show it this once."""
    device, token = new_device(server, caller.shop_id, name.strip() or "program", "program", role)
    return _devices_page(request, server, caller, program=device, token=token)


@router.post("/{device_id}/name")
def rename(
    device_id: Number, server: Server, caller: OwnerCaller, name: Annotated[str, Form(max_length=200)]
) -> Response:
    """Call a device by another name and show all; a name left empty changes nothing."""
    if name.strip():
        renamed(server, caller, device_id, name.strip())
    return go_to("/devices")


@router.post("/{device_id}/revoke")
def revoke(device_id: Number, server: Server, caller: OwnerCaller) -> Response:
    """Take a device's right away and show the rest."""
    with writing(server.engine) as connection:
        revoke_device(connection, caller.shop_id, device_id, server.clock())
    return go_to("/devices")


def _devices_page(request: Request, server: ServerState, caller: OwnerCaller, **shown: object) -> Response:
    with reading(server.engine) as connection:
        listed = list_devices(connection, caller.shop_id)
    nothing = {"offer": None, "drawn": None, "program": None, "token": None}
    return page(request, "devices.html", {"devices": listed, **nothing, **shown}, caller=caller)
