"""Batches over HTTP: started, followed by their charts, decided on, closed with a certificate."""

from typing import Annotated, Final

from fastapi import APIRouter, Path, Response

from dyecast_api.batches.batch_chart_svg import batch_chart_svg
from dyecast_api.batches.batch_pieces import piece_counts
from dyecast_api.batches.batch_rows import newest_batches
from dyecast_api.batches.batch_steps import Decision, approve_first_piece, hold_first_piece
from dyecast_api.batches.closing import kept_certificate
from dyecast_api.press_log.entered_pressing import entered_person
from dyecast_api.server.api_batch_models import (
    BatchBody,
    BatchDetail,
    BatchPage,
    Closing,
    NewBatch,
    NewDecision,
)
from dyecast_api.server.api_models import PREFIX
from dyecast_api.server.batch_requests import batch_of, close, decide, shop_of, start, whole_of
from dyecast_api.server.caller import BenchCaller, OwnerCaller
from dyecast_api.server.cursors import PageOfList
from dyecast_api.server.documented import SIGNED_IN, document_answer, problems
from dyecast_api.server.state import Server, ServerState
from dyecast_api.store.database import reading
from dyecast_shared.request_errors import NotFound

router = APIRouter(prefix=f"{PREFIX}/batches", tags=["batches"], responses=problems(*SIGNED_IN))

Number = Annotated[int, Path(ge=1, le=2**31 - 1)]

SVG: Final = "image/svg+xml"


@router.get("", operation_id="listBatches")
def list_of_batches(server: Server, caller: BenchCaller, asked: PageOfList) -> BatchPage:
    """List batches, the newest first; `next`, and the header `Link`, lead to the following page.

    Pieces that the bench photographed count from when somebody looks at the batch.
    """
    with reading(server.engine) as connection:
        found = newest_batches(connection, caller.shop_id, before_number=asked.below, limit=asked.limit + 1)
        counts = piece_counts(connection, caller.shop_id, [batch.number for batch in found])
    page, following = asked.cut(found, lambda batch: batch.number)
    return BatchPage(
        items=[BatchBody.of(batch, counts.get(batch.number, 0)) for batch in page], next=following
    )


@router.post("", operation_id="startBatch", status_code=201, responses=problems(404, 409))
def start_batch(wanted: NewBatch, response: Response, server: Server, caller: OwnerCaller) -> BatchDetail:
    """Start a batch of an artwork by a recipe; photos of its pieces are sent with its `id`."""
    kept = start(server, caller.shop_id, wanted.recipe, wanted.artwork, wanted.order())
    response.headers["Location"] = f"{PREFIX}/batches/{kept.number}"
    return BatchDetail.of_whole(whole_of(server, caller.shop_id, kept.number))


@router.get("/{number}", operation_id="getBatch", responses=problems(404))
def one_batch(number: Number, server: Server, caller: BenchCaller) -> BatchDetail:
    """Return a batch in full, with what the bench photographed for it up to now."""
    return BatchDetail.of_whole(whole_of(server, caller.shop_id, number))


@router.get(
    "/{number}/charts/{quantity}.svg",
    operation_id="getBatchChart",
    response_class=Response,
    responses=document_answer(SVG, "The chart as a picture, with its description inside."),
)
def batch_chart(number: Number, quantity: str, server: Server, caller: BenchCaller) -> Response:
    """Return one chart as a picture of its own."""
    return chart_answer(server, caller.shop_id, number, quantity)


@router.post("/{number}/approve", operation_id="approveFirstPiece", responses=problems(404, 409))
def approve(number: Number, said: NewDecision, server: Server, caller: OwnerCaller) -> BatchDetail:
    """Approve the first piece: the pieces after it are held against it."""
    decide(server, caller.shop_id, number, approve_first_piece, decision(server, said.by, said.reason))
    return BatchDetail.of_whole(whole_of(server, caller.shop_id, number))


@router.post("/{number}/hold", operation_id="holdFirstPiece", responses=problems(404, 409))
def hold(number: Number, said: NewDecision, server: Server, caller: OwnerCaller) -> BatchDetail:
    """Hold the first piece: the next one inspected takes its place."""
    decide(server, caller.shop_id, number, hold_first_piece, decision(server, said.by, said.reason))
    return BatchDetail.of_whole(whole_of(server, caller.shop_id, number))


@router.post("/{number}/close", operation_id="closeBatch", responses=problems(404, 409))
def close_batch(number: Number, said: Closing, server: Server, caller: OwnerCaller) -> BatchDetail:
    """Close a batch with its certificate, or give it up without one."""
    told = decision(server, said.by, said.reason)
    close(server, caller.shop_id, number, told, give_up=said.give_up)
    return BatchDetail.of_whole(whole_of(server, caller.shop_id, number))


@router.get(
    "/{number}/certificate.pdf",
    operation_id="getCertificate",
    response_class=Response,
    responses=document_answer("application/pdf", "The certificate as it was when the batch was closed."),
)
def certificate(number: Number, server: Server, caller: BenchCaller) -> Response:
    """Return a closed batch's certificate on paper."""
    return certificate_answer(server, caller.shop_id, number, "pdf")


@router.get(
    "/{number}/certificate.json",
    operation_id="getCertificateDocument",
    response_class=Response,
    responses=document_answer("application/json", "As `dyecast batch schema` describes it."),
)
def certificate_document(number: Number, server: Server, caller: BenchCaller) -> Response:
    """Return a closed batch's certificate as a document, with every figure."""
    return certificate_answer(server, caller.shop_id, number, "json")


def chart_answer(server: ServerState, shop_id: int, number: int, quantity: str) -> Response:
    """Return a quantity's charts as a picture; raises NotFound."""
    for charts in whole_of(server, shop_id, number).charts.quantities:
        if charts.quantity.value == quantity:
            return Response(batch_chart_svg(charts), media_type=SVG)
    raise NotFound("The batch has no such chart.")


def certificate_answer(server: ServerState, shop_id: int, number: int, kind: str) -> Response:
    """Return a certificate as a file, ``pdf`` or ``json``; raises NotFound, BatchInvalid when it has none."""
    pdf, document = kept_certificate(shop_of(server, shop_id), batch_of(server, shop_id, number).name)
    headers = {"Content-Disposition": f'attachment; filename="certificate-{number}.{kind}"'}
    content = pdf if kind == "pdf" else document
    return Response(content, media_type=f"application/{kind}", headers=headers)


def decision(server: ServerState, by: str, reason: str) -> Decision:
    """Return a person's decision, made now; raises PressLogInvalid without the person."""
    return Decision(entered_person(by, "by"), server.clock(), reason.strip())
