"""Places in a list, as opaque text: a list goes on from there however much was added meanwhile."""

import base64
import binascii
import re
from typing import Final

from dyecast_shared.request_errors import RequestInvalid

_PLACE: Final = re.compile(r"below:([1-9][0-9]{0,9})")


def cursor_below(row_number: int) -> str:
    """Return the cursor of what comes after this row in a list with the newest first."""
    return base64.urlsafe_b64encode(f"below:{row_number}".encode("ascii")).decode("ascii").rstrip("=")


def row_below(cursor: str | None) -> int | None:
    """Return the row number a cursor stands for; raise RequestInvalid for one that is none of ours."""
    if cursor is None:
        return None
    try:
        padded = cursor + "=" * (-len(cursor) % 4)
        place = _PLACE.fullmatch(base64.b64decode(padded, b"-_", validate=True).decode("ascii"))
    except (binascii.Error, ValueError):
        place = None
    if place is None:
        raise RequestInvalid("The cursor is none of this list.", advice="Begin at the list's first page.")
    return int(place[1])
