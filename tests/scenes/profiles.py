"""ICC profiles of the photo files, built byte by byte: RGB matrix profiles with the sRGB curve.

Source: ICC.1:2022 (profile version 4.4), clauses 7.2 (header), 7.3 (tag table), 10.15
(multiLocalizedUnicodeType), 10.18 (parametricCurveType), 10.22 (s15Fixed16ArrayType), 10.31 (XYZType).
Clause numbers from memory.
"""

import struct
from functools import cache

import numpy as np
from numpy.typing import NDArray

from scenes.colorimetry import (
    D50_XYZ,
    D65_CHROMATICITY,
    DISPLAY_P3_PRIMARIES,
    SRGB_PRIMARIES,
    bradford,
    chromaticity_to_xyz,
    rgb_to_xyz_matrix,
)
from scenes.scene import Profile

PRIMARIES = {"sRGB": SRGB_PRIMARIES, "Display P3": DISPLAY_P3_PRIMARIES}
SRGB_CURVE = (2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045)
"""g, a, b, c, d of function type 3: Y = (aX + b)^g from d upwards, cX below (IEC 61966-2-1)."""

HEADER_BYTES = 128
TAG_ENTRY_BYTES = 12


def _fixed(values: NDArray[np.float64] | tuple[float, ...]) -> bytes:
    """Numbers as s15Fixed16: big-endian 32-bit integers of 1/65536."""
    return b"".join(struct.pack(">i", round(float(value) * 65536)) for value in np.ravel(values))


def _xyz(values: NDArray[np.float64]) -> bytes:
    return b"XYZ \0\0\0\0" + _fixed(values)


def _text(text: str) -> bytes:
    encoded = text.encode("utf-16-be")
    return (
        b"mluc\0\0\0\0" + struct.pack(">II", 1, 12) + b"enUS" + struct.pack(">II", len(encoded), 28) + encoded
    )


def _curve() -> bytes:
    return b"para\0\0\0\0" + struct.pack(">HH", 3, 0) + _fixed(SRGB_CURVE)


def _header(size: int) -> bytes:
    """Display profile, version 4.3, RGB to XYZ, relative colorimetric, fixed date so that bytes repeat."""
    date = struct.pack(">6H", 2026, 1, 1, 0, 0, 0)
    head = struct.pack(">I4sI4s4s4s", size, b"\0" * 4, 0x04300000, b"mntr", b"RGB ", b"XYZ ")
    head += date + b"acsp" + b"\0" * 24 + struct.pack(">I", 1) + _fixed(D50_XYZ)
    return head.ljust(HEADER_BYTES, b"\0")


@cache
def profile_bytes(name: Profile) -> bytes:
    """ICC profile of ``"sRGB"`` or ``"Display P3"``, D50 connection space, Bradford-adapted primaries."""
    adaptation = bradford(chromaticity_to_xyz(D65_CHROMATICITY), D50_XYZ)
    matrix = adaptation @ rgb_to_xyz_matrix(PRIMARIES[name])
    curve = _curve()
    tags = {b"desc": _text(name), b"cprt": _text("No copyright, use freely"), b"wtpt": _xyz(D50_XYZ)}
    tags |= {b"chad": b"sf32\0\0\0\0" + _fixed(adaptation)}
    tags |= {b"rXYZ": _xyz(matrix[:, 0]), b"gXYZ": _xyz(matrix[:, 1]), b"bXYZ": _xyz(matrix[:, 2])}
    tags |= {b"rTRC": curve, b"gTRC": curve, b"bTRC": curve}
    return _assemble(tags)


def _assemble(tags: dict[bytes, bytes]) -> bytes:
    """Header, tag table, and the tags' data, each on a multiple of four bytes, shared when equal."""
    start = HEADER_BYTES + 4 + TAG_ENTRY_BYTES * len(tags)
    offsets: dict[bytes, int] = {}
    body = b""
    for data in tags.values():
        if data not in offsets:
            offsets[data] = start + len(body)
            body += data.ljust(-(-len(data) // 4) * 4, b"\0")
    table = struct.pack(">I", len(tags))
    table += b"".join(struct.pack(">4sII", tag, offsets[data], len(data)) for tag, data in tags.items())
    return _header(start + len(body)) + table + body
