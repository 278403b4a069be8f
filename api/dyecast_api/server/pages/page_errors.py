"""Errors as pages: what happened, what to do, and a way back; who is not signed in is sent to do so."""

from urllib.parse import quote

from fastapi import Request, Response
from fastapi.responses import RedirectResponse

from dyecast_api.server.pages.render import page
from dyecast_shared.errors import DyecastError
from dyecast_shared.request_errors import SignInNeeded


def error_page(request: Request, error: DyecastError, status: int) -> Response | None:
    """Return an error as a page, None where a program asks and a problem document fits better."""
    if request.url.path.startswith("/api/") or "text/html" not in request.headers.get("Accept", ""):
        return None
    if isinstance(error, SignInNeeded):
        return RedirectResponse(f"/sign-in?to={quote(request.url.path)}", status_code=303)
    return page(request, "error.html", {"error": error}, status=status)
