"""Taking a photo in over HTTP: `POST /api/v1/inspections`."""

from typing import Annotated

from fastapi import APIRouter, Header, Request, Response
from fastapi.concurrency import run_in_threadpool
from pydantic import BaseModel, ConfigDict

from dyecast_api.records.artwork_records import find_artwork
from dyecast_api.records.inspection_records import find_line
from dyecast_api.records.shop_records import shop_settings
from dyecast_api.server.api_models import PREFIX, InspectionBody, Paper, RowNumber
from dyecast_api.server.caller import BenchCaller, Caller
from dyecast_api.server.documented import FILE, SIGNED_IN, form_body, problems
from dyecast_api.server.rate_limits import UPLOADS
from dyecast_api.server.state import Server, ServerState
from dyecast_api.server.uploads import SentFile, read_photo_form, understood
from dyecast_api.store.database import reading
from dyecast_api.work.accept_photo import MEDIA_TYPES, PhotoOrder, accept_photo
from dyecast_shared.request_errors import NotFound, RequestInvalid

router = APIRouter(prefix=PREFIX, tags=["inspections"])

_FIELDS = {
    "photo": FILE,
    "artwork": {"type": "integer", "description": "Number of the artwork the piece should show."},
    "batch": {"type": "integer", "description": "Number of the batch the piece belongs to."},
    "paper": {"type": "string", "enum": ["unknown", "taped", "off"]},
    "peek": {"type": "boolean", "description": "The photo looks under a lifted corner."},
}


class PhotoWishes(BaseModel):
    """What goes with a photo."""

    model_config = ConfigDict(extra="ignore")

    artwork: RowNumber | None = None
    batch: RowNumber | None = None
    paper: Paper = "unknown"
    peek: bool = False


@router.post(
    "/inspections",
    operation_id="sendPhoto",
    status_code=202,
    response_model=InspectionBody,
    responses={
        200: {"model": InspectionBody, "description": "This photo came before, under the same key."},
        **problems(*SIGNED_IN, 404, 408, 413, 415),
    },
    openapi_extra=form_body(_FIELDS, ("photo",), raw=tuple(MEDIA_TYPES.values())),
)
async def send_photo(
    request: Request,
    response: Response,
    server: Server,
    caller: BenchCaller,
    idempotency_key: Annotated[str | None, Header(min_length=8, max_length=200)] = None,
) -> InspectionBody:
    """Take a photo in. Once this answers, the photo is on disk and its inspection queued.

    Send a form with the file `photo`, or the bare file with the other fields in the address. The answer's
    `Location` tells where to ask for the verdict. The same photo under the same `Idempotency-Key` is one
    inspection, however often it is sent.
    """
    server.limits.count(UPLOADS, str(caller.device_id))
    form = await read_photo_form(request)
    wishes, photo = understood(PhotoWishes, form.fields), form.file("photo")
    body, is_new = await run_in_threadpool(accepted, server, caller, photo, wishes, idempotency_key)
    response.status_code = 202 if is_new else 200
    response.headers["Location"] = f"{PREFIX}/inspections/{body.id}"
    return body


def accepted(
    server: ServerState, caller: Caller, photo: SentFile, wishes: PhotoWishes, key: str | None
) -> tuple[InspectionBody, bool]:
    """Keep and queue a photo; return its inspection, and whether it is new."""
    order = _order(server, caller, photo.name, wishes, key)
    accepted = accept_photo(server.engine, server.files, order, photo.content, server.clock())
    if accepted.is_new:
        server.metrics.accepted.inc()
        server.tell(accepted.inspection_id)
    with reading(server.engine) as connection:
        line = find_line(connection, caller.shop_id, accepted.public_id)
    if line is None:
        raise NotFound("The inspection is gone.")
    return InspectionBody.of(line), accepted.is_new


def _order(
    server: ServerState, caller: Caller, name: str, wishes: PhotoWishes, key: str | None
) -> PhotoOrder:
    """Return what is wanted of a photo, its artwork in its newest version."""
    if wishes.artwork is None and wishes.batch is None:
        raise RequestInvalid(
            "Nothing was named to compare the piece with.", advice="Choose an artwork or a batch."
        )
    with reading(server.engine) as connection:
        kept = shop_settings(connection, caller.shop_id)
        artwork = None
        if wishes.artwork is not None:
            artwork = find_artwork(connection, caller.shop_id, wishes.artwork)
            if artwork is None:
                raise NotFound("There is no such artwork.", advice="Choose another artwork.")
    return PhotoOrder(
        shop_id=caller.shop_id,
        photo_name=name,
        artwork_version_id=None if artwork is None else artwork.newest.id,
        batch_id=wishes.batch,
        paper=wishes.paper,
        peek=wishes.peek,
        idempotency_key=key,
        device_id=caller.device_id,
        keep_metadata=kept.keep_metadata,
    )
