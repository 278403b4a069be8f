"""Inspections: lists that stay fast, one in full, and what people say of a piece."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from sqlalchemy import ColumnElement, Connection, Select, func, insert, select

from dyecast_api.store.artwork_tables import artwork_versions, artworks
from dyecast_api.store.inspection_tables import inspections, judgements

VERDICTS: Final = ("under-pressed", "good", "over-pressed", "retake", "trouble")
"""What a list can be filtered by; ``trouble`` has a problem and no document."""

PAGE_ROWS: Final = 50
MOST_PAGE_ROWS: Final = 200
"""Rows of a page of a list: what is given unasked, and the most that can be asked for."""


@dataclass(frozen=True, slots=True)
class InspectionFilter:
    """Which inspections are wanted; what is None does not count.

    `search` is looked for in the photos' names, whatever its case. Moments are inclusive at the beginning.
    """

    verdict: str | None = None
    artwork_id: int | None = None
    batch_id: int | None = None
    search: str | None = None
    received_from: datetime | None = None
    received_before: datetime | None = None


@dataclass(frozen=True, slots=True)
class InspectionLine:
    """What a list shows of an inspection; figures are None until it is finished, or where unknown."""

    id: int
    public_id: str
    photo_name: str
    artwork_id: int | None
    artwork_name: str | None
    batch_id: int | None
    paper: str
    peek: bool
    received_at: datetime
    finished_at: datetime | None
    stage: str | None
    seconds: float | None
    verdict: str | None
    confidence: float | None
    delta_e_2000_median: float | None
    transferred_fraction: float | None
    pictures: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Judgement:
    """What a person said of a piece."""

    verdict: str
    reason: str
    judged_by: str
    judged_at: datetime


@dataclass(frozen=True, slots=True)
class InspectionRecord:
    """One inspection in full: its line, its document or problem, and what people said, the newest first."""

    line: InspectionLine
    photo_sha256: str
    artwork_version_id: int | None
    document: Mapping[str, Any] | None
    problem: Mapping[str, Any] | None
    judgements: tuple[Judgement, ...]


_LINE: Final = (
    inspections.c.id,
    inspections.c.public_id,
    inspections.c.photo_name,
    artworks.c.id.label("artwork_id"),
    artworks.c.name.label("artwork_name"),
    inspections.c.batch_id,
    inspections.c.paper,
    inspections.c.peek,
    inspections.c.received_at,
    inspections.c.finished_at,
    inspections.c.stage,
    inspections.c.seconds,
    inspections.c.verdict,
    inspections.c.confidence,
    inspections.c.delta_e_2000_median,
    inspections.c.transferred_fraction,
    inspections.c.pictures,
)


def list_inspections(
    connection: Connection,
    shop_id: int,
    wanted: InspectionFilter,
    *,
    before_id: int | None = None,
    limit: int = PAGE_ROWS,
) -> list[InspectionLine]:
    """Return a page of a shop's inspections, the newest first, from below `before_id`."""
    numbers = matching_numbers(connection, shop_id, wanted, before_id, limit).subquery()
    lines = _lines().where(inspections.c.id.in_(select(numbers.c.id))).order_by(inspections.c.id.desc())
    return [_line(row) for row in connection.execute(lines)]


def matching_numbers(
    connection: Connection, shop_id: int, wanted: InspectionFilter, before_id: int | None, limit: int
) -> Select[tuple[int]]:
    """Return the statement that finds a page's row numbers without reading whole rows."""
    numbers = select(inspections.c.id).where(inspections.c.shop_id == shop_id)
    if before_id is not None:
        numbers = numbers.where(inspections.c.id < before_id)
    if wanted.verdict is not None:
        numbers = numbers.where(inspections.c.verdict == wanted.verdict)
    if wanted.batch_id is not None:
        numbers = numbers.where(inspections.c.batch_id == wanted.batch_id)
    if wanted.artwork_id is not None:
        of_artwork = select(artwork_versions.c.id).where(artwork_versions.c.artwork_id == wanted.artwork_id)
        numbers = numbers.where(inspections.c.artwork_version_id.in_(of_artwork))
    if wanted.search:
        numbers = numbers.where(_has_name_with(connection, wanted.search))
    if wanted.received_from is not None:
        numbers = numbers.where(inspections.c.received_at >= wanted.received_from)
    if wanted.received_before is not None:
        numbers = numbers.where(inspections.c.received_at < wanted.received_before)
    return numbers.order_by(inspections.c.id.desc()).limit(limit)


