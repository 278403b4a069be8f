"""Batches: start one, what the charts say, the first piece approved or held, the certificate."""

from typing import Annotated

from fastapi import APIRouter, Form, Path, Request, Response

from dyecast_api.batches.batch_facts import batch_facts, recipe_facts
from dyecast_api.batches.batch_rows import all_batches
from dyecast_api.batches.batch_series import QUANTITY_WORDS
from dyecast_api.batches.batch_steps import approve_first_piece, hold_first_piece
from dyecast_api.batches.batch_words import clock_notes
from dyecast_api.batches.chart_drawing import chart_drawing
from dyecast_api.batches.starting import BatchOrder
from dyecast_api.press_log.log_rows import all_recipes
from dyecast_api.records.artwork_records import list_artworks
from dyecast_api.server.api_batches import certificate_answer, chart_answer, decision
from dyecast_api.server.batch_requests import close as close_batch
from dyecast_api.server.batch_requests import decide, start, whole_of
from dyecast_api.server.caller import BenchCaller, Caller, OwnerCaller
from dyecast_api.server.pages.form_fields import FilledIn, Trouble, chosen, part_number, whole_number
from dyecast_api.server.pages.own_pages import go_to
from dyecast_api.server.pages.render import page
from dyecast_api.server.state import Server, ServerState
from dyecast_api.store.database import reading
from dyecast_calibration.batch.acceptance_sampling import quality_limits_percent

router = APIRouter(prefix="/batches")

Number = Annotated[int, Path(ge=1, le=2**31 - 1)]
Text = Annotated[str, Form(max_length=2000)]


class BatchForm(FilledIn):
    """The form that starts a batch."""

    recipe: str = ""
    artwork: str = ""
    planned_pieces: str = ""
    every_nth: str = ""
    quality_limit_percent: str = ""
    tightened: str = ""

    def order(self) -> BatchOrder:
        """Return what is wanted; raises RequestInvalid for what is no number."""
        return BatchOrder(
            self.name,
            whole_number(self.planned_pieces, "number of pieces", "planned_pieces"),
            whole_number(self.every_nth, "piece to inspect", "every_nth"),
            part_number(self.quality_limit_percent, "quality limit", "quality_limit_percent"),
            self.tightened == "yes",
        )


@router.get("")
def batches(request: Request, server: Server, caller: BenchCaller) -> Response:
    """Show all batches, the newest first, and to the owner the form for a new one."""
    return _batches_page(request, server, caller, None)


@router.post("")
def start_batch(
    request: Request, server: Server, caller: OwnerCaller, form: Annotated[BatchForm, Form()]
) -> Response:
    """Start a batch and show it; or show the form again with what is wrong."""
    with Trouble(form) as trouble:
        recipe, artwork = chosen(form.recipe, "recipe"), chosen(form.artwork, "artwork")
        kept = start(server, caller.shop_id, recipe, artwork, form.order())
        return go_to(f"/batches/{kept.number}")
    return _batches_page(request, server, caller, trouble)


@router.get("/{number}")
def batch(request: Request, number: Number, server: Server, caller: BenchCaller) -> Response:
    """Show one batch with its charts."""
    whole = whole_of(server, caller.shop_id, number)
    shown = {
        "whole": whole,
        "batch": whole.batch,
        "charts": [
            (QUANTITY_WORDS[charts.quantity], charts.quantity.value, chart_drawing(charts).description)
            for charts in whole.charts.quantities
        ],
        "notes": [*whole.charts.sentences, *clock_notes(whole.pieces)],
        "facts": [*recipe_facts(whole), *batch_facts(whole)],
        "must_decide": whole.must_decide,
    }
    return page(request, "batch.html", shown, caller=caller)


@router.get("/{number}/charts/{quantity}.svg")
def chart(number: Number, quantity: str, server: Server, caller: BenchCaller) -> Response:
    """Return one chart as a picture of its own."""
    return chart_answer(server, caller.shop_id, number, quantity)


@router.get("/{number}/certificate.pdf")
def certificate(number: Number, server: Server, caller: BenchCaller) -> Response:
    """Return the certificate as it was when the batch was closed."""
    return certificate_answer(server, caller.shop_id, number, "pdf")


@router.post("/{number}/approve")
def approve(
    number: Number, server: Server, caller: OwnerCaller, by: Text = "", reason: Text = ""
) -> Response:
    """Approve the first piece and show the batch."""
    decide(server, caller.shop_id, number, approve_first_piece, decision(server, by, reason))
    return go_to(f"/batches/{number}")


@router.post("/{number}/hold")
def hold(number: Number, server: Server, caller: OwnerCaller, by: Text = "", reason: Text = "") -> Response:
    """Hold the first piece and show the batch."""
    decide(server, caller.shop_id, number, hold_first_piece, decision(server, by, reason))
    return go_to(f"/batches/{number}")


@router.post("/{number}/close")
def close(number: Number, server: Server, caller: OwnerCaller, by: Text = "", reason: Text = "") -> Response:
    """Close the batch with its certificate and show it."""
    close_batch(server, caller.shop_id, number, decision(server, by, reason))
    return go_to(f"/batches/{number}")


def _batches_page(
    request: Request, server: ServerState, caller: Caller, trouble: "Trouble | None"
) -> Response:
    """Show the batches; `trouble` holds a form that was not accepted."""
    with reading(server.engine) as connection:
        listed = all_batches(connection, caller.shop_id)
        recipes = [one for one in all_recipes(connection, caller.shop_id) if one.retired_at is None]
        artworks = list_artworks(connection, caller.shop_id)
    shown = {
        "batches": listed[::-1],
        "recipes": recipes[::-1],
        "artworks": artworks,
        "quality_limits": quality_limits_percent(),
        "trouble": trouble,
        "given": {} if trouble is None else trouble.form.model_dump(),
    }
    return page(
        request, "batches.html", shown, caller=caller, status=200 if trouble is None else trouble.status
    )
