"""Who asks: a device by its cookie, or a program by its bearer token; and what it may do."""

from dataclasses import dataclass
from typing import Annotated, Final
from urllib.parse import urlsplit

from fastapi import Depends, Request, Response

from dyecast_api.records.device_records import Device, device_of_token, note_visit, was_seen_lately
from dyecast_api.server.state import Server, ServerState
from dyecast_api.server.tokens import hash_of
from dyecast_api.store.database import reading, writing
from dyecast_shared.request_errors import ForeignOrigin, OwnerNeeded, SignInNeeded

COOKIE: Final = "dyecast_device"
COOKIE_SECONDS: Final = 400 * 24 * 3600
"""400 days: the longest that browsers keep a cookie (RFC 6265bis)."""

OWNER: Final = "owner"
BENCH: Final = "bench"

SAFE_METHODS: Final = ("GET", "HEAD", "OPTIONS")


@dataclass(frozen=True, slots=True)
class Caller:
    """A device or program that speaks for a shop; `role` is ``owner`` or ``bench``."""

    shop_id: int
    device_id: int
    name: str
    role: str


def bench_caller(request: Request, server: Server) -> Caller:
    """Return who asks, owner or bench; raise SignInNeeded or ForeignOrigin."""
    caller = caller_or_none(request, server)
    if caller is None:
        raise SignInNeeded("This device is not signed in.")
    return caller


def owner_caller(caller: Annotated[Caller, Depends(bench_caller)]) -> Caller:
    """Return who asks, when it is the owner; raise OwnerNeeded otherwise."""
    if caller.role != OWNER:
        raise OwnerNeeded("Only the owner may do this.")
    return caller


BenchCaller = Annotated[Caller, Depends(bench_caller)]
OwnerCaller = Annotated[Caller, Depends(owner_caller)]
"""Who asks, as an argument of an endpoint."""


def caller_or_none(request: Request, server: ServerState) -> Caller | None:
    """Return who asks, None when nobody is signed in; raise ForeignOrigin for a forged request."""
    scheme, _, bearer = request.headers.get("Authorization", "").partition(" ")
    token = bearer.strip() if scheme.lower() == "bearer" else None
    if token is None:
        token = request.cookies.get(COOKIE)
        if token is not None:
            check_origin(request)
    return None if token is None else _caller(server, token)


def _caller(server: ServerState, token: str) -> Caller | None:
    with reading(server.engine) as connection:
        device = device_of_token(connection, hash_of(token))
    if device is None:
        return None
    now = server.clock()
    if not was_seen_lately(device, now):
        with writing(server.engine) as connection:
            note_visit(connection, device, now)
    return Caller(device.shop_id, device.id, device.name, device.role)


def check_origin(request: Request) -> None:
    """Raise ForeignOrigin when a request that changes something does not come from the server's own pages.

    Browsers tell where a request comes from in `Sec-Fetch-Site`, on plain HTTP only in `Origin`.
    """
    if request.method in SAFE_METHODS:
        return
    site = request.headers.get("Sec-Fetch-Site")
    if site is not None:
        allowed = site in {"same-origin", "none"}
    else:
        origin = urlsplit(request.headers.get("Origin", ""))
        allowed = bool(origin.netloc) and origin.netloc == request.headers.get("Host")
    if not allowed:
        raise ForeignOrigin("Another site asked for this.")


def remember(response: Response, request: Request, token: str) -> None:
    """Give a browser its token in a cookie that scripts cannot read and other sites do not send along."""
    response.set_cookie(
        COOKIE,
        token,
        max_age=COOKIE_SECONDS,
        httponly=True,
        samesite="strict",
        secure=request.url.scheme == "https",
    )


def forget(response: Response) -> None:
    """Take the cookie away."""
    response.delete_cookie(COOKIE, httponly=True, samesite="strict")


def device_caller(device: Device) -> Caller:
    """Return a device as one that asks."""
    return Caller(device.shop_id, device.id, device.name, device.role)
