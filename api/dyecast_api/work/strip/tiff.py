"""Strip a TIFF: texts, EXIF, place, XMP and other private data are overwritten where they lie.

Nothing moves, so every offset in the file stays true. Source: TIFF revision 6.0, section 2, and EXIF 2.32
(CIPA DC-008-2019), section 4.6.3.
"""

import struct
from dataclasses import dataclass
from typing import Final

from dyecast_shared.errors import PictureDamaged

KEPT_TAGS: Final = frozenset(
    (
        *(254, 255, 256, 257, 258, 259, 262, 263, 264, 265, 266, 273, 274, 277, 278, 279, 280, 281, 282, 283),
        *(284, 288, 289, 290, 291, 292, 293, 296, 297, 301, 317, 318, 319, 320, 321, 322, 323, 324, 325, 332),
        *(334, 336, 338, 339, 340, 341, 342, 347, 512, 513, 514, 515, 517, 518, 519, 520, 521, 529, 530, 531),
        *(532, 34675),  # the ICC profile
    )
)
"""Tags that say how the pixels lie in the file and how they are to be read; all others are overwritten."""

SUBDIRECTORIES: Final = frozenset((330, 0x8769, 0x8825, 0xA005))
"""Tags that point to a directory of their own: further pictures, EXIF, place, interoperability."""

VALUE_BYTES: Final = {1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 6: 1, 7: 1, 8: 2, 9: 4, 10: 8, 11: 4, 12: 8, 13: 4}
"""Size of one value by its type."""

UNKNOWN_TYPE: Final = 7
MOST_DIRECTORIES: Final = 100
"""Directories looked at before a file is called damaged. Our own choice."""


def strip_tiff(photo: bytes, name: str) -> bytes:
    """Return a TIFF of the same length without private data; raises PictureDamaged.

    A BigTIFF, which no phone writes, is refused: it could not be stripped.
    """
    order = "<" if photo[:2] == b"II" else ">"
    if photo[2:4] not in (b"*\0", b"\0*"):
        raise PictureDamaged("BigTIFF cannot be freed of its metadata.", file=name, advice="Send a JPEG.")
    walk = _Walk(bytearray(photo), order)
    try:
        walk.directories(walk.number(4, 4))
    except (struct.error, ValueError) as problem:
        raise PictureDamaged("The TIFF's directories contradict each other.", file=name) from problem
    return bytes(walk.data)


@dataclass(slots=True, eq=False)
class _Walk:
    """A TIFF being overwritten: its bytes and their order."""

    data: bytearray
    order: str
    seen: int = 0

    def number(self, position: int, size: int) -> int:
        """Return a whole number of 2 or 4 bytes."""
        return int(struct.unpack_from(self.order + {2: "H", 4: "I"}[size], self.data, position)[0])

    def directories(self, position: int) -> None:
        """Clean a chain of directories of pictures."""
        while position:
            self.seen += 1
            if self.seen > MOST_DIRECTORIES:
                raise ValueError
            entries = self.number(position, 2)
            for index in range(entries):
                self.clean_entry(position + 2 + 12 * index)
            position = self.number(position + 2 + 12 * entries, 4)

    def clean_entry(self, entry: int) -> None:
        """Overwrite one entry's value unless its tag is kept; the entry itself stays, with one zero in it."""
        tag, kind = self.number(entry, 2), self.number(entry + 2, 2)
        count, where = self.number(entry + 4, 4), self.number(entry + 8, 4)
        if tag in KEPT_TAGS:
            return
        length = count * VALUE_BYTES.get(kind, 1)
        if length > 4:
            self.overwrite(where, length)
        elif tag in SUBDIRECTORIES:
            self.erase_directory(where)
        struct.pack_into(f"{self.order}HI4x", self.data, entry + 2, UNKNOWN_TYPE, 1)

    def erase_directory(self, position: int) -> None:
        """Overwrite a directory below an entry, and all that it points to."""
        self.seen += 1
        entries = self.number(position, 2)
        if self.seen > MOST_DIRECTORIES:
            raise ValueError
        for entry in range(position + 2, position + 2 + 12 * entries, 12):
            tag, kind = self.number(entry, 2), self.number(entry + 2, 2)
            count, where = self.number(entry + 4, 4), self.number(entry + 8, 4)
            length = count * VALUE_BYTES.get(kind, 1)
            if length > 4:
                self.overwrite(where, length)
            elif tag in SUBDIRECTORIES:
                self.erase_directory(where)
        self.overwrite(position, 2 + 12 * entries + 4)

    def overwrite(self, position: int, length: int) -> None:
        """Put zeros over a stretch of the file."""
        if position < 8 or position + length > len(self.data):
            raise ValueError
        self.data[position : position + length] = bytes(length)
