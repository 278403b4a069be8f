"""How large a picture file may be, checked from its header before anything is decoded."""

from dataclasses import dataclass
from pathlib import Path

from dyecast_shared.errors import FileUnreadable, PictureTooLarge, PictureTooSmall

MEBIBYTE = 1024 * 1024

MEGAPIXEL = 1_000_000


@dataclass(frozen=True, slots=True)
class ReadingBounds:
    """Limits on one picture; every one of them is inclusive.

    The defaults let every photo through that a phone takes in its normal mode (12 to 50 megapixels), and
    keep one reading under 1.5 GiB of memory and a few seconds on one core. They are choices of this
    project, no published source.

    Attributes
    ----------
    file_bytes
        Size of the file on disk.
    pixels
        Width times height; a decompression bomb is refused by this one.
    long_side, short_side
        Greatest long side and least short side, in pixels. No lens projects 64 pixels' worth of card.
    decode_bytes
        Memory that holding the decoded picture would take, in bytes.
    scans
        Scans in one JPEG file: each is a pass over the whole picture, a usual progressive file has ten.
    scanned_pixels
        Scans times pixels of one JPEG file: 100 megapixels in 20 scans take about 5 s.
    """

    file_bytes: int = 64 * MEBIBYTE
    pixels: int = 100 * MEGAPIXEL
    long_side: int = 16384
    short_side: int = 64
    decode_bytes: int = 800 * MEBIBYTE
    scans: int = 64
    scanned_pixels: int = 2_000 * MEGAPIXEL


DEFAULT_BOUNDS = ReadingBounds()


def read_bounded(path: Path, limit_bytes: int) -> bytes:
    """Return the bytes of a file that holds at least one and at most `limit_bytes`.

    Raises FileUnreadable for a missing or empty file, a folder or one that may not be read, and
    PictureTooLarge when it holds more.
    """
    try:
        if path.is_dir():
            raise FileUnreadable("This is a folder, not a picture.", file=path.name)
        if not path.exists():
            raise FileUnreadable("There is no such file.", file=path.name)
        if not path.is_file():
            raise FileUnreadable("This is no ordinary file.", file=path.name)
        with path.open("rb") as stream:
            data = stream.read(limit_bytes + 1)
    except (OSError, ValueError) as failure:
        raise FileUnreadable("The file could not be opened or read.", file=path.name) from failure
    if not data:
        raise FileUnreadable("The file is empty.", advice="Copy it again.", file=path.name)
    if len(data) > limit_bytes:
        limit = f"{limit_bytes / MEBIBYTE:.0f} MiB"
        raise PictureTooLarge(f"The file holds more than {limit}.", file=path.name)
    return data


def check_size(
    name: str, width: int, height: int, bytes_per_pixel: int, *, bounds: ReadingBounds = DEFAULT_BOUNDS
) -> None:
    """Refuse a picture whose header asks for more, or offers less, than the bounds allow.

    `width` and `height` are pixels as stored; `bytes_per_pixel` is what one decoded pixel takes in memory.
    Raises PictureTooLarge or PictureTooSmall.
    """
    size = f"{width} x {height} pixels"
    if max(width, height) > bounds.long_side:
        raise PictureTooLarge(f"{size}: the longer side may have at most {bounds.long_side}.", file=name)
    if width * height > bounds.pixels:
        limit = f"{bounds.pixels / MEGAPIXEL:.0f} megapixels"
        raise PictureTooLarge(f"{size}: more than {limit}.", file=name)
    if width * height * bytes_per_pixel > bounds.decode_bytes:
        limit = f"{bounds.decode_bytes / MEBIBYTE:.0f} MiB"
        raise PictureTooLarge(f"{size}: decoding would take more than {limit} of memory.", file=name)
    if min(width, height) < bounds.short_side:
        raise PictureTooSmall(f"{size}: the shorter side needs {bounds.short_side}.", file=name)
