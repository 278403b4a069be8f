"""Turn a stored picture the way it was held when it was taken."""

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

TURNED_ORIENTATIONS = (5, 6, 7, 8)
"""EXIF orientations that swap width and height."""


def upright(pixels: NDArray[Any], orientation: int) -> NDArray[Any]:
    """Apply an EXIF orientation, 1 to 8, to (H, W[, C]) pixels.

    Returns the same array for 1 and one fresh contiguous copy otherwise.
    Source: EXIF 2.32 (CIPA DC-008-2019), tag 0x0112.
    """
    if orientation == 1:
        return pixels
    if orientation in (2, 3, 4):
        return cv2.flip(pixels, {2: 1, 3: -1, 4: 0}[orientation])
    if orientation == 5:
        return cv2.transpose(pixels)
    if orientation == 7:
        turned = cv2.transpose(pixels)
        return np.asarray(cv2.flip(turned, -1, turned))
    return cv2.rotate(pixels, cv2.ROTATE_90_CLOCKWISE if orientation == 6 else cv2.ROTATE_90_COUNTERCLOCKWISE)


def upright_size(height: int, width: int, orientation: int) -> tuple[int, int]:
    """Return (height, width) once `orientation`, 1 to 8, has been applied."""
    return (width, height) if orientation in TURNED_ORIENTATIONS else (height, width)
