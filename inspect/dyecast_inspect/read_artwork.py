"""Read the artwork a piece was meant to show, as colours under D50, small enough to compare with a photo."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np
from numpy.typing import NDArray

from dyecast_inspect.decode_picture import Raster, bytes_per_pixel, decode
from dyecast_inspect.picture_colour import ColouredPixels, left_out_notes, on_white, settle_colours
from dyecast_inspect.picture_header import read_header
from dyecast_inspect.printer_gamut import through_printer
from dyecast_inspect.reading_bounds import DEFAULT_BOUNDS, ReadingBounds, check_size, read_bounded
from dyecast_inspect.upright import upright, upright_size
from dyecast_shared.photo import linear_light
from dyecast_shared.single_precision import times_matrix

if TYPE_CHECKING:
    from dyecast_inspect.prepare_artwork import ArtworkParts

ARTWORK_LONG_SIDE_PX = 720
"""Greatest long side kept, in pixels: pictures of the piece that are held against it are no larger. At 1024
reading takes half as long again, and only the bleed of a piece that spans more than 720 pixels of the working
photo would be measured more finely."""

SAMPLED_LONG_SIDE_PX = 512
"""Greatest long side of the samples, in pixels: 16 samples for every place the ink is known at."""

COARSE_LONG_SIDE_PX = 512
"""Greatest long side of the coarse picture, in pixels: fine lines still show, and no frame in which colours
are compared is larger."""

OPAQUE_FROM = 0.5
"""Mean opacity, 0..1, from which a pixel counts as printed."""

WHOLE_PIXELS = 4_000_000
"""Opaque artworks up to this size are held in floating point as a whole (48 MB): three times as fast."""

_BAND_ROWS = 256


@dataclass(frozen=True, slots=True, eq=False)
class Artwork:
    """The colours a piece was meant to have; unprinted is white.

    Attributes
    ----------
    name
        File name without its folder.
    xyz
        (h, w, 3) float32 CIE XYZ, D50, 2 degree observer, Y = 1 for unprinted white. Read-only.
    sampled_xyz
        (h', w', 3) the same of single pixels of the file, spread over it: what averaging makes of a fine dark
        line is a broad pale one, and density is not the logarithm of a mean. Read-only.
    opaque
        (h, w) bool, where the artwork puts anything at all (opacity 0.5 or more). Read-only.
    size_px
        (height, width) of the upright artwork in its file.
    printer_xyz
        The same as `xyz` for the colours the printer's profile can reach, or None without a profile.
    notes
        Plain sentences about how it was read that a user should know.
    coarse_xyz
        `xyz` averaged over areas to a long side of at most 512, prepared while the photo is being read; see
        `coarse`.
    print_size_mm
        Width and height it was to be printed at, mm, or None when nobody said.
    from_approved
        True when these are the colours of an approved piece, measured from a photo.
    blur_mm2
        Variance of the blur these colours already carry, mm² on the piece: that of the approved photo.
    parts
        What later stages need of the artwork alone, None when they are to make it themselves; see
        `prepare_artwork`.
    """

    name: str
    xyz: NDArray[np.float32]
    sampled_xyz: NDArray[np.float32]
    opaque: NDArray[np.bool_]
    size_px: tuple[int, int]
    printer_xyz: NDArray[np.float32] | None = None
    notes: tuple[str, ...] = ()
    coarse_xyz: NDArray[np.float32] | None = None
    print_size_mm: tuple[float, float] | None = None
    from_approved: bool = False
    blur_mm2: float = 0.0
    parts: "ArtworkParts | None" = None

    def coarse(self) -> NDArray[np.float32]:
        """Return `xyz` with a long side of at most 512 pixels, for what needs no more detail."""
        return coarsened(self.xyz) if self.coarse_xyz is None else self.coarse_xyz

    def at_size(self, height: int, width: int) -> NDArray[np.float32]:
        """Return `xyz` averaged over areas to (height, width, 3), from the coarse where that is enough."""
        coarse = self.coarse()
        enough = height <= coarse.shape[0] and width <= coarse.shape[1]
        light = coarse if enough else self.xyz
        return np.asarray(cv2.resize(light, (width, height), interpolation=cv2.INTER_AREA), np.float32)


ArtworkOrWait = Artwork | Callable[[], Artwork]
"""An artwork, or a function that waits for it: it is not needed before the card has been found."""


def settled(artwork: ArtworkOrWait) -> Artwork:
    """Return the artwork, waiting for it if need be."""
    return artwork if isinstance(artwork, Artwork) else artwork()


def read_artwork(
    path: Path, *, printer_profile: Path | None = None, bounds: ReadingBounds = DEFAULT_BOUNDS
) -> Artwork:
    """Read an artwork in any format `read_photo` reads, reduced to a long side of at most 720 pixels.

    Every pixel is laid on white by its opacity, mixing encoded values as drawing programs do, then decoded
    through its profile, then averaged over areas in linear light. `printer_profile` is an ICC output
    profile; see `through_printer`.

    Raises what `read_photo` raises, and ProfileUnusable or FileUnreadable for the printer's profile.
    """
    data = read_bounded(path, bounds.file_bytes)
    header = read_header(data, path.name)
    check_size(path.name, header.width, header.height, bytes_per_pixel(header), bounds=bounds)
    raster = decode(data, header, factor=1, bounds=bounds)
    coloured = settle_colours(raster, header)
    light, opacity = _reduced(coloured, raster)
    light, opacity = upright(light, header.orientation), upright(opacity, header.orientation)
    xyz = times_matrix(coloured.encoding.to_xyz_d50, light)
    sampled = np.ascontiguousarray(upright(_sampled(coloured, raster), header.orientation))
    height, width = upright_size(header.height, header.width, header.orientation)
    return Artwork(
        name=path.name,
        xyz=_locked(xyz),
        sampled_xyz=_locked(times_matrix(coloured.encoding.to_xyz_d50, sampled)),
        opaque=_locked(opacity >= OPAQUE_FROM),
        size_px=(height, width),
        printer_xyz=None if printer_profile is None else _locked(through_printer(xyz, printer_profile)),
        notes=coloured.notes + left_out_notes(header, raster),
        coarse_xyz=_locked(coarsened(xyz)),
    )


def coarsened(xyz: NDArray[np.float32]) -> NDArray[np.float32]:
    """Average XYZ (h, w, 3) over areas to a long side of at most `COARSE_LONG_SIDE_PX`."""
    tall, wide = xyz.shape[:2]
    height, width = reduced_size(tall, wide, COARSE_LONG_SIDE_PX)
    return np.asarray(cv2.resize(xyz, (width, height), interpolation=cv2.INTER_AREA), np.float32)


def reduced_size(height: int, width: int, long_side: int = ARTWORK_LONG_SIDE_PX) -> tuple[int, int]:
    """Return (height, width) with a long side of at most `long_side`; never larger than given."""
    ratio = min(1.0, long_side / max(height, width))
    return max(1, round(height * ratio)), max(1, round(width * ratio))


def _reduced(coloured: ColouredPixels, raster: Raster) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Return linear light (h, w, 3) and opacity (h, w), averaged over areas.

    Rows of a large artwork are narrowed band by band before columns are shortened, so that it is never held
    in floating point as a whole; the mean over an area is the same either way.
    """
    tall, wide = coloured.codes.shape[:2]
    height, width = reduced_size(tall, wide)
    if raster.alpha is None and tall * wide <= WHOLE_PIXELS:
        light = linear_light(coloured.encoding, coloured.codes)
        light = np.asarray(cv2.resize(light, (width, height), interpolation=cv2.INTER_AREA), np.float32)
        return light, np.ones((height, width), np.float32)
    narrow = np.empty((tall, width, 4), np.float32)
    for top in range(0, tall, _BAND_ROWS):
        rows = slice(top, min(top + _BAND_ROWS, tall))
        alpha = None if raster.alpha is None else raster.alpha[rows]
        narrow[rows, :, :3] = _resized(
            linear_light(coloured.encoding, on_white(coloured.codes[rows], alpha)), width
        )
        narrow[rows, :, 3] = 1.0 if alpha is None else _resized(alpha, width)
    whole = cv2.resize(narrow, (width, height), interpolation=cv2.INTER_AREA)
    return np.ascontiguousarray(whole[..., :3]), np.ascontiguousarray(whole[..., 3])


