"""Artworks, their versions, and the pieces approved as good."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from sqlalchemy import Connection, func, insert, select, update

from dyecast_api.store.artwork_tables import artwork_versions, artworks
from dyecast_api.store.inspection_tables import approved_pieces, inspections


@dataclass(frozen=True, slots=True)
class ArtworkVersion:
    """One file of an artwork; sizes are mm on the blank, None when nobody said."""

    id: int
    number: int
    file_name: str
    file_sha256: str
    printer_profile_sha256: str | None
    print_width_mm: float | None
    print_height_mm: float | None
    created_at: datetime


@dataclass(frozen=True, slots=True)
class ArtworkRecord:
    """An artwork with its newest version."""

    id: int
    name: str
    created_at: datetime
    retired_at: datetime | None
    newest: ArtworkVersion


@dataclass(frozen=True, slots=True)
class ApprovedPiece:
    """A piece that shows how an artwork looks when it is good."""

    id: int
    inspection_id: int
    public_id: str
    photo_name: str
    approved_by: str
    approved_at: datetime


@dataclass(frozen=True, slots=True)
class NewVersion:
    """What is needed to add a version; the files are in the store already."""

    file_name: str
    file_sha256: str
    printer_profile_sha256: str | None = None
    print_width_mm: float | None = None
    print_height_mm: float | None = None


_VERSION: Final = (
    artwork_versions.c.id,
    artwork_versions.c.number,
    artwork_versions.c.file_name,
    artwork_versions.c.file_sha256,
    artwork_versions.c.printer_profile_sha256,
    artwork_versions.c.print_width_mm,
    artwork_versions.c.print_height_mm,
    artwork_versions.c.created_at,
)


def list_artworks(connection: Connection, shop_id: int, *, retired: bool = False) -> list[ArtworkRecord]:
    """Return a shop's artworks by name, each with its newest version; retired ones when asked for."""
    newest = (
        select(artwork_versions.c.artwork_id, func.max(artwork_versions.c.id).label("version_id"))
        .where(artwork_versions.c.shop_id == shop_id)
        .group_by(artwork_versions.c.artwork_id)
        .subquery()
    )
    wanted = (
        select(
            artworks.c.id.label("artwork_id"),
            artworks.c.name,
            artworks.c.created_at.label("made_at"),
            artworks.c.retired_at,
            *_VERSION,
        )
        .join(newest, newest.c.artwork_id == artworks.c.id)
        .join(artwork_versions, artwork_versions.c.id == newest.c.version_id)
        .where(artworks.c.shop_id == shop_id)
        .order_by(artworks.c.name)
    )
    if not retired:
        wanted = wanted.where(artworks.c.retired_at.is_(None))
    return [
        ArtworkRecord(row.artwork_id, row.name, row.made_at, row.retired_at, _version(row))
        for row in connection.execute(wanted)
    ]


def _version(row: Any) -> ArtworkVersion:  # noqa: ANN401 (a row that ends with `_VERSION`)
    return ArtworkVersion(*row[-len(_VERSION) :])


def find_artwork(connection: Connection, shop_id: int, artwork_id: int) -> ArtworkRecord | None:
    """Return one artwork of a shop, None when it has no such."""
    return next(
        (each for each in list_artworks(connection, shop_id, retired=True) if each.id == artwork_id), None
    )


def versions_of(connection: Connection, shop_id: int, artwork_id: int) -> list[ArtworkVersion]:
    """Return an artwork's versions, the newest first."""
    wanted = (
        select(*_VERSION)
        .where(artwork_versions.c.artwork_id == artwork_id, artwork_versions.c.shop_id == shop_id)
        .order_by(artwork_versions.c.number.desc())
    )
    return [_version(row) for row in connection.execute(wanted)]


