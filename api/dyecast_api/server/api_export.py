"""All inspections as CSV or JSON, row by row, however many there are."""

import csv
import io
import json
from collections.abc import Iterator
from typing import Final

from fastapi import APIRouter
from fastapi.responses import StreamingResponse

from dyecast_api.records.inspection_records import InspectionFilter, InspectionLine, every_inspection
from dyecast_api.server.api_inspections import Wanted
from dyecast_api.server.api_models import PREFIX, InspectionBody
from dyecast_api.server.caller import BenchCaller
from dyecast_api.server.documented import SIGNED_IN, problems
from dyecast_api.server.state import Server, ServerState
from dyecast_api.spreadsheet_text import harmless
from dyecast_api.store.database import reading

router = APIRouter(prefix=PREFIX, tags=["inspections"], responses=problems(*SIGNED_IN))

COLUMNS: Final = (
    "id",
    "received_at",
    "finished_at",
    "photo",
    "artwork_name",
    "batch",
    "paper",
    "peek",
    "verdict",
    "confidence",
    "delta_e_2000_median",
    "transferred_fraction",
    "seconds",
)
"""Columns of the CSV; the first line names them."""


@router.get(
    "/inspections.csv",
    operation_id="exportCsv",
    response_class=StreamingResponse,
    responses={200: {"content": {"text/csv": {}}, "description": "One line an inspection (RFC 4180)."}},
)
def export_csv(server: Server, caller: BenchCaller, wanted: Wanted) -> StreamingResponse:
    """Return all inspections that match as CSV, UTF-8, times in ISO 8601 and UTC."""
    headers = {"Content-Disposition": 'attachment; filename="inspections.csv"'}
    lines = _csv_lines(_lines(server, caller.shop_id, wanted))
    return StreamingResponse(lines, media_type="text/csv; charset=utf-8", headers=headers)


@router.get(
    "/inspections.json",
    operation_id="exportJson",
    response_class=StreamingResponse,
    responses={200: {"content": {"application/json": {}}, "description": "An array of inspections."}},
)
def export_json(server: Server, caller: BenchCaller, wanted: Wanted) -> StreamingResponse:
    """Return all inspections that match as one JSON array."""
    headers = {"Content-Disposition": 'attachment; filename="inspections.json"'}
    parts = _json_parts(_lines(server, caller.shop_id, wanted))
    return StreamingResponse(parts, media_type="application/json", headers=headers)


def _lines(server: ServerState, shop_id: int, wanted: InspectionFilter) -> Iterator[InspectionLine]:
    with reading(server.engine) as connection:
        yield from every_inspection(connection, shop_id, wanted)


def _csv_lines(lines: Iterator[InspectionLine]) -> Iterator[str]:
    yield _csv_line(COLUMNS)
    for line in lines:
        members = InspectionBody.of(line).model_dump(mode="json")
        yield _csv_line([harmless(members[name]) for name in COLUMNS])


def _csv_line(values: "list[object] | tuple[str, ...]") -> str:
    held = io.StringIO()
    csv.writer(held).writerow(values)
    return held.getvalue()


def _json_parts(lines: Iterator[InspectionLine]) -> Iterator[str]:
    yield "["
    for place, line in enumerate(lines):
        yield (",\n" if place else "\n") + json.dumps(InspectionBody.of(line).model_dump(mode="json"))
    yield "\n]\n"
