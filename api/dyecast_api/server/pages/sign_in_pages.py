"""The pages for signing in by passphrase and for pairing a phone."""

from typing import Annotated

from fastapi import APIRouter, Form, Request, Response

from dyecast_api.records.device_records import revoke_device
from dyecast_api.records.shop_records import all_shops
from dyecast_api.server.api_devices import paired, signed_in, suggested_name
from dyecast_api.server.caller import BenchCaller, forget, remember
from dyecast_api.server.pages.own_pages import go_to
from dyecast_api.server.pages.render import page
from dyecast_api.server.state import Server
from dyecast_api.store.database import reading, writing
from dyecast_shared.request_errors import Refused

router = APIRouter()

Text = Annotated[str, Form(max_length=200)]


@router.get("/sign-in")
def sign_in_page(request: Request, server: Server, to: str = "/") -> Response:
    """Show the form for the passphrase."""
    return page(request, "sign_in.html", {"to": to, "shops": _shops(server), "problem": None})


@router.post("/sign-in")
def sign_in(
    request: Request, server: Server, passphrase: Text = "", to: Text = "/", shop: Text = ""
) -> Response:
    """Sign the owner in and go on, or show the form again with what is wrong."""
    try:
        _, token = signed_in(request, server, passphrase, None, shop or None)
    except Refused as refusal:
        shown = {"to": to, "shops": _shops(server), "problem": refusal}
        return page(request, "sign_in.html", shown, status=401)
    answer = go_to(to)
    remember(answer, request, token)
    return answer


@router.post("/sign-out")
def sign_out(server: Server, caller: BenchCaller) -> Response:
    """Take this device's right away."""
    with writing(server.engine) as connection:
        revoke_device(connection, caller.shop_id, caller.device_id, server.clock())
    answer = go_to("/sign-in")
    forget(answer)
    return answer


@router.get("/pair")
def pair_page(request: Request) -> Response:
    """Show the form for a pairing code; a script fills in the code that the address carries."""
    return page(request, "pair.html", {"problem": None, "name": suggested_name(request, "Phone")})


@router.post("/pair")
def pair(request: Request, server: Server, code: Text = "", device_name: Text = "") -> Response:
    """Pair this phone and go to the bench, or show the form again with what is wrong."""
    try:
        _, token = paired(request, server, code, device_name.strip() or None)
    except Refused as refusal:
        return page(request, "pair.html", {"problem": refusal, "name": device_name}, status=410)
    answer = go_to("/")
    remember(answer, request, token)
    return answer


def _shops(server: Server) -> list[str]:
    """Return the shops' names where there are several to choose from."""
    with reading(server.engine) as connection:
        names = [shop.name for shop in all_shops(connection)]
    return names if len(names) > 1 else []
