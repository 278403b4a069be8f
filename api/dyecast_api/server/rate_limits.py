"""How often one address may try: against guessing of passphrases and codes, and against floods."""

from typing import Final

from fastapi import Request
from limits import RateLimitItem, RateLimitItemPerMinute
from limits.storage import MemoryStorage
from limits.strategies import MovingWindowRateLimiter

from dyecast_shared.request_errors import TooManyRequests

SIGN_INS: Final = RateLimitItemPerMinute(10)
"""Passphrases and pairing codes tried from one address: a person mistypes a few times. Our own choice."""

UPLOADS: Final = RateLimitItemPerMinute(240)
"""Photos from one device: four a second, more than any bench, less than a flood. Our own choice."""

GLANCES: Final = RateLimitItemPerMinute(120)
"""Frames of a viewfinder from one device: twice what the bench page sends, one a second. Our own choice."""


class RateLimits:
    """Counts in this process's memory; several servers count each for itself."""

    def __init__(self) -> None:
        self._counter = MovingWindowRateLimiter(MemoryStorage())

    def count(self, what: RateLimitItem, *who: str) -> None:
        """Count one try; raise TooManyRequests when there were too many."""
        if not self._counter.hit(what, *who):
            raise TooManyRequests("There were too many tries in a short time.")


def address_of(request: Request) -> str:
    """Return the address a request came from."""
    return request.client.host if request.client else "nowhere"
