"""Inspections over HTTP: lists, one in full, its pictures, what people say of it."""

from datetime import UTC, datetime
from typing import Annotated

from fastapi import APIRouter, Depends, Query, Request, Response
from pydantic import AwareDatetime

from dyecast_api.records.file_records import media_type_of
from dyecast_api.records.inspection_records import (
    InspectionFilter,
    InspectionRecord,
    Judgement,
    add_judgement,
    find_inspection,
    find_line,
    list_inspections,
)
from dyecast_api.server.api_models import (
    PREFIX,
    Body,
    InspectionBody,
    InspectionDetail,
    InspectionPage,
    JudgementBody,
    ListedVerdict,
    Name,
    PieceVerdict,
    RowNumber,
    Words,
)
from dyecast_api.server.caller import BenchCaller
from dyecast_api.server.cursors import PageOfList
from dyecast_api.server.documented import SIGNED_IN, file_answer, problems
from dyecast_api.server.pictures import picture_answer
from dyecast_api.server.state import Server, ServerState
from dyecast_api.store.database import reading, writing
from dyecast_api.work.accept_photo import MEDIA_TYPES
from dyecast_shared.request_errors import NotFinished, NotFound

router = APIRouter(prefix=PREFIX, tags=["inspections"], responses=problems(*SIGNED_IN))


EARLIEST = datetime(1970, 1, 1, tzinfo=UTC)
LATEST = datetime(9000, 1, 1, tzinfo=UTC)
"""Moments between which a list can be narrowed; near the ends of the calendar a time zone leads out of it."""

Moment = Annotated[AwareDatetime, Query(ge=EARLIEST, le=LATEST)]


def wanted_inspections(  # noqa: PLR0913, PLR0917 (a filter, each part by name)
    verdict: ListedVerdict | None = None,
    artwork: RowNumber | None = None,
    batch: RowNumber | None = None,
    search: Annotated[str | None, Query(max_length=100, description="Part of a photo's name.")] = None,
    received_from: Moment | None = None,
    received_before: Moment | None = None,
) -> InspectionFilter:
    """Return the filter that an address asks for."""
    return InspectionFilter(verdict, artwork, batch, search, received_from, received_before)


Wanted = Annotated[InspectionFilter, Depends(wanted_inspections)]


class NewJudgement(Body):
    """What a person says of a piece, and why."""

    verdict: PieceVerdict
    reason: Words
    judged_by: Name


@router.get("/inspections", operation_id="listInspections")
def list_of_inspections(
    server: Server, caller: BenchCaller, asked: PageOfList, wanted: Wanted
) -> InspectionPage:
    """List inspections, the newest first; `next`, and the header `Link`, lead to the following page."""
    with reading(server.engine) as connection:
        lines = list_inspections(
            connection, caller.shop_id, wanted, before_id=asked.below, limit=asked.limit + 1
        )
    page, following = asked.cut(lines, lambda line: line.id)
    return InspectionPage(items=[InspectionBody.of(line) for line in page], next=following)


@router.get("/inspections/{public_id}", operation_id="getInspection", responses=problems(404))
def one_inspection(public_id: str, server: Server, caller: BenchCaller) -> InspectionDetail:
    """Return one inspection in full; ask again while its state is not `finished`."""
    return InspectionDetail.of_record(found(server, caller.shop_id, public_id))


@router.get(
    "/inspections/{public_id}/pictures/{name}",
    operation_id="getPicture",
    response_class=Response,
    responses=file_answer("image/jpeg"),
)
def picture_of_inspection(
    public_id: str, name: str, request: Request, server: Server, caller: BenchCaller
) -> Response:
    """Return a picture: `piece`, `artwork`, `difference`, `photo` or `thumbnail`, as far as there are any."""
    with reading(server.engine) as connection:
        line = find_line(connection, caller.shop_id, public_id)
    if line is None or name not in line.pictures:
        raise NotFound("There is no such picture.")
    return picture_answer(request, server.files, line.pictures[name], "image/jpeg")


@router.get(
    "/inspections/{public_id}/original",
    operation_id="getOriginal",
    response_class=Response,
    responses=file_answer(*MEDIA_TYPES.values()),
)
def original_photo(public_id: str, request: Request, server: Server, caller: BenchCaller) -> Response:
    """Return the photo as it was kept: pixels untouched, place and camera taken out unless told otherwise."""
    record = found(server, caller.shop_id, public_id)
    with reading(server.engine) as connection:
        media_type = media_type_of(connection, caller.shop_id, record.photo_sha256)
    if media_type is None:
        raise NotFound("The original photo was dropped, as the shop's settings ask for.")
    return picture_answer(request, server.files, record.photo_sha256, media_type, record.line.photo_name)


@router.post(
    "/inspections/{public_id}/judgements",
    operation_id="judgePiece",
    status_code=201,
    responses=problems(404, 409),
)
def judge_piece(
    public_id: str, judgement: NewJudgement, server: Server, caller: BenchCaller
) -> JudgementBody:
    """Keep a person's verdict with its reason; it stands beside the machine's and replaces nothing."""
    line = found(server, caller.shop_id, public_id).line
    if line.finished_at is None:
        raise NotFinished("The piece is still being inspected.")
    said = Judgement(judgement.verdict, judgement.reason, judgement.judged_by, moment(server))
    with writing(server.engine) as connection:
        add_judgement(connection, caller.shop_id, line.id, said)
    return JudgementBody.of(said)


def found(server: ServerState, shop_id: int, public_id: str) -> InspectionRecord:
    """Return an inspection of a shop; raise NotFound when it has no such."""
    with reading(server.engine) as connection:
        record = find_inspection(connection, shop_id, public_id)
    if record is None:
        raise NotFound("There is no such inspection.")
    return record


def moment(server: ServerState) -> datetime:
    """Return the server's time."""
    return server.clock()
