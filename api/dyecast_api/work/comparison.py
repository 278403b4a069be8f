"""What a queued photo is compared with: read from the shop's tables."""

from dataclasses import dataclass

from sqlalchemy import Connection, select

from dyecast_api.store.artwork_tables import artwork_versions, card_values
from dyecast_api.store.batch_tables import batches
from dyecast_api.store.inspection_tables import approved_pieces, inspections
from dyecast_api.store.press_tables import pressings
from dyecast_api.work.queue import Claimed


@dataclass(frozen=True, slots=True)
class ArtworkFile:
    """A version of an artwork: its file and its printer's profile in the store, and its print size in mm."""

    artwork_id: int
    name: str
    sha256: str
    printer_profile_sha256: str | None
    print_size_mm: tuple[float, float] | None


@dataclass(frozen=True, slots=True)
class PiecePhoto:
    """The photo of a piece that others are compared with."""

    name: str
    sha256: str


@dataclass(frozen=True, slots=True)
class Comparison:
    """What one photo is compared with.

    `approved` is a known good piece, beside the artwork or instead of it; `card_values` are the files of true
    colours, one a card layout.
    """

    artwork: ArtworkFile | None
    approved: PiecePhoto | None
    card_values: tuple[str, ...]


def comparison_of(connection: Connection, claimed: Claimed) -> Comparison:
    """Return what an inspection is compared with.

    The artwork is the inspection's own or its batch's; the approved piece is the first piece of the batch, or
    else the newest approved one of that artwork.
    """
    artwork = _artwork(connection, claimed)
    approved = _first_of_batch(connection, claimed)
    if approved is None and artwork is not None:
        approved = _newest_approved(connection, claimed, artwork.artwork_id)
    return Comparison(artwork, approved, _card_values(connection, claimed.shop_id))


def _artwork(connection: Connection, claimed: Claimed) -> ArtworkFile | None:
    """Return the version of the artwork that the inspection, or its batch, names."""
    version = claimed.artwork_version_id
    if version is None:
        of_batch = select(batches.c.artwork_version_id).where(
            batches.c.id == claimed.batch_id, batches.c.shop_id == claimed.shop_id
        )
        version = connection.execute(of_batch).scalar()
    named = (artwork_versions.c.id == version) & (artwork_versions.c.shop_id == claimed.shop_id)
    row = connection.execute(select(artwork_versions).where(named)).first()
    if row is None:
        return None
    width, height = row.print_width_mm, row.print_height_mm
    size = None if width is None or height is None else (float(width), float(height))
    return ArtworkFile(row.artwork_id, row.file_name, row.file_sha256, row.printer_profile_sha256, size)


def _newest_approved(connection: Connection, claimed: Claimed, artwork_id: int) -> PiecePhoto | None:
    """Return the piece of this artwork that was approved last and not withdrawn."""
    row = connection.execute(
        select(inspections.c.photo_name, inspections.c.photo_sha256)
        .join(approved_pieces, approved_pieces.c.inspection_id == inspections.c.id)
        .where(
            approved_pieces.c.artwork_id == artwork_id,
            approved_pieces.c.shop_id == claimed.shop_id,
            approved_pieces.c.withdrawn_at.is_(None),
            approved_pieces.c.inspection_id != claimed.id,
        )
        .order_by(approved_pieces.c.approved_at.desc(), approved_pieces.c.id.desc())
        .limit(1)
    ).first()
    return None if row is None else PiecePhoto(row.photo_name, row.photo_sha256)


def _first_of_batch(connection: Connection, claimed: Claimed) -> PiecePhoto | None:
    """Return the photo of the batch's first piece, once it was approved."""
    row = connection.execute(
        select(inspections.c.photo_name, inspections.c.photo_sha256)
        .join(pressings, pressings.c.inspection_id == inspections.c.id)
        .join(batches, batches.c.first_pressing_id == pressings.c.id)
        .where(
            batches.c.id == claimed.batch_id,
            batches.c.shop_id == claimed.shop_id,
            batches.c.state.in_(("approved", "closed")),
            pressings.c.taken_back_at.is_(None),
            inspections.c.id != claimed.id,
        )
    ).first()
    return None if row is None else PiecePhoto(row.photo_name, row.photo_sha256)


def _card_values(connection: Connection, shop_id: int) -> tuple[str, ...]:
    """Return the newest values of each layout that were not withdrawn."""
    rows = connection.execute(
        select(card_values.c.layout, card_values.c.file_sha256)
        .where(card_values.c.shop_id == shop_id, card_values.c.withdrawn_at.is_(None))
        .order_by(card_values.c.id)
    )
    newest = {row.layout: row.file_sha256 for row in rows}
    return tuple(newest.values())
