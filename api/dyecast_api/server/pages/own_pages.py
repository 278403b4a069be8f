"""Where a page may send its reader: nowhere but to this server's own pages."""

import re
from typing import Final

from fastapi.responses import RedirectResponse

_OWN: Final = re.compile(r"/(?!/)[A-Za-z0-9/_.-]*")


def go_to(path: str | None) -> RedirectResponse:
    """Send the reader to a page of ours; to the bench when the path is none."""
    own = path if path and _OWN.fullmatch(path) else "/"
    return RedirectResponse(own, status_code=303)
