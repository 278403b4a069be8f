"""The pieces of a batch: added one by one, read in the order of their numbers."""

import secrets
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Select, func, insert, select

from dyecast_api.batches.batch_rows import batch_now, changed_batch, check_open
from dyecast_api.batches.batch_values import Batch, BatchPiece, BatchState
from dyecast_api.press_log.log_rows import value_of
from dyecast_api.press_log.log_values import Pressing
from dyecast_api.press_log.pressings import add_pressing
from dyecast_api.store.inspection_tables import inspections
from dyecast_api.store.press_tables import pressings
from dyecast_api.work.file_rows import KeptFile, record_file
from dyecast_api.work.queue import InspectionResult, result_columns
from dyecast_shared.errors import BatchChanged, BatchInvalid


@dataclass(frozen=True, slots=True)
class InspectedPhoto:
    """A photo in the store and what its inspection found; `name` is the file's."""

    name: str
    kept: KeptFile
    result: InspectionResult


def pieces_of(connection: Connection, shop_id: int, batch: Batch) -> tuple[BatchPiece, ...]:
    """Return a batch's pieces by their numbers, without those that were taken back."""
    rows = connection.execute(
        _pieces(shop_id, batch).where(pressings.c.taken_back_at.is_(None)).order_by(pressings.c.piece_number)
    ).mappings()
    return tuple(map(_piece, rows))


def piece_counts(connection: Connection, shop_id: int, numbers: Sequence[int]) -> dict[int, int]:
    """Return how many pieces that count these batches of a shop have; batches without any are left out."""
    counted = (
        select(pressings.c.batch_id, func.count())
        .where(
            pressings.c.shop_id == shop_id,
            pressings.c.batch_id.in_(numbers),
            pressings.c.taken_back_at.is_(None),
        )
        .group_by(pressings.c.batch_id)
    )
    return {row[0]: row[1] for row in connection.execute(counted)}


def piece_of_pressing(connection: Connection, shop_id: int, batch: Batch) -> BatchPiece | None:
    """Return the batch's first piece, approved or not; None when there is none or it was taken back."""
    first = _pieces(shop_id, batch).where(
        pressings.c.id == batch.first_pressing_id, pressings.c.taken_back_at.is_(None)
    )
    row = connection.execute(first).mappings().first()
    return None if row is None else _piece(row)


def next_piece_number(connection: Connection, shop_id: int, batch: Batch) -> int:
    """Return the number of the piece to be inspected next; numbers that were taken back are not given again.

    While no first piece is approved that is the next one pressed, afterwards every n-th.
    """
    highest = select(func.max(pressings.c.piece_number)).where(
        pressings.c.shop_id == shop_id, pressings.c.batch_id == batch.number
    )
    last = connection.execute(highest).scalar()
    if last is None:
        return 1
    return int(last) + (batch.every_nth if batch.state is BatchState.APPROVED else 1)


def check_addable(connection: Connection, shop_id: int, batch: Batch) -> None:
    """Raise BatchInvalid while a first piece waits for a decision, BatchChanged when the batch is closed."""
    check_open(batch)
    if batch.state is BatchState.STARTED and piece_of_pressing(connection, shop_id, batch) is not None:
        raise BatchInvalid(
            "The first piece was neither approved nor held yet.",
            advice="Approve it or hold it.",
            field="decision",
        )


def add_piece(
    connection: Connection, shop_id: int, seen: Batch, pressing: Pressing, photo: InspectedPhoto
) -> tuple[Batch, Pressing]:
    """Keep an inspected piece; return the batch and the pressing as kept.

    Others may have added pieces since the batch was seen; a piece without a number gets the next one. A batch
    whose first piece is not approved, or was taken back, makes this its first piece.

    Raises BatchInvalid for a number or a photo that is there already, BatchChanged when the batch was closed
    or has another first piece than when it was seen.
    """
    now = _as_it_is_now(connection, shop_id, seen)
    number = pressing.piece_number or next_piece_number(connection, shop_id, now)
    numbered = replace(pressing, piece_number=number)
    _check_new(connection, shop_id, now, numbered)
    inspection_id = keep_inspection(connection, shop_id, now, photo, pressing.logged_at)
    return _placed(connection, shop_id, now, replace(numbered, inspection_id=inspection_id))


