"""Changes too broad to be a fault of the print: they belong to light, glass or pressing."""

from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

BROAD_MM: Final = 3.0
"""Changes broader than this, standard deviation, are left to light and pressing."""

BROAD_CELLS: Final = 4.0
"""Standard deviation of broad changes in cells of the small map on which they are taken: it loses nothing."""

Image = NDArray[np.float32]


def without_broad(values: Image, weight: Image, pixels_per_mm: float) -> Image:
    """Take the weighted local mean off a picture (h, w, 3); a small map is enough for the mean."""
    height, width = values.shape[:2]
    reduced = BROAD_CELLS / (BROAD_MM * pixels_per_mm)
    size = (max(round(width * reduced), 1), max(round(height * reduced), 1))
    mean, share = (
        cv2.GaussianBlur(cv2.resize(part, size, interpolation=cv2.INTER_AREA), (0, 0), BROAD_CELLS)
        for part in (values * weight, weight)
    )
    broad = cv2.resize(mean / np.maximum(share, 1e-4), (width, height), interpolation=cv2.INTER_LINEAR)
    return np.asarray(values - broad, np.float32)
