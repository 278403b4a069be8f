"""Strip a JPEG: application segments and comments go, those that colours need stay.

Source: ITU-T T.81, annex B (markers); ICC.1:2022, annex B.4 (profiles in APP2); JFIF 1.02; Adobe's APP14 as
common decoders read it, from memory.
"""

import re
import struct
from collections.abc import Iterator
from typing import Final

from dyecast_shared.errors import PictureDamaged

START: Final = b"\xff\xd8"
END: Final = b"\xff\xd9"

APP0, APP1, APP2, APP14, APP15, COMMENT = 0xE0, 0xE1, 0xE2, 0xEE, 0xEF, 0xFE
START_OF_SCAN: Final = 0xDA
END_OF_PICTURE: Final = 0xD9

ALONE: Final = frozenset((0x01, *range(0xD0, 0xD8)))
"""Markers without a length: TEM and the restart markers."""

KEPT_SEGMENTS: Final = ((APP0, b"JFIF\0"), (APP2, b"ICC_PROFILE\0"), (APP14, b"Adobe"))
"""Application segments that say how to read the pixels, by how they begin."""

_MARKER: Final = re.compile(rb"\xff[^\x00\xd0-\xd7]")
"""What ends the coded data of a scan: a marker that is no stuffed byte and no restart, or bytes that fill up
before it."""


def strip_jpeg(photo: bytes, exif: bytes, name: str) -> bytes:
    """Return the first picture of a JPEG file with `exif`, a TIFF block, as its only EXIF data.

    Pictures that phones append (depth, gain map, previews) are left out; a picture that breaks off is kept
    up to there. Raises PictureDamaged when a segment reaches beyond the file.
    """
    parts = list(_kept_parts(photo, name))
    own = b"" if not exif else _segment(APP1, b"Exif\0\0" + exif)
    first = 1 if parts and parts[0][1:2] == bytes([APP0]) else 0  # JFIF's segment wants to be the first one
    return b"".join((START, *parts[:first], own, *parts[first:]))


def _kept_parts(photo: bytes, name: str) -> Iterator[bytes]:
    """Yield what is kept after the start marker: segments, each scan with its data, the end marker."""
    position = len(START)
    while position < len(photo):
        marker, position = _marker_at(photo, position, name)
        if marker == END_OF_PICTURE:
            yield END
            return
        if marker in ALONE:
            continue
        end = position + int.from_bytes(photo[position : position + 2], "big")
        if end > len(photo) or end < position + 2:
            raise PictureDamaged("A segment of the JPEG reaches beyond its end.", file=name)
        if marker == START_OF_SCAN:
            following = _MARKER.search(photo, end)
            end = following.start() if following else len(photo)
        if _is_kept(marker, photo[position + 2 : position + 16]):
            yield bytes((0xFF, marker)) + photo[position:end]
        position = end


def _marker_at(photo: bytes, position: int, name: str) -> tuple[int, int]:
    """Return the marker that stands here and where its segment begins."""
    start = position
    while position < len(photo) and photo[position] == 0xFF:
        position += 1
    if position == start or position == len(photo):
        raise PictureDamaged("The JPEG has no marker where one must stand.", file=name)
    return photo[position], position + 1


def _is_kept(marker: int, beginning: bytes) -> bool:
    if APP0 <= marker <= APP15:
        return any(marker == kept and beginning.startswith(word) for kept, word in KEPT_SEGMENTS)
    return marker != COMMENT


def _segment(marker: int, content: bytes) -> bytes:
    return struct.pack(">BBH", 0xFF, marker, 2 + len(content)) + content
