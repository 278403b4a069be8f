"""Take a photo in: once this returns, the photo is on disk and its place in the queue is committed."""

import secrets
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any, Final

from sqlalchemy import Connection, Engine, select

from dyecast_api.printable_text import printable
from dyecast_api.store.artwork_tables import artwork_versions
from dyecast_api.store.batch_tables import batches
from dyecast_api.store.database import reading, writing
from dyecast_api.store.inspection_tables import inspections
from dyecast_api.work.file_rows import KeptFile, insert_into, record_file
from dyecast_api.work.file_store import FileStore
from dyecast_shared.errors import BadInput, FileUnreadable, KeyUsedTwice, PictureTooLarge

if TYPE_CHECKING:
    from dyecast_inspect.picture_header import PictureHeader

MEDIA_TYPES: Final = {
    "JPEG": "image/jpeg",
    "PNG": "image/png",
    "TIFF": "image/tiff",
    "WebP": "image/webp",
    "HEIF": "image/heic",
    "AVIF": "image/avif",
}
"""By the values of `dyecast_inspect.picture_header.Container`."""

LONGEST_NAME_BYTES: Final = 200
"""Of a photo's name in UTF-8; file systems take 255."""


@dataclass(frozen=True, slots=True)
class PhotoOrder:
    """What somebody wants of a photo.

    Attributes
    ----------
    shop_id, device_id
        Whose it is, and which phone or program sent it.
    photo_name
        Name of the file; folders before it are dropped.
    artwork_version_id, batch_id
        What it is compared with; without both, only a piece of a batch can be judged.
    paper
        Where the transfer paper is: ``unknown``, ``taped`` or ``off``.
    peek
        The photo is a peek under a lifted corner.
    idempotency_key
        Sent twice with the same photo, it gives the same inspection twice.
    keep_metadata
        Keep place, time and camera in the photo.
    """

    shop_id: int
    photo_name: str
    artwork_version_id: int | None = None
    batch_id: int | None = None
    paper: str = "unknown"
    peek: bool = False
    idempotency_key: str | None = None
    device_id: int | None = None
    keep_metadata: bool = False


@dataclass(frozen=True, slots=True)
class Accepted:
    """An inspection that waits or is done; `is_new` is false when its idempotency key was known."""

    public_id: str
    inspection_id: int
    is_new: bool


def accept_photo(
    engine: Engine, store: FileStore, order: PhotoOrder, photo: bytes, now: datetime
) -> Accepted:
    """Keep a photo and queue its inspection.

    Of the photo only the header is read. Place, time and camera are taken out of it unless the order says
    otherwise; its pixels stay as they are.

    Raises
    ------
    NotAPicture, PictureDamaged, PictureTooLarge, PictureTooSmall, FileUnreadable
        The photo cannot be inspected.
    BadInput
        The artwork or batch is not there.
    KeyUsedTwice
        The idempotency key came before with another photo or another order.
    StoreUnavailable
        The disk is full or the database cannot be written; nothing was accepted.

    """
    name = plain_name(order.photo_name)
    kept, content = kept_content(photo, name, keep_metadata=order.keep_metadata)
    with reading(engine) as connection:
        _check_references(connection, order)
    store.keep(content)
    with writing(engine) as connection:
        record_file(connection, order.shop_id, kept, now)
        accepted = _queued(connection, order, name, kept.sha256, now)
    if not store.has(kept.sha256):  # retention dropped an older copy in between
        store.keep(content)
    return accepted


def plain_name(name: str) -> str:
    """Return a file name without folders and characters that a terminal or a file system would obey."""
    last = name.replace("\\", "/").rpartition("/")[2]
    clean = printable(last).replace("\0", "").encode("utf-8", "replace")[-LONGEST_NAME_BYTES:]
    return clean.decode("utf-8", "ignore").strip(". ") or "photo"


def kept_content(photo: bytes, name: str, *, keep_metadata: bool) -> tuple[KeptFile, bytes]:
    """Check the photo's header; return what is kept of it, and its row; raise BadInput's kinds."""
    from dyecast_api.work.file_store import fingerprint
    from dyecast_api.work.strip.without_metadata import without_metadata

    header = checked_header(photo, name)
    content = photo if keep_metadata else without_metadata(photo, header)
    return KeptFile(fingerprint(content), len(content), MEDIA_TYPES[header.container]), content


def checked_header(photo: bytes, name: str) -> "PictureHeader":
    """Return what a picture says about itself; raise BadInput's kinds for what cannot be inspected."""
    from dyecast_inspect.decode_picture import bytes_per_pixel
    from dyecast_inspect.picture_header import read_header
    from dyecast_inspect.reading_bounds import DEFAULT_BOUNDS, MEBIBYTE, check_size

    if not photo:
        raise FileUnreadable("The file is empty.", advice="Send it again.", file=name)
    if len(photo) > DEFAULT_BOUNDS.file_bytes:
        limit = f"{DEFAULT_BOUNDS.file_bytes // MEBIBYTE} MiB"
        raise PictureTooLarge(f"The file holds more than {limit}.", file=name)
    header = read_header(photo, name)
    check_size(name, header.width, header.height, bytes_per_pixel(header))
    return header


def _check_references(connection: Connection, order: PhotoOrder) -> None:
    """Raise BadInput unless the shop has the artwork and the batch that the order names."""
    for table, number, what in (
        (artwork_versions, order.artwork_version_id, "artwork"),
        (batches, order.batch_id, "batch"),
    ):
        if number is None:
            continue
        found = select(table.c.id).where(table.c.id == number, table.c.shop_id == order.shop_id)
        if connection.execute(found).first() is None:
            raise BadInput(f"There is no such {what}.", advice=f"Choose another {what}.")


def _queued(connection: Connection, order: PhotoOrder, name: str, sha256: str, now: datetime) -> Accepted:
    """Insert the inspection's row, or find the one that the idempotency key has made before."""
    row = {
        "shop_id": order.shop_id,
        "public_id": secrets.token_hex(16),
        "photo_name": name,
        "photo_sha256": sha256,
        "received_at": now,
        "device_id": order.device_id,
        "idempotency_key": order.idempotency_key,
        **_wanted(order),
    }
    statement = insert_into(connection, inspections).values(row)
    made = connection.execute(
        statement.on_conflict_do_nothing(
            index_elements=[inspections.c.shop_id, inspections.c.idempotency_key]
        ).returning(inspections.c.id)
    ).scalar()
    if made is None:
        return _made_before(connection, order, sha256)
    return Accepted(str(row["public_id"]), made, is_new=True)


def _wanted(order: PhotoOrder) -> dict[str, Any]:
    """Return what decides the result beside the photo."""
    return {
        "artwork_version_id": order.artwork_version_id,
        "batch_id": order.batch_id,
        "paper": order.paper,
        "peek": order.peek,
    }


def _made_before(connection: Connection, order: PhotoOrder, sha256: str) -> Accepted:
    """Return the inspection of this idempotency key; raise KeyUsedTwice when it is about something else."""
    known = connection.execute(
        select(inspections).where(
            inspections.c.shop_id == order.shop_id, inspections.c.idempotency_key == order.idempotency_key
        )
    ).one()
    wanted = {"photo_sha256": sha256, **_wanted(order)}
    if any(known._mapping[column] != value for column, value in wanted.items()):
        raise KeyUsedTwice("This idempotency key came before with another photo or order.")
    return Accepted(known.public_id, known.id, is_new=False)
