"""A glance at what a viewfinder shows: `POST /api/v1/glances`. Nothing of it is kept."""

from typing import Annotated, Final

from fastapi import APIRouter, Query, Request
from fastapi.concurrency import run_in_threadpool
from pydantic import Field

from dyecast_api.server.api_models import PREFIX, Body
from dyecast_api.server.caller import BenchCaller
from dyecast_api.server.documented import FILE, SIGNED_IN, problems
from dyecast_api.server.glance_words import Signal, signal_of, words_of
from dyecast_api.server.rate_limits import GLANCES
from dyecast_api.server.state import Server
from dyecast_inspect.glance import Glance, glance_at
from dyecast_inspect.read_photo import photo_of
from dyecast_inspect.reading_bounds import ReadingBounds
from dyecast_shared.errors import NotAPicture

PATH: Final = f"{PREFIX}/glances"

MOST_BYTES: Final = 600_000
"""Largest frame: one of 960 × 960 pixels is 100 to 250 kB as JPEG of usual quality."""

LONGEST_SIDE_PX: Final = 1280
"""Longest side of a frame: a third more than the bench page sends."""

MOST_SCANS: Final = 12
"""Scans of a JPEG frame; a canvas writes one, a usual progressive file has ten."""

BOUNDS: Final = ReadingBounds(
    file_bytes=MOST_BYTES,
    pixels=LONGEST_SIDE_PX**2,
    long_side=LONGEST_SIDE_PX,
    scans=MOST_SCANS,
)

JPEG_START: Final = b"\xff\xd8\xff"
"""First bytes of a JPEG file (ISO/IEC 10918-1, SOI and the next marker)."""

router = APIRouter(tags=["glances"])


class GlanceBody(Body):
    """What a frame shows, and what to tell the person who aims."""

    signal: Signal = Field(description="`ready`, `caution`, or `no-card` when none can be measured.")
    words: str = Field(examples=["The card is found. Take the photo."])
    card_found: bool = Field(
        description="Whether the photo's card could be measured, as far as a frame tells."
    )
    layout: str | None = Field(examples=["a6"])
    missing_markers: list[str] = Field(
        description="Corners of the card, as the frame is held, whose markers are not seen.",
        examples=[["upper left"]],
    )
    pixels_per_mm: float | None = Field(description="Of the frame; null without a card.", examples=[2.4])
    too_far: bool
    blurred: bool
    clipped_share: float = Field(description="Share of the frame that is clipped, 0 to 1.", examples=[0.01])
    clipped_place: str | None = Field(description="Where most of it is.", examples=["upper left"])
    burnt_out: bool = Field(description="Whether most of the card's white is clipped.")
    glare: list[str] | None = Field(
        description="Where there is glare; null when it cannot be told from white.", examples=[["upper left"]]
    )

    @classmethod
    def of(cls, glance: Glance) -> "GlanceBody":
        """Return a glance as a body."""
        glare = glance.glare
        return cls(
            signal=signal_of(glance),
            words=words_of(glance),
            card_found=glance.usable,
            layout=glance.layout,
            missing_markers=list(glance.missing),
            pixels_per_mm=glance.pixels_per_mm,
            too_far=glance.too_far,
            blurred=glance.blurred,
            clipped_share=glare.clipped_share,
            clipped_place=glare.clipped_place,
            burnt_out=glare.burnt_out,
            glare=None if glare.places is None else list(glare.places),
        )


@router.post(
    PATH,
    operation_id="glanceAtCard",
    responses=problems(*SIGNED_IN, 408, 413, 415),
    openapi_extra={"requestBody": {"required": True, "content": {"image/jpeg": {"schema": FILE}}}},
)
async def glance_at_card(
    request: Request,
    server: Server,
    caller: BenchCaller,
    photo_long_side: Annotated[int | None, Query(ge=64, le=16384)] = None,
) -> GlanceBody:
    """Tell what a viewfinder's frame shows: the card, its markers, sharpness, glare. Nothing is kept.

    Send a JPEG of at most 600 kB and 1280 pixels on the long side. `photo_long_side` is the long side, in
    pixels, of the photo that the shutter would take; whether the card is near enough is judged by it.
    """
    server.limits.count(GLANCES, "glance", str(caller.device_id))
    content = await request.body()
    async with server.glances:
        return await run_in_threadpool(_glance, content, photo_long_side)


def _glance(content: bytes, photo_long_side: int | None) -> GlanceBody:
    if not content.startswith(JPEG_START):
        raise NotAPicture("The frame is no JPEG.", advice="Send the frame as a JPEG file.")
    return GlanceBody.of(glance_at(photo_of(content, "frame", bounds=BOUNDS), photo_long_side))
