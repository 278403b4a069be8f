"""The figures of a batch's pieces as series for its charts."""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

import numpy as np

from dyecast_api.batches.batch_values import Batch, BatchPiece, BatchState, estimate
from dyecast_calibration.batch.baseline import FULL_PIECES, MOVING_RANGE_TO_STANDARD_DEVIATION
from dyecast_calibration.batch.drift import Quantity
from dyecast_calibration.batch.series import MeasuredSeries, measured_series

Measured = tuple[float | None, float | None]
"""A value and its standard uncertainty as reported; None where not known."""


@dataclass(frozen=True, slots=True)
class QuantityWords:
    """How a quantity is named and shown: figures are multiplied by `scale` and given in `unit`."""

    name: str
    scale: float
    unit: str
    decimals: int


QUANTITY_WORDS: Final = {
    Quantity.TRANSFERRED_FRACTION: QuantityWords("Share of the intended ink", 100.0, "%", 1),
    Quantity.DELTA_E_TO_FIRST_PIECE: QuantityWords("Colour difference from the first piece", 1.0, "ΔE00", 2),
    Quantity.VEIL: QuantityWords("Light mirrored by the surface (veil)", 100.0, "%", 2),
    Quantity.COATING_YELLOWING: QuantityWords("Yellowing of the coating", 1.0, "b*", 2),
}


def counted_pieces(batch: Batch, pieces: Sequence[BatchPiece]) -> tuple[BatchPiece, ...]:
    """Return the pieces that charts and lot acceptance count: from the approved first piece on.

    Empty while none is approved; pieces held before belong to no series.
    """
    first = next((piece for piece in pieces if piece.pressing.number == batch.first_pressing_id), None)
    if first is None or batch.state in {BatchState.STARTED, BatchState.HELD}:
        return ()
    return tuple(piece for piece in pieces if piece.number >= first.number)


def quantity_series(quantity: Quantity, pieces: Sequence[BatchPiece]) -> MeasuredSeries | None:
    """Return one quantity of the pieces that have it, None when none has.

    The difference from the first piece begins with the second. A moment before the one of an earlier piece
    (a clock set back) counts as that one. Uncertainties are those that differ from photo to photo
    (`from_photo_to_photo`).
    """
    hours = _hours(pieces)
    told = [
        (piece.number, hour, *_MEASURED[quantity](piece)) for piece, hour in zip(pieces, hours, strict=True)
    ]
    known = [(number, hour, value, own or 0.0) for number, hour, value, own in told if value is not None]
    if quantity is Quantity.DELTA_E_TO_FIRST_PIECE:
        known = [one for one in known if one[0] != pieces[0].number]
    if not known:
        return None
    numbers, when, values, reported = zip(*known, strict=True)
    return measured_series(values, from_photo_to_photo(values, reported), piece_numbers=numbers, hours=when)


def from_photo_to_photo(values: Sequence[float], reported: Sequence[float]) -> tuple[float, ...]:
    """Return the part of reported standard uncertainties that can differ between photos of one batch.

    What is reported contains errors that all photos share (the card's colours above all). The scatter
    between neighbouring pieces of the baseline, mean moving range over d2, is made of pieces and of what
    differs between their photos, so that part is no larger: the uncertainties are scaled down together until
    their root mean square is no more than that scatter. One photo that is less sure than the rest stays so.
    """
    first = np.array(values[:FULL_PIECES])
    if first.size < 2:
        return tuple(reported)
    scatter = float(np.mean(np.abs(np.diff(first)))) / MOVING_RANGE_TO_STANDARD_DEVIATION
    usual = math.sqrt(float(np.mean(np.square(reported[:FULL_PIECES]))))
    scale = 1.0 if usual <= scatter else scatter / usual
    return tuple(scale * own for own in reported)


def _hours(pieces: Sequence[BatchPiece]) -> tuple[float, ...]:
    """Return hours since the first piece was pressed, never falling."""
    began = pieces[0].pressing.pressed_at if pieces else datetime.min
    seconds = [(piece.pressing.pressed_at - began).total_seconds() for piece in pieces]
    rising = np.maximum.accumulate(seconds) if seconds else np.zeros(0)
    return tuple((rising / 3600.0).tolist())


def measured(quantity: Quantity, piece: BatchPiece) -> Measured:
    """Return a quantity of a piece with its reported standard uncertainty, in the quantity's own unit."""
    return _MEASURED[quantity](piece)


def _difference_uncertainty(document: Mapping[str, Any]) -> float | None:
    """Return the standard uncertainty that the piece's own photo brings to a colour difference, CIEDE2000.

    The card's colours are foretold with an error in three directions, of which one lengthens or shortens the
    difference. The first piece's photo moves all pieces alike and is left out.
    """
    error = (document.get("card") or {}).get("leave_one_out_mean")
    return None if error is None else error / math.sqrt(3.0)


_MEASURED: Final[dict[Quantity, Callable[[BatchPiece], Measured]]] = {
    Quantity.TRANSFERRED_FRACTION: lambda piece: (
        piece.pressing.transferred_fraction,
        piece.pressing.transferred_fraction_uncertainty,
    ),
    Quantity.DELTA_E_TO_FIRST_PIECE: lambda piece: (
        piece.pressing.delta_e_2000_first,
        _difference_uncertainty(piece.document),
    ),
    Quantity.VEIL: lambda piece: (piece.pressing.veil, estimate(piece.document, "veil")[1]),
    Quantity.COATING_YELLOWING: lambda piece: estimate(piece.document, "coating_yellowing"),
}
