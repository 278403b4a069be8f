"""A batch and its pieces as values."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum
from typing import Any

from dyecast_api.press_log.log_values import Pressing


class BatchState(StrEnum):
    """How far a batch is: no decision yet on its first piece, approved, held, or closed."""

    STARTED = "started"
    APPROVED = "approved"
    HELD = "held"
    CLOSED = "closed"


@dataclass(frozen=True, slots=True)
class Sampling:
    """Acceptance of the batch by ISO 2859-1: the acceptable quality limit in per cent, and how strictly.

    `severity` is ``normal`` or ``tightened``.
    """

    quality_limit_percent: float
    severity: str = "normal"


@dataclass(frozen=True, slots=True)
class Batch:
    """Pieces of one artwork pressed by one recipe.

    Attributes
    ----------
    artwork_version_id, artwork_name, artwork_sha256
        What the pieces should show; the file lies in the store under its SHA-256.
    planned_pieces
        How many there are to be, None when nobody said.
    every_nth
        Which pieces are inspected.
    sampling
        None without lot acceptance.
    first_pressing_id
        The piece that the others are held against once it is approved; before that, the one to decide on.
    decided_by, decided_at, decision_reason
        Who approved or held it, and why.
    certificate, certificate_sha256
        The document as closed; the same as PDF in the store.
    notes
        What happened, a line each.
    revision
        Raised by every change, so that two people notice each other.
    number
        Of its row, 0 until it is kept.
    """

    name: str
    recipe_id: int
    started_at: datetime
    artwork_version_id: int | None = None
    artwork_name: str = ""
    artwork_sha256: str | None = None
    planned_pieces: int | None = None
    every_nth: int = 1
    sampling: Sampling | None = None
    state: BatchState = BatchState.STARTED
    first_pressing_id: int | None = None
    decided_by: str | None = None
    decided_at: datetime | None = None
    decision_reason: str = ""
    closed_by: str | None = None
    closed_at: datetime | None = None
    certificate: Mapping[str, Any] | None = None
    certificate_sha256: str | None = None
    notes: str = ""
    revision: int = 1
    number: int = 0


@dataclass(frozen=True, slots=True)
class BatchPiece:
    """One inspected piece: its pressing, the inspection's document, and pictures by name in the store.

    `number` is the piece's number within the batch, `inspection` the inspection's identifier in addresses.
    """

    pressing: Pressing
    document: Mapping[str, Any]
    pictures: Mapping[str, str] = field(default_factory=dict)
    inspection: str = ""

    @property
    def number(self) -> int:
        """The piece's number within the batch."""
        return self.pressing.piece_number or 0

    @property
    def is_good(self) -> bool:
        """Whether the newest grade is good, whoever gave it."""
        return self.pressing.grade == "good"


def estimate(document: Mapping[str, Any], feature: str) -> tuple[float | None, float | None]:
    """Return a feature of an inspection's document with its standard uncertainty; None where not known."""
    found = (document.get("features") or {}).get(feature) or {}
    return found.get("value"), found.get("uncertainty")