def add_inspected(connection: Connection, shop_id: int, seen: Batch, pressing: Pressing) -> Batch:
    """Add a piece whose inspection the shop has already, as the next one; return the batch.

    Raises BatchInvalid for a photo that is there already, BatchChanged as `add_piece` does.
    """
    now = _as_it_is_now(connection, shop_id, seen)
    numbered = replace(pressing, piece_number=next_piece_number(connection, shop_id, now))
    _check_new(connection, shop_id, now, numbered)
    return _placed(connection, shop_id, now, numbered)[0]


def _placed(connection: Connection, shop_id: int, batch: Batch, pressing: Pressing) -> tuple[Batch, Pressing]:
    """Keep a numbered piece; without an approved first piece it becomes the first one."""
    is_approved = batch.state is BatchState.APPROVED
    has_first = is_approved and piece_of_pressing(connection, shop_id, batch) is not None
    kept = replace(pressing, batch_id=batch.number)
    kept = replace(kept, number=add_pressing(connection, shop_id, kept))
    first: dict[str, Any] = {}
    if not has_first:
        first = {"state": BatchState.STARTED, "first_pressing_id": kept.number}
        first |= {"decided_by": None, "decided_at": None, "decision_reason": ""}
    return changed_batch(connection, shop_id, batch, **first), kept


def keep_inspection(
    connection: Connection, shop_id: int, batch: Batch, photo: InspectedPhoto, now: datetime
) -> int:
    """Keep a finished inspection and the files it names; return its row's number."""
    for kept in (photo.kept, *photo.result.pictures.values()):
        record_file(connection, shop_id, kept, now)
    row = {
        "public_id": secrets.token_hex(16),
        "artwork_version_id": batch.artwork_version_id,
        "batch_id": batch.number,
        "photo_sha256": photo.kept.sha256,
        "photo_name": photo.name,
        "received_at": now,
        "attempt": 1,
        "finished_at": now,
        **result_columns(photo.result),
    }
    added = connection.execute(insert(inspections).values(shop_id=shop_id, **row))
    return int((added.inserted_primary_key or (0,))[0])


def _as_it_is_now(connection: Connection, shop_id: int, seen: Batch) -> Batch:
    """Return the batch, held for this transaction; raises BatchChanged when it is not open as it was."""
    now = batch_now(connection, shop_id, seen)
    check_open(now)
    if (now.state, now.first_pressing_id) != (seen.state, seen.first_pressing_id):
        raise BatchChanged(
            f"The first piece of batch '{seen.name}' was added or decided on while the photo was inspected; "
            "no piece was added.",
            advice="Look at the batch as it is now, and add the photo again.",
        )
    return now


def _check_new(connection: Connection, shop_id: int, batch: Batch, pressing: Pressing) -> None:
    """Refuse a piece number and a photo that the batch has, taken back or not."""
    rows = connection.execute(
        select(pressings.c.piece_number, pressings.c.photo_sha256, pressings.c.taken_back_at).where(
            pressings.c.shop_id == shop_id, pressings.c.batch_id == batch.number
        )
    ).all()
    for row in rows:
        taken_back = "" if row.taken_back_at is None else " and was taken back"
        if row.photo_sha256 == pressing.photo_sha256 and row.taken_back_at is None:
            raise BatchInvalid(
                f"This photo is piece {row.piece_number} already; no piece was added.",
                advice="Take a photo of each piece.",
            )
        if row.piece_number == pressing.piece_number:
            raise BatchInvalid(
                f"Piece {row.piece_number} is there already{taken_back}; no piece was added.",
                advice="Give the piece another number, or leave the number out.",
                field="piece_number",
            )


def _pieces(shop_id: int, batch: Batch) -> Select[Any]:
    more = inspections.c.document, inspections.c.pictures, inspections.c.public_id
    return (
        select(pressings, *more)
        .join(inspections, inspections.c.id == pressings.c.inspection_id)
        .where(
            pressings.c.shop_id == shop_id,
            inspections.c.shop_id == shop_id,
            pressings.c.batch_id == batch.number,
        )
    )


def _piece(row: Any) -> BatchPiece:  # noqa: ANN401 (a row of `_pieces`)
    return BatchPiece(value_of(Pressing, row), row["document"] or {}, row["pictures"] or {}, row["public_id"])
