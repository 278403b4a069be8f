"""Random tokens: given out once, kept only as a hash, so that the database alone lets nobody in."""

import hashlib
import secrets
from typing import Final

TOKEN_BYTES: Final = 32
"""256 random bits: guessing is hopeless, so a fast hash is enough (NIST SP 800-63B, look-up secrets)."""

CODE_LETTERS: Final = "23456789ABCDEFGHJKMNPQRSTVWXYZ"
"""Letters of codes that people type: none that look alike."""

CODE_LENGTH: Final = 10
"""Of a pairing code: 49 bits, valid for five minutes and for one use."""

PASSPHRASE_GROUPS: Final = 5
PASSPHRASE_GROUP_LENGTH: Final = 4
"""Of an owner's passphrase: 98 bits in groups that can be copied by hand."""


def new_token() -> str:
    """Return a token for a device, URL-safe text."""
    return secrets.token_urlsafe(TOKEN_BYTES)


def new_code() -> str:
    """Return a pairing code."""
    return _random(CODE_LENGTH)


def new_passphrase() -> str:
    """Return a passphrase for an owner."""
    return "-".join(_random(PASSPHRASE_GROUP_LENGTH) for _ in range(PASSPHRASE_GROUPS))


def hash_of(secret: str) -> str:
    """Return what is kept of a token or a code: its SHA-256, 64 hexadecimal digits."""
    return hashlib.sha256(secret.encode("utf-8")).hexdigest()


def tidy_code(code: str) -> str:
    """Return a typed code as it was meant: upper case, without spaces and hyphens."""
    return "".join(code.upper().split()).replace("-", "")


def _random(length: int) -> str:
    return "".join(secrets.choice(CODE_LETTERS) for _ in range(length))
