"""Count the scans of a JPEG, each of which makes the decoder pass over the whole picture once more.

Source: ITU-T T.81, annex B (markers, segments, byte stuffing).
"""

import re

from dyecast_inspect.reading_bounds import MEGAPIXEL, ReadingBounds
from dyecast_shared.errors import PictureTooLarge

_START_OF_SCAN = b"\xff\xda"

_MARKER = re.compile(rb"\xff[^\x00\xd0-\xd7\xff]")
"""Any marker that ends coded data: not a stuffed byte, a restart or a fill byte."""

_WITHOUT_LENGTH = (0xD8, 0x01)

_END_OF_PICTURE = 0xD9


def check_scans(data: bytes, name: str, pixels: int, *, bounds: ReadingBounds) -> None:
    """Refuse a JPEG of `pixels` pixels whose scans would keep the decoder busy. Raises PictureTooLarge."""
    most = min(bounds.scans, bounds.scanned_pixels // max(pixels, 1))
    if data.count(_START_OF_SCAN) <= most:  # never too low, and too high where metadata hold these bytes
        return
    scans = count_scans(data)
    if scans > most:
        size = f"{pixels / MEGAPIXEL:.1f} megapixels in {scans} scans"
        raise PictureTooLarge(f"The JPEG has {size}; at most {most} are read at this size.", file=name)


def count_scans(data: bytes) -> int:
    """Count the scans of the first picture in a JPEG file; stops where its segments stop making sense."""
    scans, position = 0, 2
    while (marker := _MARKER.search(data, position)) is not None:
        kind, position = data[marker.start() + 1], marker.end()
        if kind == _END_OF_PICTURE:
            break
        scans += kind == _START_OF_SCAN[1]
        if kind not in _WITHOUT_LENGTH:
            position += max(2, int.from_bytes(data[position : position + 2], "big"))
    return scans
