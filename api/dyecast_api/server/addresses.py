"""At which address a phone in the shop's network reaches this server."""

import socket

from fastapi import Request

from dyecast_api.server.settings import ServerSettings

NOWHERE = ("", "0.0.0.0", "::", "127.0.0.1", "localhost")
"""Names by which no phone finds this computer."""


def own_address() -> str:
    """Return this computer's address in its network; no packet is sent to find it out."""
    try:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
            probe.connect(("192.0.2.1", 9))  # a documentation address (RFC 5737): only the route is looked up
            return str(probe.getsockname()[0])
    except OSError:
        return "127.0.0.1"


def served_address(settings: ServerSettings) -> str:
    """Return the address that phones use, e.g. `http://192.168.1.20:8642`."""
    if settings.public_url:
        return settings.public_url.rstrip("/")
    host = own_address() if settings.host in {"", "0.0.0.0", "::"} else settings.host
    return f"http://{host}:{settings.port}"


def phone_address(settings: ServerSettings, request: Request) -> str:
    """Return the address for a QR code: the one the owner uses, unless only this computer knows it."""
    if settings.public_url or (request.url.hostname or "") in NOWHERE:
        return served_address(settings)
    return f"{request.url.scheme}://{request.url.netloc}"
