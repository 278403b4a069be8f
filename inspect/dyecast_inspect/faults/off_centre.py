"""A print that does not lie in the middle of its blank."""

from math import hypot
from typing import Final

from dyecast_inspect.explain_faults import BORDER_NOT_SEEN, off_centre_sentence
from dyecast_inspect.faults.border_strips import Borders
from dyecast_inspect.faults.likelihood import share_beyond
from dyecast_inspect.inspection import Fault, FaultSize, Reason
from dyecast_inspect.measure_piece import MeasuredPiece

MOST_OFF_CENTRE_MM: Final = 1.0
"""Distance of the print's centre from the blank's that is let pass. Common practice, no published source."""

BORDER_UNCERTAINTY_MM: Final = 0.4
"""Standard uncertainty of that distance: edges to 0.2 mm, and a slanted view of a face above the print."""


def find_off_centre(borders: Borders, piece: MeasuredPiece) -> Fault | Reason | None:
    """Return the fault of a print beside the middle of its blank, or the reason why it cannot be judged."""
    right, down = _half_difference(borders.left, borders.right), _half_difference(borders.top, borders.bottom)
    if right is None and down is None:
        return Reason("border-not-seen", BORDER_NOT_SEEN)
    right, down = right or 0.0, down or 0.0
    distance = hypot(right, down)
    limit = MOST_OFF_CENTRE_MM + BORDER_UNCERTAINTY_MM
    confidence = share_beyond(distance, limit, BORDER_UNCERTAINTY_MM)
    if confidence < 0.5:
        return None
    sizes = (
        FaultSize("distance", distance, "mm"),
        FaultSize("to the right", right, "mm"),
        FaultSize("down", down, "mm"),
    )
    return Fault("off-centre", off_centre_sentence(right, down), confidence, _blank(borders, piece), sizes)


def _half_difference(before: float | None, after: float | None) -> float | None:
    """Return how far the print is moved away from `before`, mm; None when a border was not seen."""
    return None if before is None or after is None else (before - after) / 2


def _blank(borders: Borders, piece: MeasuredPiece) -> tuple[tuple[float, float], ...]:
    """Return the blank's outline as far as it was seen, in the artwork's unit square."""
    left, right = -(borders.left or 0.0) / piece.width_mm, 1.0 + (borders.right or 0.0) / piece.width_mm
    top, bottom = -(borders.top or 0.0) / piece.height_mm, 1.0 + (borders.bottom or 0.0) / piece.height_mm
    return ((left, top), (right, top), (right, bottom), (left, bottom))
