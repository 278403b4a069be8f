"""A batch as somebody wants it started, made into one that can be kept."""

from dataclasses import dataclass
from datetime import datetime

from dyecast_api.batches.batch_values import Batch
from dyecast_api.batches.kept_artwork import KeptArtwork
from dyecast_api.batches.lot_acceptance import entered_sampling, every_nth_for
from dyecast_api.press_log.entered_name import LONGEST_NAME
from dyecast_shared.errors import BatchInvalid


@dataclass(frozen=True, slots=True)
class BatchOrder:
    """What was written.

    Attributes
    ----------
    planned_pieces
        How many there are to be, None when nobody said.
    every_nth
        Which pieces to inspect; None lets the sampling decide, and is each piece without one.
    quality_limit_percent, tightened
        Acceptance of the lot by ISO 2859-1; None without.
    """

    name: str
    planned_pieces: int | None = None
    every_nth: int | None = None
    quality_limit_percent: float | None = None
    tightened: bool = False


def started_batch(order: BatchOrder, recipe_id: int, artwork: KeptArtwork, now: datetime) -> Batch:
    """Return the batch, not kept yet.

    Raises BatchInvalid for a name that cannot be, and for lot acceptance without a number of pieces or plan.
    """
    sampling = entered_sampling(order.quality_limit_percent, order.planned_pieces, tightened=order.tightened)
    return Batch(
        name=_name(order.name),
        recipe_id=recipe_id,
        started_at=now,
        artwork_version_id=artwork.version_id,
        artwork_name=artwork.name,
        artwork_sha256=artwork.sha256,
        planned_pieces=order.planned_pieces,
        every_nth=order.every_nth or every_nth_for(sampling, order.planned_pieces),
        sampling=sampling,
    )


def _name(name: str) -> str:
    """Return a name without blanks around it; raises BatchInvalid for an empty or very long one."""
    shown = name.strip()
    if not 0 < len(shown) <= LONGEST_NAME:
        raise BatchInvalid("A batch's name has one to a hundred letters.", field="name")
    return shown
