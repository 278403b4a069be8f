"""A print that has not the size it was meant to have."""

from math import log
from typing import Final

from dyecast_inspect.explain_faults import SIZE_NOT_KNOWN, size_sentence
from dyecast_inspect.faults.likelihood import share_beyond
from dyecast_inspect.faults.mirrored import WHOLE
from dyecast_inspect.inspection import Fault, FaultSize, Reason
from dyecast_inspect.measure_piece import MeasuredPiece

MOST_SIZE_ERROR: Final = 0.02
"""Relative error of a side from which a blank is ruined: 2 mm on 100 mm show as a white rim or a cut edge.
Common practice, no published source."""

NEARER_BY: Final = 0.008
"""Relative enlargement expected because the print lies above the card: a layer 2 mm up, seen from 25 cm."""

SIZE_UNCERTAINTY: Final = 0.007
"""Standard uncertainty of that, relative: layers from 0.3 to 4 mm up, phones from 20 to 50 cm away."""


def find_wrong_size(piece: MeasuredPiece, intended_mm: tuple[float, float] | None) -> Fault | Reason | None:
    """Return the fault of a wrong print size, or the reason why size cannot be judged."""
    if intended_mm is None:
        return Reason("print-size-not-given", SIZE_NOT_KNOWN)
    measured = (piece.width_mm, piece.height_mm)
    errors = [log(seen / meant) - NEARER_BY for seen, meant in zip(measured, intended_mm, strict=True)]
    worst = max(errors, key=abs)
    confidence = share_beyond(abs(worst), MOST_SIZE_ERROR + SIZE_UNCERTAINTY, SIZE_UNCERTAINTY)
    if confidence < 0.5:
        return None
    sizes = (
        FaultSize("width", piece.width_mm, "mm"),
        FaultSize("height", piece.height_mm, "mm"),
        FaultSize("intended width", intended_mm[0], "mm"),
        FaultSize("intended height", intended_mm[1], "mm"),
        FaultSize("scale", 100.0 * (1.0 + sum(errors) / 2), "%"),
    )
    return Fault("wrong-print-size", size_sentence(measured, intended_mm), confidence, WHOLE, sizes)
