"""Strip a WebP: EXIF, XMP and unknown chunks go, pictures and the colour profile stay.

Source: RFC 9649, WebP image format, section 2.
"""

import struct
from collections.abc import Iterator
from typing import Final

from dyecast_shared.errors import PictureDamaged

KEPT_CHUNKS: Final = frozenset((b"VP8 ", b"VP8L", b"VP8X", b"ALPH", b"ICCP", b"ANIM", b"ANMF"))
HAS_EXIF: Final = 0x08
HAS_XMP: Final = 0x04
"""Bits of the first byte of VP8X."""


def strip_webp(photo: bytes, exif: bytes, name: str) -> bytes:
    """Return a WebP with `exif`, a TIFF block, as its only EXIF data; raises PictureDamaged.

    A simple file (without VP8X) holds no metadata to keep or to lose.
    """
    kept = [(kind, content) for kind, content in _chunks(photo, name) if kind in KEPT_CHUNKS]
    extended = any(kind == b"VP8X" for kind, _ in kept)
    own = [(b"EXIF", exif)] if exif and extended else []
    kept = [(kind, _flagged(content, own) if kind == b"VP8X" else content) for kind, content in kept]
    body = b"WEBP" + b"".join(_chunk(kind, content) for kind, content in [*kept, *own])
    return b"RIFF" + struct.pack("<I", len(body)) + body


def _chunks(photo: bytes, name: str) -> Iterator[tuple[bytes, bytes]]:
    """Yield kind and content of each chunk within the RIFF container."""
    last = min(len(photo), 8 + int.from_bytes(photo[4:8], "little"))
    position = 12
    while position + 8 <= last:
        size = int.from_bytes(photo[position + 4 : position + 8], "little")
        if position + 8 + size > len(photo):
            raise PictureDamaged("A part of the WebP reaches beyond its end.", file=name)
        yield photo[position : position + 4], photo[position + 8 : position + 8 + size]
        position += 8 + size + size % 2


def _flagged(header: bytes, own: list[tuple[bytes, bytes]]) -> bytes:
    """Return VP8X's content, saying what metadata there still is."""
    flags = header[0] & ~(HAS_EXIF | HAS_XMP) | (HAS_EXIF if own else 0)
    return bytes([flags]) + header[1:]


def _chunk(kind: bytes, content: bytes) -> bytes:
    return kind + struct.pack("<I", len(content)) + content + bytes(len(content) % 2)
