"""Profiles that curves and a matrix cannot replace, converted by LittleCMS (Pillow's ImageCms).

The target is wide: ITU-R BT.2020 primaries with the sRGB curve, so that nothing a printer or a camera
makes is cut off, in 8 bits, so that rounding stays below 0.3 delta E 2000 in the mid tones.
"""

import io
import struct
from functools import cache
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from dyecast_shared.adaptation import bradford_matrix
from dyecast_shared.cielab import D50_WHITE
from dyecast_shared.encodings import D65_XY, rgb_to_xyz_matrix, srgb_encoding
from dyecast_shared.errors import ProfileUnusable
from dyecast_shared.photo import ColourEncoding

if TYPE_CHECKING:
    from PIL.ImageCms import ImageCmsProfile, ImageCmsTransform

WIDE_PRIMARIES_XY: Final = np.array([[0.708, 0.292], [0.170, 0.797], [0.131, 0.046]])
"""(3, 2) chromaticities of red, green, blue. Source: ITU-R BT.2020-2, table 3."""

_SRGB_CURVE: Final = (2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045)
"""g, a, b, c, d of a parametric curve of type 3. Source: IEC 61966-2-1, ICC.1:2022, 10.18."""

_D50_NUMBERS: Final = (0.9642, 1.0, 0.8249)

_BAND_ROWS: Final = 256
"""Rows converted at a time: keeps the copies beside a large picture small."""

_COLOUR_SPACE_FIELD: Final = slice(16, 20)
_BY_COLOUR_SPACE: Final = {b"RGB ": "RGB", b"CMYK": "CMYK", b"GRAY": "L"}
"""Where a profile names its device space (ICC.1:2022, 7.2.8), and Pillow's mode for each."""


@cache
def wide_encoding() -> ColourEncoding:
    """Return what the converted code values mean: the wide primaries, the sRGB curve, 8 bits."""
    matrix = rgb_to_xyz_matrix(WIDE_PRIMARIES_XY, D65_XY)
    adapted = bradford_matrix(matrix.sum(axis=1), D50_WHITE) @ matrix
    return ColourEncoding("wide RGB", False, srgb_encoding().decode_tables, adapted)


def matrix_profile(name: str, to_xyz_d50: NDArray[np.float64]) -> bytes:
    """Build a version 4 display profile with the sRGB curve (ICC.1:2022, 7.2, 7.3, 8.3, 10.15, 10.18).

    `to_xyz_d50` is (3, 3), linear RGB to XYZ D50 with Y = 1 for white.
    """
    text = name.encode("utf-16-be")
    curve = struct.pack(">4sIHH", b"para", 0, 3, 0) + _fixed(_SRGB_CURVE)
    tags = {
        b"desc": struct.pack(">4sIII2s2sII", b"mluc", 0, 1, 12, b"en", b"US", len(text), 28) + text,
        b"wtpt": _xyz_tag(_D50_NUMBERS),
        **{tag: _xyz_tag(to_xyz_d50[:, axis]) for axis, tag in enumerate((b"rXYZ", b"gXYZ", b"bXYZ"))},
        **dict.fromkeys((b"rTRC", b"gTRC", b"bTRC"), curve),
    }
    table, body, start = b"", b"", 132 + 12 * len(tags)
    for signature, content in tags.items():
        table += struct.pack(">4sII", signature, start + len(body), len(content))
        body += content + b"\0" * (-len(content) % 4)
    header = struct.pack(">I4sI4s4s4s", start + len(body), b"\0" * 4, 0x04400000, b"mntr", b"RGB ", b"XYZ ")
    header += struct.pack(">6H4s4x4x4x4x8xI", 2020, 1, 1, 0, 0, 0, b"acsp", 1) + _fixed(_D50_NUMBERS)
    return header.ljust(128, b"\0") + struct.pack(">I", len(tags)) + table + body


def to_wide(codes: NDArray[np.uint8], profile_bytes: bytes) -> NDArray[np.uint8]:
    """Convert (H, W, 1, 3 or 4) uint8 grey, RGB or CMYK through a profile to wide RGB, (H, W, 3) uint8.

    Media-relative colorimetric: the profile's white becomes R = G = B = 255, black is left where it is.
    CMYK counts ink, 0 = none. Raises ProfileUnusable when LittleCMS cannot use the profile for these codes.
    """
    return transform(codes, profile_bytes, wide_profile(), black_point=False)


def transform(
    codes: NDArray[np.uint8], source: bytes, target: bytes, *, black_point: bool
) -> NDArray[np.uint8]:
    """Convert codes (H, W, C) uint8 between two profiles, media-relative colorimetric.

    `black_point` maps the source's black to the target's darkest colour (black point compensation,
    ISO 18619). Raises ProfileUnusable.
    """
    from PIL import ImageCms  # loads LittleCMS, so not before it is needed

    opened, reached = open_profile(source), open_profile(target)
    modes = [_BY_COLOUR_SPACE.get(each[_COLOUR_SPACE_FIELD], "") for each in (source, target)]
    if not all(modes) or len(Image.new(modes[0], (1, 1)).getbands()) != codes.shape[2]:
        raise ProfileUnusable("The colour profile is for another kind of pixels.")
    flags = ImageCms.Flags.BLACKPOINTCOMPENSATION if black_point else ImageCms.Flags.NONE
    intent = ImageCms.Intent.RELATIVE_COLORIMETRIC
    try:
        converter = ImageCms.buildTransform(opened, reached, modes[0], modes[1], intent, flags)
        bands = [
            _converted(codes[top : top + _BAND_ROWS], converter) for top in range(0, len(codes), _BAND_ROWS)
        ]
    except (ImageCms.PyCMSError, OSError, ValueError) as failure:
        raise ProfileUnusable("The colour profile cannot be used for a conversion.") from failure
    return np.concatenate(bands)


def _converted(band: NDArray[np.uint8], converter: "ImageCmsTransform") -> NDArray[np.uint8]:
    """Convert some rows (H, W, C) uint8."""
    size = (band.shape[1], band.shape[0])
    picture = Image.frombytes(converter.input_mode, size, np.ascontiguousarray(band).tobytes())
    result = np.asarray(converter.apply(picture))
    return result.reshape(*result.shape[:2], -1)


def open_profile(profile_bytes: bytes) -> "ImageCmsProfile":
    """Open a profile with LittleCMS. Raises ProfileUnusable when it does not hold together."""
    from PIL import ImageCms  # loads LittleCMS, so not before it is needed

    try:
        return ImageCms.ImageCmsProfile(io.BytesIO(profile_bytes))
    except (ImageCms.PyCMSError, OSError, ValueError, TypeError) as failure:
        raise ProfileUnusable("The colour profile is damaged.") from failure


@cache
def wide_profile() -> bytes:
    """Return the target profile's bytes."""
    return matrix_profile("wide RGB", wide_encoding().to_xyz_d50)


def _fixed(numbers: tuple[float, ...] | NDArray[np.float64]) -> bytes:
    """Write s15Fixed16 numbers (4.6)."""
    return np.rint(np.asarray(numbers) * 65536.0).astype(">i4").tobytes()


def _xyz_tag(numbers: tuple[float, ...] | NDArray[np.float64]) -> bytes:
    """Write one XYZType tag (10.31)."""
    return struct.pack(">4sI", b"XYZ ", 0) + _fixed(numbers)
