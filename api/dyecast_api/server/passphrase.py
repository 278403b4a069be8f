"""The owner's passphrase: argon2id, as RFC 9106 recommends (parameters of argon2-cffi)."""

from functools import cache
from typing import Final

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

HASHER: Final = PasswordHasher()


def hash_passphrase(passphrase: str) -> str:
    """Return what is kept of a passphrase."""
    return HASHER.hash(passphrase)


def is_passphrase(passphrase: str, kept: str | None) -> bool:
    """Tell whether a passphrase is the one kept; it takes some 50 ms on purpose, whatever the answer."""
    try:
        return HASHER.verify(kept or _nobodys(), passphrase) and kept is not None
    except (VerificationError, InvalidHashError):
        return False


@cache
def _nobodys() -> str:
    """Return a hash to check against when there is none, so that the answer takes as long."""
    return HASHER.hash("nobody's")
