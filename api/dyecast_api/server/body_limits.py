"""Bounds on what is sent: how many bytes, and how long they may take."""

import asyncio
from collections.abc import Awaitable, Callable, Mapping
from typing import Final

from starlette.exceptions import HTTPException
from starlette.types import ASGIApp, Message, Receive, Scope, Send

SWALLOWED_TIMES: Final = 2
"""What is too large is received to this many times the limit and thrown away: a client that is still sending
hears no answer."""


class BodyLimits:
    """Ends a request whose body is too large (413) or too slow (408); `narrower` bounds single paths."""

    def __init__(
        self, app: ASGIApp, most_bytes: int, most_seconds: float, narrower: Mapping[str, int]
    ) -> None:
        self.app, self.most_bytes, self.most_seconds = app, most_bytes, most_seconds
        self.narrower = narrower

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        deadline = asyncio.get_running_loop().time() + self.most_seconds
        most_bytes = self.narrower.get(scope["path"], self.most_bytes)
        await self.app(scope, _bounded(receive, most_bytes, deadline), send)


def _bounded(receive: Receive, most_bytes: int, deadline: float) -> Callable[[], Awaitable[Message]]:
    """Return `receive` that raises HTTPException once the body is too large or too slow."""
    count, is_whole = 0, False

    async def receive_in_time() -> Message:
        if is_whole:  # from here on only the client's going away is awaited
            return await receive()
        remaining = deadline - asyncio.get_running_loop().time()
        try:
            return await asyncio.wait_for(receive(), max(remaining, 0.001))
        except TimeoutError:
            raise HTTPException(408, "The upload took too long") from None

    async def bounded() -> Message:
        nonlocal count, is_whole
        message = await receive_in_time()
        while message["type"] == "http.request":
            count += len(message.get("body", b""))
            is_whole = not message.get("more_body", False)
            if count <= most_bytes:
                return message
            if is_whole or count > SWALLOWED_TIMES * most_bytes:
                raise HTTPException(413, f"More than {_size(most_bytes)} were sent")
            message = await receive_in_time()
        return message

    return bounded


def _size(count: int) -> str:
    """Say a number of bytes."""
    return f"{count // 2**20} MiB" if count >= 2**20 else f"{count // 1000} kB"
