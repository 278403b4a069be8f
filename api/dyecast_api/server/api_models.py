"""What the HTTP interface sends and takes, as its document (OpenAPI) describes it."""

from datetime import datetime
from typing import Annotated, Any, Final, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, StringConstraints

from dyecast_api.records.artwork_records import ArtworkRecord, ArtworkVersion
from dyecast_api.records.inspection_records import InspectionLine, InspectionRecord, Judgement

PREFIX: Final = "/api/v1"

Name = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=200)]
Words = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=2000)]
PieceVerdict = Literal["under-pressed", "good", "over-pressed"]
ListedVerdict = Literal["under-pressed", "good", "over-pressed", "retake", "trouble"]
Paper = Literal["unknown", "taped", "off"]
PIECE_VERDICTS: Final[tuple[PieceVerdict, ...]] = ("under-pressed", "good", "over-pressed")
RowNumber = Annotated[int, Field(ge=1, le=2**31 - 1)]


class Body(BaseModel):
    """A JSON body; unknown members are refused."""

    model_config = ConfigDict(extra="forbid", from_attributes=True)


class ProblemBody(BaseModel):
    """A problem document (RFC 9457): what went wrong and what to do about it."""

    type: str = Field(examples=["/problems/not-found"])
    title: str
    status: int
    detail: str
    code: str = Field(description="Stable; the README explains each.", examples=["not-found"])
    advice: str
    field: str | None = Field(
        None,
        description="What the advice is about: a member of the request that is missing or to be changed, or "
        "a thing to be made or looked at first.",
        examples=["as_written"],
    )
    request_id: str | None


class JudgementBody(Body):
    """What a person said of a piece."""

    verdict: PieceVerdict
    reason: str
    judged_by: str
    judged_at: datetime

    @classmethod
    def of(cls, judgement: Judgement) -> Self:
        """Return a record as a body."""
        return cls.model_validate(judgement)


class InspectionBody(Body):
    """One inspection as lists show it; figures are null until it is finished, or where unknown."""

    id: str = Field(description="Random; stands in addresses.", examples=["5f0c2b7a9e4d41d38a6f0e1b2c3d4e5f"])
    state: Literal["waiting", "being-made", "finished"]
    stage: str | None = Field(examples=["finding the piece"])
    photo: str = Field(examples=["magnet-07.jpg"])
    artwork: int | None
    artwork_name: str | None
    batch: int | None
    paper: Paper
    peek: bool
    received_at: datetime
    finished_at: datetime | None
    seconds: float | None
    verdict: ListedVerdict | None = Field(examples=["good"])
    confidence: float | None = Field(description="0 to 1.", examples=[0.97])
    delta_e_2000_median: float | None = Field(examples=[1.4])
    transferred_fraction: float | None = Field(
        description="Share of the artwork's optical density that arrived.", examples=[0.98]
    )
    pictures: dict[str, str] = Field(description="Addresses of pictures by name.")

    @classmethod
    def of(cls, line: InspectionLine) -> Self:
        """Return a line as a body."""
        return cls(**line_members(line))


class InspectionDetail(InspectionBody):
    """One inspection in full."""

    document: dict[str, Any] | None = Field(description="As `dyecast schema` describes it.")
    problem: dict[str, Any] | None = Field(description="Code, message and advice when there is no document.")
    judgements: list[JudgementBody] = Field(description="What people said, the newest first.")
    original: str = Field(description="Address of the photo as it was kept.")

    @classmethod
    def of_record(cls, record: InspectionRecord) -> Self:
        """Return a record as a body."""
        return cls(
            **line_members(record.line),
            document=None if record.document is None else dict(record.document),
            problem=None if record.problem is None else dict(record.problem),
            judgements=[JudgementBody.of(each) for each in record.judgements],
            original=f"{PREFIX}/inspections/{record.line.public_id}/original",
        )


class InspectionPage(Body):
    """A page of a list, the newest first."""

    items: list[InspectionBody]
    next: str | None = Field(description="Ask again with this as `cursor`; null at the end.")


class VersionBody(Body):
    """One file of an artwork."""

    number: int
    file_name: str
    has_printer_profile: bool
    print_width_mm: float | None
    print_height_mm: float | None
    created_at: datetime

    @classmethod
    def of(cls, version: ArtworkVersion) -> Self:
        """Return a record as a body."""
        return cls(
            number=version.number,
            file_name=version.file_name,
            has_printer_profile=version.printer_profile_sha256 is not None,
            print_width_mm=version.print_width_mm,
            print_height_mm=version.print_height_mm,
            created_at=version.created_at,
        )


class ArtworkBody(Body):
    """An artwork and its newest version."""

    id: int
    name: str
    created_at: datetime
    retired_at: datetime | None
    newest: VersionBody
    file: str = Field(description="Address of the newest version's file.")

    @classmethod
    def of(cls, artwork: ArtworkRecord) -> Self:
        """Return a record as a body."""
        return cls(
            id=artwork.id,
            name=artwork.name,
            created_at=artwork.created_at,
            retired_at=artwork.retired_at,
            newest=VersionBody.of(artwork.newest),
            file=f"{PREFIX}/artworks/{artwork.id}/versions/{artwork.newest.number}/file",
        )


class ApprovedPieceBody(Body):
    """A piece that shows how an artwork looks when it is good."""

    id: int
    inspection: str
    photo: str
    approved_by: str
    approved_at: datetime


class ArtworkDetail(ArtworkBody):
    """An artwork with all its versions and approved pieces, the newest first."""

    versions: list[VersionBody]
    approved: list[ApprovedPieceBody]


class DeviceBody(Body):
    """A phone, browser or program that may speak for the shop."""

    id: int
    name: str
    kind: Literal["phone", "browser", "program"]
    role: Literal["owner", "bench"]
    created_at: datetime
    last_seen_at: datetime | None
    revoked_at: datetime | None


class TokenBody(DeviceBody):
    """A new program with its token, which is shown this once."""

    token: str


class CardValuesBody(Body):
    """True colours that a shop gave for its own cards."""

    id: int
    layout: str
    edition: int
    trust: Literal["measured", "transferred"]
    added_at: datetime


class SettingsBody(Body):
    """What an owner sets."""

    keep_metadata: bool = Field(False, description="Keep place, time and camera in photos.")
    photo_days: int | None = Field(
        None, ge=1, le=36500, description="Days after which original photos are dropped; null keeps them."
    )


def known_verdict(word: str | None) -> PieceVerdict | None:
    """Return a piece's grade as one of the three words, None for none."""
    return next((verdict for verdict in PIECE_VERDICTS if verdict == word), None)


def line_members(line: InspectionLine) -> dict[str, Any]:
    """Return the members that a line gives a body."""
    address = f"{PREFIX}/inspections/{line.public_id}/pictures"
    unfinished = "waiting" if line.stage is None else "being-made"
    return {
        "id": line.public_id,
        "state": unfinished if line.finished_at is None else "finished",
        "stage": line.stage if line.finished_at is None else None,
        "photo": line.photo_name,
        "artwork": line.artwork_id,
        "artwork_name": line.artwork_name,
        "batch": line.batch_id,
        "paper": line.paper,
        "peek": line.peek,
        "received_at": line.received_at,
        "finished_at": line.finished_at,
        "seconds": line.seconds,
        "verdict": line.verdict,
        "confidence": line.confidence,
        "delta_e_2000_median": line.delta_e_2000_median,
        "transferred_fraction": line.transferred_fraction,
        "pictures": {name: f"{address}/{name}" for name in sorted(line.pictures)},
    }