def add_artwork(connection: Connection, shop_id: int, name: str, version: NewVersion, now: datetime) -> int:
    """Add an artwork with its first version; return its number. IntegrityError: the name is taken."""
    statement = insert(artworks).values(shop_id=shop_id, name=name, created_at=now).returning(artworks.c.id)
    artwork_id = int(connection.execute(statement).scalar_one())
    _insert_version(connection, shop_id, artwork_id, 1, version, now)
    return artwork_id


def add_version(
    connection: Connection, shop_id: int, artwork_id: int, version: NewVersion, now: datetime
) -> int:
    """Add the next version of a shop's artwork; return its number within the artwork."""
    highest = select(func.max(artwork_versions.c.number)).where(artwork_versions.c.artwork_id == artwork_id)
    number = int(connection.execute(highest).scalar() or 0) + 1
    _insert_version(connection, shop_id, artwork_id, number, version, now)
    return number


def _insert_version(  # noqa: PLR0913, PLR0917 (a row)
    connection: Connection, shop_id: int, artwork_id: int, number: int, version: NewVersion, now: datetime
) -> None:
    row = {
        "file_name": version.file_name,
        "file_sha256": version.file_sha256,
        "printer_profile_sha256": version.printer_profile_sha256,
        "print_width_mm": version.print_width_mm,
        "print_height_mm": version.print_height_mm,
        "created_at": now,
    }
    connection.execute(
        insert(artwork_versions).values(shop_id=shop_id, artwork_id=artwork_id, number=number, **row)
    )


def retire_artwork(connection: Connection, shop_id: int, artwork_id: int, moment: datetime | None) -> None:
    """Take an artwork out of the lists, or with None back into them."""
    mine = (artworks.c.id == artwork_id) & (artworks.c.shop_id == shop_id)
    connection.execute(update(artworks).where(mine).values(retired_at=moment))


def approve_piece(  # noqa: PLR0913, PLR0917 (a row)
    connection: Connection, shop_id: int, artwork_id: int, inspection_id: int, by: str, now: datetime
) -> None:
    """Say that an inspected piece shows the artwork as it should look; approving it twice renews it."""
    same = (
        (approved_pieces.c.shop_id == shop_id)
        & (approved_pieces.c.artwork_id == artwork_id)
        & (approved_pieces.c.inspection_id == inspection_id)
    )
    told = {"approved_by": by, "approved_at": now, "withdrawn_at": None}
    if connection.execute(update(approved_pieces).where(same).values(told)).rowcount == 0:
        row = {"shop_id": shop_id, "artwork_id": artwork_id, "inspection_id": inspection_id, **told}
        connection.execute(insert(approved_pieces).values(row))


def approved_pieces_of(connection: Connection, shop_id: int, artwork_id: int) -> list[ApprovedPiece]:
    """Return the approved pieces of an artwork that were not withdrawn, the newest first."""
    wanted = (
        select(
            approved_pieces.c.id,
            approved_pieces.c.inspection_id,
            inspections.c.public_id,
            inspections.c.photo_name,
            approved_pieces.c.approved_by,
            approved_pieces.c.approved_at,
        )
        .join(inspections, inspections.c.id == approved_pieces.c.inspection_id)
        .where(
            approved_pieces.c.shop_id == shop_id,
            approved_pieces.c.artwork_id == artwork_id,
            approved_pieces.c.withdrawn_at.is_(None),
        )
        .order_by(approved_pieces.c.approved_at.desc(), approved_pieces.c.id.desc())
    )
    return [ApprovedPiece(*row) for row in connection.execute(wanted)]


def withdraw_piece(connection: Connection, shop_id: int, piece_id: int, now: datetime) -> bool:
    """Take an approval back; False when the shop has no such approved piece."""
    mine = (approved_pieces.c.id == piece_id) & (approved_pieces.c.shop_id == shop_id)
    changed = update(approved_pieces).where(mine, approved_pieces.c.withdrawn_at.is_(None))
    return connection.execute(changed.values(withdrawn_at=now)).rowcount > 0
