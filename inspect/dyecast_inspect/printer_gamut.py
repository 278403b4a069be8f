"""What of an artwork's colours a printer can reach, by its ICC output profile."""

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from dyecast_inspect.colour_conversion import transform, wide_encoding, wide_profile
from dyecast_inspect.colour_profile import parse_profile
from dyecast_inspect.reading_bounds import read_bounded
from dyecast_shared.encodings import srgb_encode
from dyecast_shared.errors import ProfileUnusable

PROFILE_BYTES_MAX = 32 * 1024 * 1024
"""Output profiles hold 0.5 to 4 MiB; anything far beyond is no profile."""

OUTPUT_CLASS = "prtr"
"""Device class of output profiles. Source: ICC.1:2022, table 18."""


def through_printer(xyz: NDArray[np.float32], printer_profile: Path) -> NDArray[np.float32]:
    """Return the colours that come out when a printer is asked for `xyz`.

    `xyz` and the result are (h, w, 3) float32 CIE XYZ, D50, 2 degree observer, Y = 1 for unprinted white.
    To the printer: media-relative colorimetric with black point compensation, the usual setting for artwork
    (common practice, no published source). Back: media-relative colorimetric, so unprinted stays white and
    black is the black the printer makes. Both ways pass through 8-bit codes, which rounds by up to 0.5
    delta E 2000 in the shadows.

    Raises FileUnreadable, PictureTooLarge for more than 32 MiB, and ProfileUnusable when the file is no
    output profile or lacks one direction.
    """
    name = printer_profile.name
    profile_bytes = read_bounded(printer_profile, PROFILE_BYTES_MAX)
    try:
        profile = parse_profile(profile_bytes)
        if profile.device_class != OUTPUT_CLASS or profile.colour_space not in ("RGB ", "CMYK"):
            raise ProfileUnusable("This is no RGB or CMYK output profile.")
        ink = transform(_wide_codes(xyz), wide_profile(), profile_bytes, black_point=True)
        reached = transform(ink, profile_bytes, wide_profile(), black_point=False)
    except ProfileUnusable as failure:
        raise ProfileUnusable(failure.message, file=name) from failure
    light = wide_encoding().decode_tables[0][reached]
    return np.asarray(light @ wide_encoding().to_xyz_d50.T.astype(np.float32), np.float32)


def _wide_codes(xyz: NDArray[np.float32]) -> NDArray[np.uint8]:
    """Encode XYZ (h, w, 3) as wide RGB, uint8."""
    linear = xyz @ np.linalg.inv(wide_encoding().to_xyz_d50).T.astype(np.float32)
    return np.asarray(np.rint(255.0 * srgb_encode(np.clip(linear, 0.0, 1.0))), np.uint8)