def _has_name_with(connection: Connection, part: str) -> ColumnElement[bool]:
    """Return the condition that a photo's name holds a part, whatever its case.

    SQLite's LIKE ignores the case by itself, and takes half the time that `lower` takes.
    """
    name = inspections.c.photo_name
    if connection.dialect.name == "sqlite":
        return name.contains(part, autoescape=True)
    return func.lower(name).contains(part.lower(), autoescape=True)


def every_inspection(
    connection: Connection, shop_id: int, wanted: InspectionFilter
) -> Iterator[InspectionLine]:
    """Yield all that match, the newest first, a page at a time."""
    before_id = None
    while page := list_inspections(connection, shop_id, wanted, before_id=before_id, limit=MOST_PAGE_ROWS):
        yield from page
        before_id = page[-1].id


def find_inspection(connection: Connection, shop_id: int, public_id: str) -> InspectionRecord | None:
    """Return one inspection of a shop, None when it has no such."""
    more = (
        inspections.c.photo_sha256,
        inspections.c.artwork_version_id,
        inspections.c.document,
        inspections.c.problem,
    )
    mine = (inspections.c.public_id == public_id) & (inspections.c.shop_id == shop_id)
    row = connection.execute(_lines().add_columns(*more).where(mine)).first()
    if row is None:
        return None
    line, (photo, version, document, problem) = _line(row[: len(_LINE)]), row[len(_LINE) :]
    return InspectionRecord(
        line, photo, version, document, problem, _judgements(connection, shop_id, line.id)
    )


def find_line(connection: Connection, shop_id: int, public_id: str) -> InspectionLine | None:
    """Return the line of one inspection, without its document: cheap enough to be asked again and again."""
    mine = (inspections.c.public_id == public_id) & (inspections.c.shop_id == shop_id)
    row = connection.execute(_lines().where(mine)).first()
    return None if row is None else _line(row)


def add_judgement(connection: Connection, shop_id: int, inspection_id: int, judgement: Judgement) -> None:
    """Keep what a person says of a piece, beside the machine's verdict."""
    row = {
        "verdict": judgement.verdict,
        "reason": judgement.reason,
        "judged_by": judgement.judged_by,
        "judged_at": judgement.judged_at,
    }
    connection.execute(insert(judgements).values(shop_id=shop_id, inspection_id=inspection_id, **row))


def verdict_counts(connection: Connection) -> dict[str, int]:
    """Return how many finished inspections there are by verdict, over all shops."""
    counted = (
        select(inspections.c.verdict, func.count())
        .where(inspections.c.verdict.is_not(None))
        .group_by(inspections.c.verdict)
    )
    return {row[0]: row[1] for row in connection.execute(counted)}


def _judgements(connection: Connection, shop_id: int, inspection_id: int) -> tuple[Judgement, ...]:
    wanted = (
        select(judgements.c.verdict, judgements.c.reason, judgements.c.judged_by, judgements.c.judged_at)
        .where(judgements.c.inspection_id == inspection_id, judgements.c.shop_id == shop_id)
        .order_by(judgements.c.id.desc())
    )
    return tuple(Judgement(*row) for row in connection.execute(wanted))


def _lines() -> Select[Any]:
    """Return the statement of lines, for a condition to be added."""
    return (
        select(*_LINE)
        .outerjoin(artwork_versions, artwork_versions.c.id == inspections.c.artwork_version_id)
        .outerjoin(artworks, artworks.c.id == artwork_versions.c.artwork_id)
    )


def _line(row: Any) -> InspectionLine:  # noqa: ANN401 (a row of `_LINE`)
    members = dict(zip(InspectionLine.__slots__, row, strict=True))
    return InspectionLine(**{**members, "pictures": members["pictures"] or {}})