def _sampled(coloured: ColouredPixels, raster: Raster) -> NDArray[np.float32]:
    """Return linear light (h, w, 3) of single pixels, one in each cell of a grid over the picture."""
    tall, wide = coloured.codes.shape[:2]
    ratio = min(1.0, SAMPLED_LONG_SIDE_PX / max(tall, wide))
    rows, columns = _one_in_each(tall, round(tall * ratio)), _one_in_each(wide, round(wide * ratio))
    codes = coloured.codes.take(rows, axis=0).take(columns, axis=1)
    alpha = None if raster.alpha is None else raster.alpha.take(rows, axis=0).take(columns, axis=1)
    return linear_light(coloured.encoding, on_white(codes, alpha))


def _one_in_each(pixels: int, cells: int) -> NDArray[np.int64]:
    """Choose one of `pixels` in each of `cells`, by the golden ratio, so that no pattern is met in step."""
    cells = max(1, cells)
    within = (np.arange(cells) * 0.6180339887 + 0.5) % 1.0
    return np.asarray((np.arange(cells) + within) * pixels / cells, np.int64)


def _resized(band: NDArray[np.float32], width: int) -> NDArray[Any]:
    """Narrow a band (H, W[, C]) to `width` columns by the mean over areas."""
    return cv2.resize(band, (width, band.shape[0]), interpolation=cv2.INTER_AREA)


def _locked(array: NDArray[Any]) -> NDArray[Any]:
    """Make an array read-only."""
    array.setflags(write=False)
    return array
