"""The little EXIF that a stripped photo keeps: which way is up, and whether its colours are sRGB.

Source of tags and layout: EXIF 2.32 (CIPA DC-008-2019), sections 4.5 and 4.6.
"""

import struct
from typing import Final

ORIENTATION: Final = 0x0112
EXIF_DIRECTORY: Final = 0x8769
COLOUR_SPACE: Final = 0xA001

SHORT: Final = 3
LONG: Final = 4
"""Types of values: 16 and 32 bits."""

_FIRST_DIRECTORY: Final = 8


SILENT_EXIF: Final = b"MM\0*\0\0\0\x08\0\0\0\0\0\0"
"""A TIFF block that says nothing, where one must stand: a directory without entries."""


def minimal_exif(orientation: int, colour_space: int | None) -> bytes:
    """Return a TIFF block, big endian, with these two facts; empty when neither says anything.

    `orientation` is 1 to 8, `colour_space` the EXIF value (1 = sRGB, 65535 = uncalibrated) or None.
    """
    entries = [] if orientation == 1 else [_short(ORIENTATION, orientation)]
    below = b""
    if colour_space is not None:
        start = _FIRST_DIRECTORY + _directory_bytes(len(entries) + 1)
        entries.append(struct.pack(">HHII", EXIF_DIRECTORY, LONG, 1, start))
        below = _directory([_short(COLOUR_SPACE, colour_space)])
    if not entries:
        return b""
    return struct.pack(">2sHI", b"MM", 42, _FIRST_DIRECTORY) + _directory(entries) + below


def _short(tag: int, value: int) -> bytes:
    return struct.pack(">HHIHH", tag, SHORT, 1, value, 0)


def _directory(entries: list[bytes]) -> bytes:
    """Return a directory that is followed by no other."""
    return struct.pack(">H", len(entries)) + b"".join(entries) + bytes(4)


def _directory_bytes(entries: int) -> int:
    return 2 + 12 * entries + 4
