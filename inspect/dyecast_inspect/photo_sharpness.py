"""How blurred a photo is when there is no card to measure it on."""

import cv2
import numpy as np
from numpy.typing import NDArray

PRE_BLUR_PX = 0.7
"""Standard deviation of the blur that calms the noise first, pixels; taken off the answer again."""

REBLUR_PX = 1.5
"""Standard deviation of the blur added for comparison, pixels."""

STRONG_EDGE_LEVELS = 6.0
"""Gradient (grey levels of 255 per pixel, after the added blur) from which an edge stands well above noise
and compression: noise of 4 levels leaves 0.5 after a blur of 1.5 px."""

EDGE_SHARE_LEAST = 2e-4
"""Share of the picture's pixels that must lie on strong edges for an answer: 600 of 3 million."""

SHARPEST_PERCENTILE = 10.0
"""The sharpest tenth of the strong edges speaks for the focus; the others may be soft by nature."""


def sharpest_edge_px(grey: NDArray[np.uint8]) -> float | None:
    """Return the standard deviation of the edge spread on the sharpest strong edges, pixels, or None.

    A Gaussian edge of width s blurred by s0 keeps the share s / sqrt(s² + s0²) of its gradient, which is
    solved for s (Zhuo and Sim 2011, "Defocus map estimation from a single image", Pattern Recognition 44,
    section 3).

    Parameters
    ----------
    grey
        (H, W) uint8.
    """
    once = cv2.GaussianBlur(grey, (0, 0), PRE_BLUR_PX).astype(np.float32)
    again = np.asarray(cv2.GaussianBlur(once, (0, 0), REBLUR_PX), dtype=np.float32)
    first, second = _gradient(once), _gradient(again)
    strong = (second >= STRONG_EDGE_LEVELS) & (first > second)
    if strong.sum() < EDGE_SHARE_LEAST * grey.size:
        return None
    ratio = first[strong] / second[strong]
    width = float(np.percentile(REBLUR_PX / np.sqrt(ratio**2 - 1), SHARPEST_PERCENTILE))
    return float(np.sqrt(max(width**2 - PRE_BLUR_PX**2, 0.0)))


def _gradient(picture: NDArray[np.float32]) -> NDArray[np.float32]:
    """Length of the gradient, levels per pixel, central differences."""
    down, right = np.gradient(picture)
    return np.asarray(np.hypot(right, down), dtype=np.float32)
