"""Artworks: add one, replace its file, see its versions and approved pieces."""

from typing import Annotated

from fastapi import APIRouter, Form, Path, Request, Response
from fastapi.concurrency import run_in_threadpool

from dyecast_api.records.artwork_records import approve_piece, list_artworks, retire_artwork, withdraw_piece
from dyecast_api.server.api_artworks import add_from_form, artwork_detail, artwork_of, replace_from_form
from dyecast_api.server.api_inspections import found
from dyecast_api.server.caller import BenchCaller, OwnerCaller
from dyecast_api.server.pages.own_pages import go_to
from dyecast_api.server.pages.render import page
from dyecast_api.server.state import Server
from dyecast_api.server.uploads import read_form
from dyecast_api.store.database import reading, writing
from dyecast_shared.request_errors import NotFound, RequestInvalid

router = APIRouter(prefix="/artworks")

Number = Annotated[int, Path(ge=1, le=2**31 - 1)]
Text = Annotated[str, Form(max_length=200)]


@router.get("")
def artworks(request: Request, server: Server, caller: BenchCaller) -> Response:
    """Show all artworks, and to the owner the form for a new one."""
    with reading(server.engine) as connection:
        listed = list_artworks(connection, caller.shop_id, retired=True)
    return page(request, "artworks.html", {"artworks": listed}, caller=caller)


@router.post("")
async def add(request: Request, server: Server, caller: OwnerCaller) -> Response:
    """Add an artwork and show it."""
    form = await read_form(request)
    added = await run_in_threadpool(add_from_form, server, caller.shop_id, form)
    return go_to(f"/artworks/{added.id}")


@router.get("/{artwork_id}")
def artwork(request: Request, artwork_id: Number, server: Server, caller: BenchCaller) -> Response:
    """Show one artwork."""
    detail = artwork_detail(server, caller.shop_id, artwork_id)
    return page(request, "artwork.html", {"artwork": detail}, caller=caller)


@router.post("/{artwork_id}/versions")
async def replace(request: Request, artwork_id: Number, server: Server, caller: OwnerCaller) -> Response:
    """Replace an artwork's file and show it."""
    form = await read_form(request)
    await run_in_threadpool(replace_from_form, server, caller.shop_id, artwork_id, form)
    return go_to(f"/artworks/{artwork_id}")


@router.post("/{artwork_id}/retired")
def retire(artwork_id: Number, server: Server, caller: OwnerCaller, retired: Text = "") -> Response:
    """Take an artwork out of the lists, or back into them."""
    artwork_of(server, caller.shop_id, artwork_id)
    with writing(server.engine) as connection:
        retire_artwork(connection, caller.shop_id, artwork_id, server.clock() if retired == "yes" else None)
    return go_to(f"/artworks/{artwork_id}")


@router.post("/{artwork_id}/approved")
def approve(
    artwork_id: Number, server: Server, caller: OwnerCaller, inspection: Text = "", approved_by: Text = ""
) -> Response:
    """Approve an inspected piece and show its artwork."""
    line = found(server, caller.shop_id, inspection).line
    if line.artwork_id != artwork_id or line.finished_at is None:
        raise NotFound("That inspection is not a finished one of this artwork.")
    if not approved_by.strip():
        raise RequestInvalid("An approval needs the name of who gives it.", advice="Go back and fill it in.")
    with writing(server.engine) as connection:
        approve_piece(connection, caller.shop_id, artwork_id, line.id, approved_by.strip(), server.clock())
    return go_to(f"/artworks/{artwork_id}")


@router.post("/{artwork_id}/approved/{piece_id}/withdraw")
def withdraw(artwork_id: Number, piece_id: Number, server: Server, caller: OwnerCaller) -> Response:
    """Take an approval back and show the artwork."""
    with writing(server.engine) as connection:
        withdraw_piece(connection, caller.shop_id, piece_id, server.clock())
    return go_to(f"/artworks/{artwork_id}")
