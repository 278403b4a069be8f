"""A print that was laid or printed the wrong way round."""

from dyecast_inspect.explain_faults import MIRRORED
from dyecast_inspect.faults.likelihood import LEAST_DOUBT
from dyecast_inspect.inspection import Fault
from dyecast_inspect.register_piece import Registration

WHOLE = ((0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0))
"""The whole artwork as a place."""


def find_mirrored(registration: Registration) -> Fault | None:
    """Return the fault when the mirror image of the artwork was found on the piece.

    Its confidence is the correlation of the mirrored artwork with the photo: a piece that matches well one
    way round does not match the other.
    """
    if not registration.mirrored:
        return None
    confidence = min(max(registration.correlation, 0.5), 1.0 - LEAST_DOUBT)
    return Fault("mirrored-print", MIRRORED, confidence, WHOLE)
