"""Headers that keep a browser from loading anything foreign, guessing types or being framed."""

from typing import Final

from starlette.datastructures import MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

POLICY: Final = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; "
    "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'; manifest-src 'self'; "
    "media-src 'self' blob:"
)
"""Content Security Policy (W3C CSP level 3): only what this server sends; pictures of a photo not yet sent
and the camera's own stream are blob:."""

HEADERS: Final = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",  # with no-referrer, forms tell no origin (Fetch, section 3.2)
    "Permissions-Policy": "camera=(self), geolocation=(), microphone=()",
    "Cross-Origin-Resource-Policy": "same-origin",
}

TLS_HEADERS: Final = {
    "Strict-Transport-Security": "max-age=31536000",
    "Cross-Origin-Opener-Policy": "same-origin",
}
"""Sent behind TLS only: elsewhere browsers ignore them, the second with a complaint."""


class SecurityHeaders:
    """Adds the headers to every answer; what is not a picture is not kept by caches."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                headers.update(HEADERS)
                headers.setdefault("Cache-Control", "no-store")
                if scope["scheme"] == "https":
                    headers.update(TLS_HEADERS)
            await send(message)

        await self.app(scope, receive, send_with_headers)
