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
    "Referrer-Policy": "no-referrer",
    "Permissions-Policy": "camera=(self), geolocation=(), microphone=()",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}

STRICT_TRANSPORT: Final = "max-age=31536000"
"""Sent behind TLS only."""


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
                for name, value in HEADERS.items():
                    headers[name] = value
                headers.setdefault("Cache-Control", "no-store")
                if scope["scheme"] == "https":
                    headers["Strict-Transport-Security"] = STRICT_TRANSPORT
            await send(message)

        await self.app(scope, receive, send_with_headers)
