"""Strip a HEIF or AVIF file: EXIF, XMP and other described items are overwritten where they lie.

Nothing moves, so every offset in the file stays true. Orientation and colours are properties of the picture
item, not of its EXIF data. Source: ISO/IEC 14496-12, 8.11 (meta, iinf, iloc, idat), from memory, and
ISO/IEC 23008-12, annex A (the EXIF item).
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from dyecast_api.work.strip.minimal_exif import SILENT_EXIF
from dyecast_shared.errors import PictureDamaged

OVERWRITTEN_ITEMS: Final = frozenset((b"Exif", b"mime", b"uri "))
"""Kinds of items that describe the picture; `mime` is how XMP is kept."""

LONGEST_WALK: Final = 10_000
"""Boxes and items looked at before a file is called damaged; phones write dozens. Our own choice."""


@dataclass(frozen=True, slots=True)
class _Box:
    """A box: its four letters, and where its content starts and ends in the file."""

    kind: bytes
    start: int
    end: int


def strip_heif(photo: bytes, exif: bytes, name: str) -> bytes:
    """Return a file of the same length whose EXIF item holds `exif`, a TIFF block, and no other text.

    Raises PictureDamaged when the list of items cannot be followed.
    """
    kept = bytearray(photo)
    try:
        for kind, start, length in _described_spans(photo):
            kept[start : start + length] = _blank(kind, length, exif)
    except (IndexError, ValueError) as problem:
        raise PictureDamaged("The list of the file's parts contradicts itself.", file=name) from problem
    return bytes(kept)


def _blank(kind: bytes, length: int, exif: bytes) -> bytes:
    """Return what stands in an item's place: for EXIF four bytes of offset, then the block."""
    if kind != b"Exif":
        return b" " * length
    content = bytes(4) + (exif or SILENT_EXIF)
    return content.ljust(length, b"\0") if len(content) <= length else bytes(length)


def _described_spans(photo: bytes) -> Iterator[tuple[bytes, int, int]]:
    """Yield kind, start and length of every stretch of the file that belongs to a described item."""
    for meta in _boxes(photo, 0, len(photo)):
        if meta.kind != b"meta":
            continue
        inside = {box.kind: box for box in _boxes(photo, meta.start + 4, meta.end)}
        if b"iinf" not in inside or b"iloc" not in inside:
            continue
        kinds = dict(_item_kinds(photo, inside[b"iinf"]))
        idat = inside[b"idat"].start if b"idat" in inside else 0
        for item, start, length in _extents(photo, inside[b"iloc"], idat):
            if kinds.get(item) in OVERWRITTEN_ITEMS:
                if start + length > len(photo):
                    raise ValueError
                yield kinds[item], start, length


def _boxes(photo: bytes, position: int, end: int) -> Iterator[_Box]:
    """Yield the boxes between two places."""
    for _ in range(LONGEST_WALK):
        if position + 8 > end:
            return
        size, content = int.from_bytes(photo[position : position + 4], "big"), position + 8
        if size == 1:
            size, content = int.from_bytes(photo[position + 8 : position + 16], "big"), position + 16
        last = end if size == 0 else position + size
        if last > end or last < content:
            raise ValueError
        yield _Box(photo[position + 4 : position + 8], content, last)
        position = last
    raise ValueError


def _item_kinds(photo: bytes, iinf: _Box) -> Iterator[tuple[int, bytes]]:
    """Yield number and kind of each item (boxes `infe` of versions 2 and 3)."""
    count_bytes = 2 if photo[iinf.start] == 0 else 4
    for infe in _boxes(photo, iinf.start + 4 + count_bytes, iinf.end):
        version = photo[infe.start]
        if infe.kind != b"infe" or version < 2:
            continue
        number_bytes = 2 if version == 2 else 4
        number = infe.start + 4
        kind = number + number_bytes + 2
        yield int.from_bytes(photo[number : number + number_bytes], "big"), photo[kind : kind + 4]


class _Numbers:
    """Reads whole numbers, big endian, one after the other."""

    def __init__(self, photo: bytes, position: int) -> None:
        self.photo, self.position = photo, position

    def next(self, size: int) -> int:
        """Return the next number of `size` bytes, 0 for none."""
        self.position += size
        if self.position > len(self.photo):
            raise ValueError
        return int.from_bytes(self.photo[self.position - size : self.position], "big")


def _extents(photo: bytes, iloc: _Box, idat: int) -> Iterator[tuple[int, int, int]]:
    """Yield number, start and length of every item's extents; those made from other items are left out."""
    version = photo[iloc.start]
    numbers = _Numbers(photo, iloc.start + 4)
    sizes = numbers.next(2)
    offset_bytes, length_bytes, base_bytes = sizes >> 12, sizes >> 8 & 15, sizes >> 4 & 15
    index_bytes = sizes & 15 if version in (1, 2) else 0
    for _ in range(min(numbers.next(4 if version == 2 else 2), LONGEST_WALK)):
        item = numbers.next(4 if version == 2 else 2)
        method = numbers.next(2) & 15 if version in (1, 2) else 0
        numbers.next(2)
        base = numbers.next(base_bytes)
        for _ in range(min(numbers.next(2), LONGEST_WALK)):
            numbers.next(index_bytes)
            start, length = numbers.next(offset_bytes), numbers.next(length_bytes)
            if method <= 1:
                yield item, base + start + (idat if method == 1 else 0), length
