"""Artworks over HTTP: upload, replace by a new version, retire; the pieces approved as good."""

from typing import Annotated

from fastapi import APIRouter, Path, Request, Response
from fastapi.concurrency import run_in_threadpool
from pydantic import BaseModel, ConfigDict, Field
from sqlalchemy.exc import IntegrityError

from dyecast_api.records.artwork_records import (
    ArtworkRecord,
    NewVersion,
    add_artwork,
    add_version,
    approve_piece,
    approved_pieces_of,
    find_artwork,
    list_artworks,
    retire_artwork,
    versions_of,
    withdraw_piece,
)
from dyecast_api.records.file_records import media_type_of
from dyecast_api.server.api_inspections import found
from dyecast_api.server.api_models import (
    PREFIX,
    ApprovedPieceBody,
    ArtworkBody,
    ArtworkDetail,
    Body,
    Name,
    VersionBody,
)
from dyecast_api.server.artwork_files import kept_version
from dyecast_api.server.caller import BenchCaller, OwnerCaller
from dyecast_api.server.documented import FILE, SIGNED_IN, file_answer, form_body, problems
from dyecast_api.server.pictures import picture_answer
from dyecast_api.server.state import Server, ServerState
from dyecast_api.server.uploads import SentForm, read_form, understood
from dyecast_api.store.database import reading, writing
from dyecast_api.work.accept_photo import MEDIA_TYPES
from dyecast_shared.request_errors import NameTaken, NotFinished, NotFound

router = APIRouter(prefix=f"{PREFIX}/artworks", tags=["artworks"], responses=problems(*SIGNED_IN))

Number = Annotated[int, Path(ge=1, le=2**31 - 1)]

_VERSION_FIELDS = {
    "file": FILE,
    "printer_profile": {**FILE, "description": "ICC profile of the printer."},
    "print_width_mm": {"type": "number", "exclusiveMinimum": 0, "maximum": 10000},
    "print_height_mm": {"type": "number", "exclusiveMinimum": 0, "maximum": 10000},
}


class VersionWishes(BaseModel):
    """What goes with an artwork's file."""

    model_config = ConfigDict(extra="ignore")

    print_width_mm: float | None = Field(None, gt=0, le=10000)
    print_height_mm: float | None = Field(None, gt=0, le=10000)


class ArtworkWishes(VersionWishes):
    """What goes with a new artwork's file."""

    name: Name


class Retirement(Body):
    """Whether an artwork is out of use."""

    retired: bool


class Approval(Body):
    """Which inspected piece is good, and who says so."""

    inspection: Annotated[str, Field(max_length=64)]
    approved_by: Name


@router.get("", operation_id="listArtworks")
def list_of_artworks(server: Server, caller: BenchCaller, retired: bool = False) -> list[ArtworkBody]:
    """List the artworks by name; with `retired` those out of use as well."""
    with reading(server.engine) as connection:
        return [ArtworkBody.of(each) for each in list_artworks(connection, caller.shop_id, retired=retired)]


@router.post(
    "",
    operation_id="addArtwork",
    status_code=201,
    responses=problems(408, 409, 413, 415),
    openapi_extra=form_body({"name": {"type": "string"}, **_VERSION_FIELDS}, ("name", "file")),
)
async def new_artwork(request: Request, server: Server, caller: OwnerCaller) -> ArtworkDetail:
    """Add an artwork: the very file that is printed from."""
    form = await read_form(request)
    return await run_in_threadpool(add_from_form, server, caller.shop_id, form)


@router.get("/{artwork_id}", operation_id="getArtwork", responses=problems(404))
def one_artwork(artwork_id: Number, server: Server, caller: BenchCaller) -> ArtworkDetail:
    """Return one artwork with its versions and approved pieces."""
    return artwork_detail(server, caller.shop_id, artwork_id)


@router.post(
    "/{artwork_id}/versions",
    operation_id="replaceArtwork",
    status_code=201,
    responses=problems(404, 408, 413, 415),
    openapi_extra=form_body(_VERSION_FIELDS, ("file",)),
)
async def new_version(
    artwork_id: Number, request: Request, server: Server, caller: OwnerCaller
) -> ArtworkDetail:
    """Replace an artwork's file; inspections made before keep the version they were made with."""
    form = await read_form(request)
    return await run_in_threadpool(replace_from_form, server, caller.shop_id, artwork_id, form)


@router.get(
    "/{artwork_id}/versions/{number}/file",
    operation_id="getArtworkFile",
    response_class=Response,
    responses=file_answer(*MEDIA_TYPES.values()),
)
def artwork_file(
    artwork_id: Number, number: Number, request: Request, server: Server, caller: BenchCaller
) -> Response:
    """Return the file of a version as it was sent."""
    with reading(server.engine) as connection:
        versions = versions_of(connection, caller.shop_id, artwork_id)
        version = next((each for each in versions if each.number == number), None)
        kind = None if version is None else media_type_of(connection, caller.shop_id, version.file_sha256)
    if version is None or kind is None:
        raise NotFound("There is no such version.")
    return picture_answer(request, server.files, version.file_sha256, kind, version.file_name)


