"""The bench: choose artwork and batch, take the photo, see the verdict."""

from fastapi import APIRouter, Request, Response
from fastapi.concurrency import run_in_threadpool

from dyecast_api.records.artwork_records import list_artworks
from dyecast_api.records.batch_choices import open_batches
from dyecast_api.server.api_upload import PhotoWishes, accepted
from dyecast_api.server.caller import BenchCaller
from dyecast_api.server.pages.own_pages import go_to
from dyecast_api.server.pages.render import page
from dyecast_api.server.state import Server
from dyecast_api.server.uploads import read_form, understood
from dyecast_api.store.database import reading

router = APIRouter()


@router.get("/")
def bench(request: Request, server: Server, caller: BenchCaller) -> Response:
    """Show the bench."""
    with reading(server.engine) as connection:
        artworks = list_artworks(connection, caller.shop_id)
        batches = open_batches(connection, caller.shop_id)
    return page(request, "bench.html", {"artworks": artworks, "batches": batches}, caller=caller)


@router.post("/bench")
async def send_without_script(request: Request, server: Server, caller: BenchCaller) -> Response:
    """Take a photo in from a browser without scripts, and show its inspection."""
    form = await read_form(request)
    wishes, photo = understood(PhotoWishes, form.fields), form.file("photo")
    inspection, _ = await run_in_threadpool(accepted, server, caller, photo, wishes, None)
    return go_to(f"/inspections/{inspection.id}")
