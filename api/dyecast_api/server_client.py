"""Speaking to a shop's server from a program: send a photo, wait for its verdict."""

import secrets
import time
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any, Final

import httpx2

from dyecast_shared import errors, request_errors
from dyecast_shared.errors import DyecastError, FileUnreadable
from dyecast_shared.request_errors import NotFound, ServerFault, ServerUnreachable

API: Final = "/api/v1"

TIMEOUT: Final = httpx2.Timeout(10.0, read=60.0, write=60.0)
"""Seconds: a photo may take long to send, and a busy server to answer."""

TRIES: Final = 3
"""How often a photo is sent; its key makes it one inspection all the same."""

LOOK_SECONDS: Final = 0.3


class ServerClient:
    """A shop's server at an address, spoken to with a program's token."""

    def __init__(self, url: str, token: str, transport: httpx2.BaseTransport | None = None) -> None:
        self._http = httpx2.Client(
            base_url=url.rstrip("/"),
            headers={"Authorization": f"Bearer {token}"},
            timeout=TIMEOUT,
            transport=transport,
        )

    def artwork_named(self, name: str) -> int:
        """Return the number of an artwork; raise NotFound naming those there are."""
        artworks = self._asked("GET", f"{API}/artworks")
        for artwork in artworks:
            if artwork["name"] == name or str(artwork["id"]) == name:
                return int(artwork["id"])
        known = ", ".join(artwork["name"] for artwork in artworks) or "none"
        raise NotFound("The server has no artwork of this name.", advice=f"It has: {known}.", file=name)

    def send(self, photo: Path, wishes: Mapping[str, str]) -> str:
        """Send a photo and return its inspection's identifier; tries again when the network fails."""
        try:
            content = photo.read_bytes()
        except OSError as problem:
            raise FileUnreadable(f"It could not be read ({problem.strerror}).", file=str(photo)) from problem
        headers = {"Idempotency-Key": secrets.token_hex(16)}
        for tries_left in range(TRIES - 1, -1, -1):
            try:
                sent = self._asked(
                    "POST",
                    f"{API}/inspections",
                    data=dict(wishes),
                    files={"photo": (photo.name, content)},
                    headers=headers,
                )
                break
            except ServerUnreachable:
                if not tries_left:
                    raise
                time.sleep(1.0)
        return str(sent["id"])

    def followed(self, identifier: str, say: Callable[[str], None]) -> Mapping[str, Any]:
        """Wait until an inspection is finished, telling each stage; return it in full."""
        told: str | None = None
        for inspection in self._looks(identifier):
            if inspection["state"] == "finished":
                return inspection
            stage = inspection["stage"] or "waiting"
            if stage != told:
                told = stage
                say(stage)
        raise ServerFault("The server told no verdict.")

    def _looks(self, identifier: str) -> Iterator[Mapping[str, Any]]:
        while True:
            yield self._asked("GET", f"{API}/inspections/{identifier}")
            time.sleep(LOOK_SECONDS)

    def _asked(self, method: str, path: str, **request: Any) -> Any:  # noqa: ANN401 (JSON)
        """Return what the server answers; raise what its problem document says, or ServerUnreachable."""
        try:
            answer = self._http.request(method, path, **request)
            body = answer.json()
        except (httpx2.HTTPError, httpx2.InvalidURL, ValueError) as problem:
            raise ServerUnreachable(
                f"The server did not answer as expected ({type(problem).__name__}).",
                file=str(self._http.base_url),
            ) from problem
        if answer.is_success:
            return body
        raise error_of(body)


def error_of(problem: Mapping[str, Any]) -> DyecastError:
    """Return a problem document as the error it was."""
    message, advice = str(problem.get("detail", "")), str(problem.get("advice", ""))
    return _kind_of(str(problem.get("code")))(message, advice=advice)


def _kind_of(code: str) -> type[DyecastError]:
    """Return the error of a code; ServerFault for one that this version does not know."""
    for kind in (*vars(errors).values(), *vars(request_errors).values()):
        if isinstance(kind, type) and issubclass(kind, DyecastError) and kind.code == code:
            return kind
    return ServerFault
