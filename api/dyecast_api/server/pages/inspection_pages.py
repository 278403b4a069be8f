"""The list of inspections, one inspection, and a person's word beside the machine's."""

from typing import Annotated

from fastapi import APIRouter, Form, Query, Request, Response

from dyecast_api.records.artwork_records import list_artworks
from dyecast_api.records.inspection_records import (
    VERDICTS,
    InspectionFilter,
    InspectionRecord,
    Judgement,
    add_judgement,
    list_inspections,
)
from dyecast_api.report_evidence import TRUST_MEANINGS
from dyecast_api.report_scale import PUBLISHED_LIMITS
from dyecast_api.server.api_inspections import found
from dyecast_api.server.caller import BenchCaller
from dyecast_api.server.cursors import cursor_below, row_below
from dyecast_api.server.pages.difference_scale_svg import difference_scale_svg
from dyecast_api.server.pages.faults_svg import marked_faults
from dyecast_api.server.pages.odds_svg import odds_bar
from dyecast_api.server.pages.own_pages import go_to
from dyecast_api.server.pages.render import page
from dyecast_api.server.state import Server
from dyecast_api.store.database import reading, writing
from dyecast_shared.request_errors import RequestInvalid

router = APIRouter()

PAGE_LINES = 30
"""Inspections shown before more are asked for: some three screens of a phone."""

PIECE_VERDICTS = ("under-pressed", "good", "over-pressed")


@router.get("/inspections")
def inspections(  # noqa: PLR0913, PLR0917 (one argument a parameter of the address)
    request: Request,
    server: Server,
    caller: BenchCaller,
    verdict: str = "",
    artwork: str = "",
    search: Annotated[str, Query(max_length=100)] = "",
    cursor: Annotated[str | None, Query(max_length=40)] = None,
) -> Response:
    """Show a page of the list; more is added by script, or by a link without one."""
    wanted = InspectionFilter(
        verdict=verdict if verdict in VERDICTS else None,
        artwork_id=int(artwork) if artwork.isdecimal() and len(artwork) < 10 else None,
        search=search or None,
    )
    below = row_below(cursor)
    with reading(server.engine) as connection:
        lines = list_inspections(connection, caller.shop_id, wanted, before_id=below, limit=PAGE_LINES + 1)
        artworks = list_artworks(connection, caller.shop_id, retired=True)
    following = None
    if len(lines) > PAGE_LINES:
        address = request.url.include_query_params(cursor=cursor_below(lines[PAGE_LINES - 1].id))
        following = f"{address.path}?{address.query}"
    shown = {
        "lines": lines[:PAGE_LINES],
        "following": following,
        "artworks": artworks,
        "wanted": wanted,
        "verdicts": VERDICTS,
        "narrowed": any((wanted.verdict, wanted.artwork_id, wanted.search)),
    }
    return page(request, "inspections.html", shown, caller=caller)


@router.get("/inspections/{public_id}")
def inspection(request: Request, public_id: str, server: Server, caller: BenchCaller) -> Response:
    """Show one inspection."""
    record = found(server, caller.shop_id, public_id)
    return page(request, "inspection.html", _shown(record, whole=True), caller=caller)


@router.get("/inspections/{public_id}/verdict")
def verdict_part(request: Request, public_id: str, server: Server, caller: BenchCaller) -> Response:
    """Return the verdict alone, for the bench."""
    record = found(server, caller.shop_id, public_id)
    return page(request, "verdict_part.html", _shown(record, whole=False), caller=caller)


@router.post("/inspections/{public_id}/judgements")
def judge(  # noqa: PLR0913, PLR0917 (one argument a field of the form)
    public_id: str,
    server: Server,
    caller: BenchCaller,
    verdict: Annotated[str, Form(max_length=20)] = "",
    reason: Annotated[str, Form(max_length=2000)] = "",
    judged_by: Annotated[str, Form(max_length=200)] = "",
) -> Response:
    """Keep a person's word and show the inspection again."""
    line = found(server, caller.shop_id, public_id).line
    if verdict not in PIECE_VERDICTS or not reason.strip() or not judged_by.strip():
        raise RequestInvalid(
            "A verdict needs a reason and the name of who gives it.", advice="Go back and fill all three in."
        )
    said = Judgement(verdict, reason.strip(), judged_by.strip(), server.clock())
    with writing(server.engine) as connection:
        add_judgement(connection, caller.shop_id, line.id, said)
    return go_to(f"/inspections/{public_id}")


def _shown(record: InspectionRecord, *, whole: bool) -> dict[str, object]:
    """Return what the templates of one inspection show, `whole` on a page of its own or in short."""
    document = record.document or {}
    difference = document.get("delta_e_2000")
    pictures = f"/api/v1/inspections/{record.line.public_id}/pictures"
    return {
        "whole": whole,
        "record": record,
        "line": record.line,
        "document": document,
        "problem": record.problem,
        "pictures": pictures,
        "marked": marked_faults(document, f"{pictures}/piece"),
        "limits": PUBLISHED_LIMITS,
        "trust_meanings": TRUST_MEANINGS,
        "scale": difference_scale_svg(None if difference is None else difference["median"]),
        "bar": odds_bar,
        "piece_verdicts": PIECE_VERDICTS,
    }
