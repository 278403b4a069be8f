"""Places in a list, as opaque text: a list goes on from there however much was added meanwhile."""

import base64
import binascii
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Annotated, Final, TypeVar

from fastapi import Depends, Query, Request, Response

from dyecast_api.records.inspection_records import MOST_PAGE_ROWS, PAGE_ROWS
from dyecast_shared.request_errors import RequestInvalid

Row = TypeVar("Row")

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


@dataclass(frozen=True, slots=True)
class AskedPage:
    """The page of a list that was asked for: so many rows, those below a row's number."""

    request: Request
    response: Response
    below: int | None
    limit: int

    def cut(self, rows: Sequence[Row], number_of: Callable[[Row], int]) -> tuple[list[Row], str | None]:
        """Return the page's rows and the cursor of the following one, None at the end.

        `rows` are the page's and, where there are more, at least one beyond. The header `Link` of the answer
        leads to the following page (RFC 8288).
        """
        page = list(rows[: self.limit])
        following = cursor_below(number_of(page[-1])) if len(rows) > self.limit else None
        if following is not None:
            address = self.request.url.include_query_params(cursor=following)
            self.response.headers["Link"] = f'<{address.path}?{address.query}>; rel="next"'
        return page, following


def asked_page(
    request: Request,
    response: Response,
    cursor: Annotated[str | None, Query(max_length=40, description="The `next` of the page before.")] = None,
    limit: Annotated[int, Query(ge=1, le=MOST_PAGE_ROWS, description="Rows of a page.")] = PAGE_ROWS,
) -> AskedPage:
    """Return the page that was asked for; raises RequestInvalid for a cursor that is none of ours."""
    return AskedPage(request, response, row_below(cursor), limit)


PageOfList = Annotated[AskedPage, Depends(asked_page)]
"""Argument of an endpoint that lists; it stands behind the caller, who is asked for first."""
