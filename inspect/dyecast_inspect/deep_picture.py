"""16-bit colour, which Pillow would halve to 8 bits: decoded by OpenCV after Pillow found the file sound."""

import cv2
import numpy as np
from numpy.typing import NDArray

from dyecast_inspect.picture_header import Container, PictureHeader
from dyecast_inspect.png_chunks import only_pixels
from dyecast_inspect.silent_stderr import silent_stderr


def decode_deep(data: bytes, header: PictureHeader) -> NDArray[np.uint16] | None:
    """Decode a sound PNG or TIFF to (H, W, 3 or 4) uint16 RGB or RGBA.

    Parameters
    ----------
    data
        The whole file; of a PNG only its pixel chunks are handed on.
    header
        Its size is that of the TIFF turned upright, as both libraries do by themselves.

    Returns None for a TIFF that OpenCV does not read as such; Pillow's 8 bits are left then. Raises
    ValueError for a PNG.
    """
    is_tiff = header.container is Container.TIFF
    stored = np.frombuffer(data if is_tiff else only_pixels(data), np.uint8)
    with silent_stderr():
        codes = _decoded(stored)
    channels = 4 if header.mode == "RGBA;16" else 3
    if codes is None or codes.dtype != np.uint16 or codes.ndim != 3 or codes.shape[2] != channels:
        if is_tiff:
            return None
        raise ValueError("16-bit PNG without 16-bit colour")
    order = cv2.COLOR_BGRA2RGBA if channels == 4 else cv2.COLOR_BGR2RGB
    deep = np.asarray(cv2.cvtColor(codes, order), np.uint16)
    return deep if deep.shape[:2] == (header.height, header.width) else None


def _decoded(stored: NDArray[np.uint8]) -> cv2.typing.MatLike | None:
    """Return what OpenCV makes of a file's bytes as stored, None for nothing."""
    try:
        return cv2.imdecode(stored, cv2.IMREAD_UNCHANGED)
    except cv2.error:
        return None
