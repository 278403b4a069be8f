"""What people decide about a batch: its first piece approved or held, and the batch closed.

Every function takes the batch as it was seen and raises BatchChanged when it is no longer so.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection

from dyecast_api.batches.batch_pieces import piece_of_pressing
from dyecast_api.batches.batch_rows import changed_batch, check_open
from dyecast_api.batches.batch_values import Batch, BatchPiece, BatchState
from dyecast_shared.errors import BatchInvalid


@dataclass(frozen=True, slots=True)
class Decision:
    """Who decides, when, and why; the reason may be empty where none is asked for."""

    by: str
    at: datetime
    reason: str = ""


@dataclass(frozen=True, slots=True)
class KeptCertificate:
    """A certificate's document, and its PDF's SHA-256 in the store."""

    document: Mapping[str, Any]
    pdf_sha256: str


def approve_first_piece(connection: Connection, shop_id: int, seen: Batch, decision: Decision) -> Batch:
    """Approve the first piece: later pieces are held against it.

    Raises BatchInvalid when there is none, when it was approved before, or when it is not good and no reason
    is given; BatchChanged as the module says.
    """
    piece = _piece_to_decide(connection, shop_id, seen)
    if not piece.is_good and not decision.reason.strip():
        raise BatchInvalid(
            f"The first piece is {piece.pressing.grade}, not good.",
            advice="Hold it and press another, or approve it with a reason.",
            field="reason",
        )
    return changed_batch(connection, shop_id, seen, **_decided(BatchState.APPROVED, decision, seen, piece))


def hold_first_piece(connection: Connection, shop_id: int, seen: Batch, decision: Decision) -> Batch:
    """Hold the first piece: the next one added is the new first piece.

    Raises BatchInvalid when there is none, when one was approved before, or without a reason; BatchChanged as
    the module says.
    """
    piece = _piece_to_decide(connection, shop_id, seen)
    if not decision.reason.strip():
        raise BatchInvalid("A first piece is held for a reason.", advice="Say why.", field="reason")
    return changed_batch(connection, shop_id, seen, **_decided(BatchState.HELD, decision, seen, piece))


def close_batch(
    connection: Connection,
    shop_id: int,
    seen: Batch,
    decision: Decision,
    certificate: KeptCertificate | None,
) -> Batch:
    """Close a batch with its certificate; without one, the batch was given up, for the reason given.

    Raises BatchChanged when it was closed before or as the module says.
    """
    check_open(seen)
    told = "Given up" if certificate is None else "Closed"
    return changed_batch(
        connection,
        shop_id,
        seen,
        state=BatchState.CLOSED,
        closed_by=decision.by,
        closed_at=decision.at,
        certificate=None if certificate is None else certificate.document,
        certificate_sha256=None if certificate is None else certificate.pdf_sha256,
        notes=with_note(seen, decision, told),
    )


def with_note(batch: Batch, decision: Decision, what: str) -> str:
    """Return the batch's notes with one line more."""
    because = f": {decision.reason.strip()}" if decision.reason.strip() else "."
    line = f"{decision.at:%Y-%m-%d %H:%M} UTC. {what} by {decision.by}{because}"
    return f"{batch.notes}\n{line}".strip()


def _piece_to_decide(connection: Connection, shop_id: int, seen: Batch) -> BatchPiece:
    """Return the first piece; raises BatchInvalid when there is none or it was approved."""
    check_open(seen)
    piece = piece_of_pressing(connection, shop_id, seen)
    if piece is None:
        raise BatchInvalid(
            f"Batch '{seen.name}' has no first piece yet.", advice="Inspect one for it.", field="first_piece"
        )
    if seen.state is BatchState.APPROVED:
        raise BatchInvalid(
            f"The first piece was approved by {seen.decided_by} already.",
            advice="To start with another first piece, close this batch and start a new one.",
        )
    return piece


def _decided(state: BatchState, decision: Decision, seen: Batch, piece: BatchPiece) -> dict[str, Any]:
    """Return what a decision on the first piece writes."""
    return {
        "state": state,
        "decided_by": decision.by,
        "decided_at": decision.at,
        "decision_reason": decision.reason.strip(),
        "notes": with_note(seen, decision, f"Piece {piece.number} ({piece.pressing.grade}) {state.value}"),
    }
