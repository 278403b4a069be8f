"""Batches: what the charts say, the first piece approved or held, the certificate."""

from collections.abc import Callable
from typing import Annotated, Final

from fastapi import APIRouter, Form, Path, Request, Response
from sqlalchemy import Connection

from dyecast_api.batches.batch_chart_svg import drawing_svg
from dyecast_api.batches.batch_facts import batch_facts, recipe_facts
from dyecast_api.batches.batch_rows import all_batches, batch_named
from dyecast_api.batches.batch_series import QUANTITY_WORDS
from dyecast_api.batches.batch_steps import Decision, approve_first_piece, hold_first_piece
from dyecast_api.batches.batch_values import Batch
from dyecast_api.batches.batch_words import clock_notes
from dyecast_api.batches.bench_pieces import take_in_bench_pieces
from dyecast_api.batches.chart_drawing import chart_drawing
from dyecast_api.batches.closing import closed_with_certificate, kept_certificate
from dyecast_api.batches.opened_shop import OpenedShop
from dyecast_api.batches.whole_batch import WholeBatch, whole_batch
from dyecast_api.server.caller import BenchCaller, Caller, OwnerCaller
from dyecast_api.server.pages.own_pages import go_to
from dyecast_api.server.pages.render import page
from dyecast_api.server.state import Server, ServerState
from dyecast_api.store.database import reading, writing
from dyecast_shared.request_errors import NotFound, RequestInvalid

router = APIRouter(prefix="/batches")

Number = Annotated[int, Path(ge=1, le=2**31 - 1)]
Text = Annotated[str, Form(max_length=2000)]

SVG: Final = "image/svg+xml"


@router.get("")
def batches(request: Request, server: Server, caller: BenchCaller) -> Response:
    """Show all batches, the newest first."""
    with reading(server.engine) as connection:
        listed = all_batches(connection, caller.shop_id)
    return page(request, "batches.html", {"batches": listed[::-1]}, caller=caller)


@router.get("/{number}")
def batch(request: Request, number: Number, server: Server, caller: BenchCaller) -> Response:
    """Show one batch with its charts."""
    whole = _whole(server, caller, number)
    shown = {
        "whole": whole,
        "batch": whole.batch,
        "charts": [
            (QUANTITY_WORDS[charts.quantity], charts.quantity.value, chart_drawing(charts).description)
            for charts in whole.charts.quantities
        ],
        "notes": [*whole.charts.sentences, *clock_notes(whole.pieces)],
        "facts": [*recipe_facts(whole), *batch_facts(whole)],
        "must_decide": whole.batch.state.value == "started" and whole.first_piece is not None,
    }
    return page(request, "batch.html", shown, caller=caller)


@router.get("/{number}/charts/{quantity}.svg")
def chart(number: Number, quantity: str, server: Server, caller: BenchCaller) -> Response:
    """Return one chart as a picture of its own."""
    for charts in _whole(server, caller, number).charts.quantities:
        if charts.quantity.value == quantity:
            return Response(drawing_svg(chart_drawing(charts)), media_type=SVG)
    raise NotFound("The batch has no such chart.")


@router.get("/{number}/certificate.pdf")
def certificate(number: Number, server: Server, caller: BenchCaller) -> Response:
    """Return the certificate as it was when the batch was closed."""
    shop = _shop(server, caller)
    pdf, _ = kept_certificate(shop, _named(server, caller, number).name)
    headers = {"Content-Disposition": f'attachment; filename="certificate-{number}.pdf"'}
    return Response(pdf, media_type="application/pdf", headers=headers)


@router.post("/{number}/approve")
def approve(
    number: Number, server: Server, caller: OwnerCaller, by: Text = "", reason: Text = ""
) -> Response:
    """Approve the first piece and show the batch."""
    _decide(server, caller, number, approve_first_piece, _decision(server, by, reason))
    return go_to(f"/batches/{number}")


@router.post("/{number}/hold")
def hold(number: Number, server: Server, caller: OwnerCaller, by: Text = "", reason: Text = "") -> Response:
    """Hold the first piece and show the batch."""
    _decide(server, caller, number, hold_first_piece, _decision(server, by, reason))
    return go_to(f"/batches/{number}")


@router.post("/{number}/close")
def close(number: Number, server: Server, caller: OwnerCaller, by: Text = "", reason: Text = "") -> Response:
    """Close the batch with its certificate and show it."""
    name = _whole(server, caller, number).batch.name
    closed_with_certificate(_shop(server, caller), name, _decision(server, by, reason))
    return go_to(f"/batches/{number}")


def _shop(server: ServerState, caller: Caller) -> OpenedShop:
    return OpenedShop(server.engine, server.files, caller.shop_id)


def _named(server: ServerState, caller: Caller, number: int) -> Batch:
    """Return a batch of the shop; raise NotFound when it has no such."""
    with reading(server.engine) as connection:
        for each in all_batches(connection, caller.shop_id):
            if each.number == number:
                return each
    raise NotFound("There is no such batch.")


def _whole(server: ServerState, caller: Caller, number: int) -> WholeBatch:
    """Read a batch, after what the bench inspected for it was taken in."""
    shop = _shop(server, caller)
    seen = take_in_bench_pieces(shop, _named(server, caller, number), server.clock())
    return whole_batch(shop, seen.name)


def _decide(
    server: ServerState,
    caller: Caller,
    number: int,
    step: Callable[[Connection, int, Batch, Decision], Batch],
    decision: Decision,
) -> None:
    name = _named(server, caller, number).name
    with writing(server.engine) as connection:
        step(connection, caller.shop_id, batch_named(connection, caller.shop_id, name), decision)


def _decision(server: ServerState, by: str, reason: str) -> Decision:
    if not by.strip():
        raise RequestInvalid("A decision needs the name of who makes it.", advice="Go back and fill it in.")
    return Decision(by.strip(), server.clock(), reason.strip())
