"""Dropping photos that were kept long enough; results, pictures for pages and artworks stay."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import Connection, Engine, Select, select, update

from dyecast_api.store.artwork_tables import artwork_versions, card_values, files
from dyecast_api.store.batch_tables import batches
from dyecast_api.store.database import reading, writing
from dyecast_api.store.inspection_tables import approved_pieces, inspections
from dyecast_api.store.press_tables import pressings
from dyecast_api.work.file_store import FileStore


def drop_old_photos(engine: Engine, store: FileStore, shop_id: int, days: float, now: datetime) -> int:
    """Drop a shop's photos that came in more than `days` ago; return how many.

    Never dropped: what still waits; photos of approved pieces and of batches' first pieces; what came again
    since; what is an artwork, a profile or card values as well. Raises StoreUnavailable.
    """
    before = now - timedelta(days=days)
    with reading(engine) as connection:
        old = list(connection.execute(_old_photos(shop_id, before)).scalars())
    return sum(_drop(engine, store, _OldPhoto(shop_id, sha256, before), now) for sha256 in old)


def _old_photos(shop_id: int, before: datetime) -> Select[str]:
    """Select the photos that are old enough and still there."""
    return (
        select(inspections.c.photo_sha256)
        .join(
            files,
            (files.c.sha256 == inspections.c.photo_sha256) & (files.c.shop_id == inspections.c.shop_id),
        )
        .where(
            inspections.c.shop_id == shop_id,
            inspections.c.received_at < before,
            files.c.dropped_at.is_(None),
        )
        .distinct()
    )


@dataclass(frozen=True, slots=True)
class _OldPhoto:
    """A photo that came in before a moment."""

    shop_id: int
    sha256: str
    before: datetime


def _drop(engine: Engine, store: FileStore, photo: _OldPhoto, now: datetime) -> bool:
    """Drop one photo unless somebody needs it.

    Its row is locked first, as whoever accepts a photo does, and only then is looked who needs it; the bytes
    go before the lock does. So a photo that comes in again meanwhile is either seen here, or sees that its
    bytes are gone.
    """
    row = (files.c.shop_id == photo.shop_id) & (files.c.sha256 == photo.sha256)
    with writing(engine) as connection:
        connection.execute(select(files.c.id).where(row).with_for_update())
        if _is_needed(connection, photo):
            return False
        connection.execute(update(files).where(row).values(dropped_at=now))
        elsewhere = select(files.c.id).where(files.c.sha256 == photo.sha256, files.c.dropped_at.is_(None))
        if connection.execute(elsewhere.limit(1)).first() is None:
            store.drop(photo.sha256)
    return True


def _is_needed(connection: Connection, photo: _OldPhoto) -> bool:
    """Tell whether anything still stands on a photo."""
    sha256 = photo.sha256
    photos = select(inspections.c.id).where(
        inspections.c.shop_id == photo.shop_id, inspections.c.photo_sha256 == sha256
    )
    approved = photos.join(approved_pieces, approved_pieces.c.inspection_id == inspections.c.id)
    first = photos.join(pressings, pressings.c.inspection_id == inspections.c.id).join(
        batches, batches.c.first_pressing_id == pressings.c.id
    )
    needs: tuple[Select[int], ...] = (
        photos.where(inspections.c.finished_at.is_(None) | (inspections.c.received_at >= photo.before)),
        approved.where(approved_pieces.c.withdrawn_at.is_(None)),
        first,
        select(artwork_versions.c.id).where(
            (artwork_versions.c.file_sha256 == sha256) | (artwork_versions.c.printer_profile_sha256 == sha256)
        ),
        select(card_values.c.id).where(card_values.c.file_sha256 == sha256),
        select(batches.c.id).where(
            (batches.c.artwork_sha256 == sha256) | (batches.c.certificate_sha256 == sha256)
        ),
    )
    return any(connection.execute(need.limit(1)).first() is not None for need in needs)
