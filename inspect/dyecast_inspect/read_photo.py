"""Read a photo at the resolution that measuring needs, upright, with its colours' meaning settled."""

from pathlib import Path

import numpy as np

from dyecast_inspect.decode_picture import bytes_per_pixel, decode
from dyecast_inspect.picture_colour import left_out_notes, on_white, settle_colours
from dyecast_inspect.picture_header import read_header
from dyecast_inspect.reading_bounds import DEFAULT_BOUNDS, ReadingBounds, check_size, read_bounded
from dyecast_inspect.upright import upright, upright_size
from dyecast_shared.photo import Photo

FULL_DETAIL_LONG_SIDE_PX = 3200
"""Photos up to this long side are measured as they are: halving them would leave the card too few pixels."""

WORKING_LONG_SIDE_PX = 1600
"""Least long side after reduction: a card a third of the frame wide keeps over 500 pixels."""


def read_photo(path: Path, *, bounds: ReadingBounds = DEFAULT_BOUNDS) -> Photo:
    """Read a JPEG, PNG, TIFF, WebP, HEIC/HEIF or AVIF photo; the content decides, not the extension.

    - Size: refused by its header before decoding when it lies outside `bounds`. A long side over 3200
      pixels is reduced by 2 or 4 so that it stays at 1600 or more; `Photo.scale` is that factor.
    - Orientation: EXIF 1 to 8 is applied, anything else counts as 1.
    - Colour: see `settle_colours`. More than 8 bits are kept as 16 for PNG, TIFF and HEIF.
    - Transparent pixels are laid on white, grey is kept, of several pictures the first is used (the primary
      one in HEIF): each with a note.

    Raises FileUnreadable, NotAPicture, PictureDamaged, PictureTooLarge, PictureTooSmall, and
    ProfileUnusable for CMYK without a usable profile.
    """
    return photo_of(read_bounded(path, bounds.file_bytes), path.name, bounds=bounds)


def photo_of(data: bytes, name: str, *, bounds: ReadingBounds = DEFAULT_BOUNDS) -> Photo:
    """Read a photo from a file's bytes as `read_photo` does, under the name of that file."""
    header = read_header(data, name)
    check_size(name, header.width, header.height, bytes_per_pixel(header), bounds=bounds)
    raster = decode(data, header, factor=working_factor(header.width, header.height), bounds=bounds)
    coloured = settle_colours(raster, header)
    pixels = upright(on_white(coloured.codes, raster.alpha), header.orientation)
    pixels = np.ascontiguousarray(pixels)
    pixels.setflags(write=False)
    return Photo(
        name=name,
        pixels=pixels,
        encoding=coloured.encoding,
        full_size=upright_size(header.height, header.width, header.orientation),
        scale=float(raster.factor),
        notes=coloured.notes + left_out_notes(header, raster),
    )


def working_factor(width: int, height: int) -> int:
    """Return by how much a photo of this size, in pixels, is reduced: 1, 2 or 4."""
    long_side = max(width, height)
    if long_side <= FULL_DETAIL_LONG_SIDE_PX:
        return 1
    return 4 if long_side >= 4 * WORKING_LONG_SIDE_PX else 2
