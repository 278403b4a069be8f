"""Writing a photo the way a phone does: JPEG with profile and orientation."""

from io import BytesIO
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from scenes.profiles import profile_bytes
from scenes.scene import Phone

ORIENTATION_TAG = 0x0112

STORING = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_90,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_270,
}
"""From the upright picture to the stored one, per EXIF orientation (CIPA DC-008, tag 0x0112)."""


def jpeg_bytes(pixels: NDArray[np.uint8], phone: Phone) -> bytes:
    """JPEG, 4:2:0, of upright encoded pixels, with the phone's ICC profile and EXIF orientation."""
    picture = Image.fromarray(pixels)
    if phone.exif_orientation in STORING:
        picture = picture.transpose(STORING[phone.exif_orientation])
    exif = Image.Exif()
    exif[ORIENTATION_TAG] = phone.exif_orientation
    stored = BytesIO()
    picture.save(
        stored,
        format="JPEG",
        quality=phone.jpeg_quality,
        subsampling=2,
        exif=exif,
        icc_profile=profile_bytes(phone.colour_profile),
    )
    return stored.getvalue()


def write_jpeg(path: Path, pixels: NDArray[np.uint8], phone: Phone) -> None:
    """Write `jpeg_bytes` to a file."""
    path.write_bytes(jpeg_bytes(pixels, phone))
