"""Strip a PNG: texts, times, EXIF and unknown chunks go, pixels and colour statements stay.

Source: PNG specification, third edition, sections 5.3 and 11.
"""

import struct
import zlib
from typing import Final

from dyecast_inspect.png_chunks import PNG_SIGNATURE, chunk_spans

KEPT_CHUNKS: Final = frozenset(
    b"IHDR PLTE IDAT IEND tRNS cHRM cICP gAMA iCCP sBIT sRGB mDCV cLLI bKGD hIST pHYs sPLT".split()
)
"""Chunks that say how the pixels are to be read. Further frames of an animation are not among them."""


def strip_png(photo: bytes, exif: bytes) -> bytes:
    """Return a PNG with `exif`, a TIFF block, as its only EXIF data; what follows its end is left out."""
    parts = [PNG_SIGNATURE]
    for kind, start, end in chunk_spans(photo):
        if kind in KEPT_CHUNKS:
            parts.append(photo[start:end])
        if kind == b"IHDR" and exif:
            parts.append(_chunk(b"eXIf", exif))
        if kind == b"IEND":
            break
    return b"".join(parts)


def _chunk(kind: bytes, content: bytes) -> bytes:
    return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))