@router.put("/{artwork_id}/retired", operation_id="retireArtwork", responses=problems(404))
def retire(artwork_id: Number, wanted: Retirement, server: Server, caller: OwnerCaller) -> ArtworkDetail:
    """Take an artwork out of the lists, or back into them; nothing is deleted."""
    artwork_of(server, caller.shop_id, artwork_id)
    with writing(server.engine) as connection:
        retire_artwork(connection, caller.shop_id, artwork_id, server.clock() if wanted.retired else None)
    return artwork_detail(server, caller.shop_id, artwork_id)


@router.post(
    "/{artwork_id}/approved", operation_id="approvePiece", status_code=201, responses=problems(404, 409)
)
def approve(artwork_id: Number, approval: Approval, server: Server, caller: OwnerCaller) -> ArtworkDetail:
    """Say that an inspected piece shows this artwork as it should look; later ones are compared with it."""
    artwork_of(server, caller.shop_id, artwork_id)
    line = found(server, caller.shop_id, approval.inspection).line
    if line.artwork_id != artwork_id:
        raise NotFound("That inspection is of another artwork.", advice="Choose a piece of this artwork.")
    if line.finished_at is None:
        raise NotFinished("The piece is still being inspected.")
    with writing(server.engine) as connection:
        approve_piece(connection, caller.shop_id, artwork_id, line.id, approval.approved_by, server.clock())
    return artwork_detail(server, caller.shop_id, artwork_id)


@router.delete(
    "/{artwork_id}/approved/{piece_id}",
    operation_id="withdrawApproval",
    status_code=204,
    responses=problems(404),
)
def withdraw(artwork_id: Number, piece_id: Number, server: Server, caller: OwnerCaller) -> None:
    """Take an approval back."""
    artwork_of(server, caller.shop_id, artwork_id)
    with writing(server.engine) as connection:
        withdrawn = withdraw_piece(connection, caller.shop_id, piece_id, server.clock())
    if not withdrawn:
        raise NotFound("There is no such approved piece.")


def add_from_form(server: ServerState, shop_id: int, form: SentForm) -> ArtworkDetail:
    """Add an artwork from a form; raises NameTaken and what a file that is no picture raises."""
    wishes = understood(ArtworkWishes, form.fields)
    version = _version(server, shop_id, form, wishes)
    try:
        with writing(server.engine) as connection:
            number = add_artwork(connection, shop_id, wishes.name, version, server.clock())
    except IntegrityError as problem:
        raise NameTaken(
            "There is an artwork of this name.", advice="Choose another name, or replace its file."
        ) from problem
    return artwork_detail(server, shop_id, number)


def replace_from_form(server: ServerState, shop_id: int, artwork_id: int, form: SentForm) -> ArtworkDetail:
    """Add the next version of an artwork from a form."""
    artwork_of(server, shop_id, artwork_id)
    version = _version(server, shop_id, form, understood(VersionWishes, form.fields))
    with writing(server.engine) as connection:
        add_version(connection, shop_id, artwork_id, version, server.clock())
    return artwork_detail(server, shop_id, artwork_id)


def _version(server: ServerState, shop_id: int, form: SentForm, wishes: VersionWishes) -> NewVersion:
    size = (wishes.print_width_mm, wishes.print_height_mm)
    return kept_version(server, shop_id, form.file("file"), form.files.get("printer_profile"), size)


def artwork_of(server: ServerState, shop_id: int, artwork_id: int) -> ArtworkRecord:
    """Return an artwork of a shop; raise NotFound when it has no such."""
    with reading(server.engine) as connection:
        artwork = find_artwork(connection, shop_id, artwork_id)
    if artwork is None:
        raise NotFound("There is no such artwork.")
    return artwork


def artwork_detail(server: ServerState, shop_id: int, artwork_id: int) -> ArtworkDetail:
    """Return an artwork in full; raise NotFound when the shop has no such."""
    artwork = artwork_of(server, shop_id, artwork_id)
    with reading(server.engine) as connection:
        versions = versions_of(connection, shop_id, artwork_id)
        approved = approved_pieces_of(connection, shop_id, artwork_id)
    return ArtworkDetail(
        **ArtworkBody.of(artwork).model_dump(),
        versions=[VersionBody.of(version) for version in versions],
        approved=[
            ApprovedPieceBody(
                id=piece.id,
                inspection=piece.public_id,
                photo=piece.photo_name,
                approved_by=piece.approved_by,
                approved_at=piece.approved_at,
            )
            for piece in approved
        ],
    )
