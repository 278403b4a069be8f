"""Errors as problem details (RFC 9457): the same codes as everywhere, and what to do about it."""

import logging
from collections.abc import Mapping
from typing import Any, Final

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, Response
from starlette.exceptions import HTTPException

from dyecast_shared import errors, request_errors
from dyecast_shared.errors import DyecastError

MEDIA_TYPE: Final = "application/problem+json"

STATUS: Final[Mapping[type[DyecastError], int]] = {
    errors.NotAPicture: 415,
    errors.PictureTooLarge: 413,
    errors.BadInput: 422,
    errors.BatchChanged: 409,
    errors.Retake: 422,
    request_errors.RequestInvalid: 422,
    request_errors.SignInNeeded: 401,
    request_errors.PassphraseWrong: 401,
    request_errors.PairingUnusable: 410,
    request_errors.OwnerNeeded: 403,
    request_errors.ForeignOrigin: 403,
    request_errors.NotFound: 404,
    errors.FileMissing: 404,
    request_errors.MethodNotAllowed: 405,
    request_errors.NameTaken: 409,
    request_errors.NotFinished: 409,
    request_errors.UploadTooSlow: 408,
    request_errors.UploadTooLarge: 413,
    request_errors.TooManyRequests: 429,
    errors.StoreTrouble: 503,
}
"""HTTP status of an error, by its class or the nearest one above."""

OF_STATUS: Final[Mapping[int, type[DyecastError]]] = {
    401: request_errors.SignInNeeded,
    403: request_errors.OwnerNeeded,
    404: request_errors.NotFound,
    405: request_errors.MethodNotAllowed,
    408: request_errors.UploadTooSlow,
    413: request_errors.UploadTooLarge,
    429: request_errors.TooManyRequests,
}
"""What an HTTP status of the framework means in our words; others are an invalid request."""

log = logging.getLogger("dyecast.server")


def status_of(error: DyecastError) -> int:
    """Return the HTTP status of an error."""
    return next((STATUS[kind] for kind in type(error).__mro__ if kind in STATUS), 500)


def problem(error: DyecastError, request: Request, headers: Mapping[str, str] | None = None) -> Response:
    """Return an error as a problem document, or as a page where a person asks for a page."""
    status = status_of(error)
    shown: Response | None = request.app.state.error_page(request, error, status)
    if shown is not None:
        return shown
    body = problem_body(error, status, getattr(request.state, "request_id", None))
    more = dict(headers or {})
    if status == 401:
        more["WWW-Authenticate"] = "Bearer"
    if status in {429, 503}:
        more["Retry-After"] = "5" if status == 503 else "60"
    return JSONResponse(body, status, more, media_type=MEDIA_TYPE)


def problem_body(error: DyecastError, status: int, request_id: str | None) -> dict[str, Any]:
    """Return the members of a problem document."""
    meaning = (type(error).__doc__ or "").strip().splitlines()[0]
    return {
        "type": f"/problems/{error.code}",
        "title": meaning,
        "status": status,
        "detail": error.message,
        "code": error.code,
        "advice": error.advice,
        "field": error.field or None,
        "request_id": request_id,
    }


def answer_errors(app: FastAPI) -> None:
    """Make every error of an application a problem document."""
    app.add_exception_handler(DyecastError, _ours)
    app.add_exception_handler(HTTPException, _of_the_framework)
    app.add_exception_handler(RequestValidationError, _invalid)
    app.add_exception_handler(Exception, _unforeseen)


async def _ours(request: Request, error: Exception) -> Response:
    assert isinstance(error, DyecastError)
    return problem(error, request)


async def _of_the_framework(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    kind = OF_STATUS.get(error.status_code, request_errors.RequestInvalid)
    said = "There is nothing at this address" if error.status_code == 404 else str(error.detail)
    message = said.rstrip(".") + "."
    return problem(kind(message), request, error.headers)


async def _invalid(request: Request, error: Exception) -> Response:
    assert isinstance(error, RequestValidationError)
    said = "; ".join(
        f"{'.'.join(str(part) for part in each['loc'] if part != 'body')}: {each['msg']}"
        for each in error.errors()[:5]
    )
    return problem(request_errors.RequestInvalid(f"The request cannot be understood: {said}."), request)


async def _unforeseen(request: Request, error: Exception) -> Response:
    log.error("unforeseen: %s", type(error).__name__, exc_info=error)
    return problem(request_errors.ServerFault("Something went wrong inside the server."), request)
