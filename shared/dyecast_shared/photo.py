"""The photo as it travels from reading to measuring."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.floating[Any]]


@dataclass(frozen=True, slots=True, eq=False)
class ColourEncoding:
    """How code values become linear light in named primaries.

    Attributes
    ----------
    name
        What the file says it is, e.g. ``"sRGB"``, ``"Display P3"``.
    assumed
        True when the file carries no profile and sRGB was taken for granted.
    decode_tables
        (3, N) float32, N = 256 or 65536: linear light in 0..1 for each code value of R, G, B.
    to_xyz_d50
        (3, 3) float64: linear RGB to CIE XYZ, D50, 2 degree observer, Y = 1 for white.
    """

    name: str
    assumed: bool
    decode_tables: NDArray[np.float32]
    to_xyz_d50: NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Photo:
    """An upright photo at working resolution.

    Attributes
    ----------
    name
        File name without its folder.
    pixels
        (H, W, 3) uint8 or uint16, read-only, encoded R, G, B, upright (EXIF orientation applied).
    encoding
        How those code values become linear light.
    full_size
        (height, width) of the upright photo at full resolution.
    scale
        Full-resolution pixels per working pixel, >= 1. With pixel centres at whole numbers
        ``x_full = (x + 0.5) * scale - 0.5``.
    notes
        Plain sentences about how it was read that a user should know, e.g. that no profile was found.
    """

    name: str
    pixels: NDArray[np.uint8] | NDArray[np.uint16]
    encoding: ColourEncoding
    full_size: tuple[int, int]
    scale: float
    notes: tuple[str, ...] = ()

    def linear(self, pixels: NDArray[np.integer[Any]]) -> NDArray[np.float32]:
        """Decode code values of this photo, shape (..., 3), to linear light in 0..1, float32."""
        return linear_light(self.encoding, pixels)

    def to_full(self, points_px: FloatArray) -> NDArray[np.float64]:
        """Move points, shape (N, 2) as x, y, from working to full-resolution pixels."""
        return (np.asarray(points_px, dtype=np.float64) + 0.5) * self.scale - 0.5


def linear_light(encoding: ColourEncoding, codes: NDArray[np.integer[Any]]) -> NDArray[np.float32]:
    """Decode code values (..., 3), uint8 or uint16, to linear light in 0..1, float32."""
    tables = encoding.decode_tables
    if codes.dtype == np.uint8 and codes.size:
        if (tables == tables[0]).all():  # one table for all channels is looked up twice as fast
            return channel_light(encoding, codes, 0)
        return _looked_up(np.ascontiguousarray(tables.T[np.newaxis]), codes.reshape(1, -1, 3), codes.shape)
    return np.stack([tables[channel][codes[..., channel]] for channel in range(3)], axis=-1)


def channel_light(encoding: ColourEncoding, codes: NDArray[Any], channel: int) -> NDArray[np.float32]:
    """Decode code values (...), uint8 or uint16, of one channel (0 red, 1 green, 2 blue), as linear_light."""
    table = encoding.decode_tables[channel]
    if codes.dtype == np.uint8 and codes.size:
        return _looked_up(table[np.newaxis], codes.reshape(1, -1), codes.shape)
    return np.asarray(table[codes], np.float32)


def _looked_up(
    table: NDArray[np.float32], row: NDArray[np.integer[Any]], shape: tuple[int, ...]
) -> NDArray[np.float32]:
    """Look 8-bit codes up by OpenCV, ten times as fast as numpy's."""
    import cv2  # not before it is needed: commands without pictures do without it

    return np.asarray(cv2.LUT(np.ascontiguousarray(row), table), np.float32).reshape(shape)
