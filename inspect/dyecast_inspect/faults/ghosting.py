"""The paper moved while it was hot: a faint second print, shifted by the same way everywhere.

What the fitted pressing leaves over is freed from all that a slip, a blur or a wrong share of ink would leave
at the artwork's own edges; what remains is held against the artwork's ink shifted every way (correlation in
the frequency domain, whitened by the artwork's own spectrum, so that an echo becomes a peak: the idea of
Bogert, Healy and Tukey's cepstrum, 1963, and of Wiener's filter).
"""

from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from dyecast_inspect.explain_faults import ghosting_sentence
from dyecast_inspect.faults.likelihood import share_beyond
from dyecast_inspect.faults.mirrored import WHOLE
from dyecast_inspect.faults.print_residual import PrintResidual
from dyecast_inspect.inspection import Fault, FaultSize

NEAREST_MM: Final = 1.0
"""A ghost nearer than this cannot be told from a blur."""

FARTHEST_MM: Final = 6.0
"""Paper that moved farther than this was laid anew."""

BROAD_MM: Final = 2.0
"""Changes broader than this, standard deviation, are left to light and pressing."""

PEAK: Final = 10.0
"""Height of the echo in robust deviations of all other shifts: of some 600 independent ones the highest
reaches 3.5 by chance, and 9 in photos of artworks that repeat themselves; a ghost of a fifth of the dye
reaches 20 and more."""

WHITENING: Final = 0.3
"""Power below which a frequency loses its say, as a share of the artwork's 90th percentile."""

ROUNDS: Final = 2
"""Rounds of robust weighting when the artwork's own edges are taken off."""

Image = NDArray[np.float32]


def find_ghosting(residual: PrintResidual) -> Fault | None:
    """Return the fault of a second, shifted print, or None."""
    weight = residual.weight.sum(axis=2)
    if not (weight > 0.0).any():
        return None
    extra = (residual.density * residual.weight).sum(axis=2) / np.maximum(weight, 1e-6)
    broad_px = BROAD_MM * residual.pixels_per_mm
    ink = _without_broad(residual.expected.mean(axis=2), (weight > 0.0).astype(np.float32), broad_px)
    left = _without_own_edges(_without_broad(extra, weight, broad_px), weight, ink)
    echo, noise = _echo(left, ink, residual.pixels_per_mm)
    height, shift_x, shift_y = _highest(echo / noise, residual.pixels_per_mm)
    distance = float(np.hypot(shift_x, shift_y))
    confidence = share_beyond(height, PEAK, 1.0)
    if confidence < 0.5:
        return None
    direction = float(np.degrees(np.arctan2(shift_y, shift_x))) % 360.0
    sizes = (
        FaultSize("distance", distance, "mm"),
        FaultSize("direction", direction, "° clockwise from the right"),
    )
    return Fault("ghosting", ghosting_sentence(distance, direction), confidence, WHOLE, sizes)


def _without_broad(values: Image, weight: Image, deviation_px: float) -> Image:
    """Take off the weighted local mean."""
    mean = cv2.GaussianBlur(values * weight, (0, 0), deviation_px)
    share = cv2.GaussianBlur(weight, (0, 0), deviation_px)
    return np.asarray(values - mean / np.maximum(share, 1e-4), np.float32)


def _without_own_edges(extra: Image, weight: Image, ink: Image) -> Image:
    """Take off, robustly, what share of ink, slip and blur leave at the artwork's edges; weighted."""
    soft = cv2.GaussianBlur(ink, (0, 0), 0.7)
    across, down = (cv2.Sobel(soft, cv2.CV_32F, *order, scale=1 / 8) for order in ((1, 0), (0, 1)))
    curved = [
        cv2.Sobel(slope, cv2.CV_32F, *order, scale=1 / 8)
        for slope, order in ((across, (1, 0)), (down, (0, 1)), (across, (0, 1)))
    ]
    pictures = [ink, across, down, *curved, cv2.Laplacian(ink, cv2.CV_32F), ink * np.abs(ink)]
    terms = np.stack([picture.ravel() for picture in pictures], axis=1)
    values, weights = extra.ravel(), weight.ravel()
    robust, left = weights, values
    for _ in range(ROUNDS):
        weighted = terms * robust[:, np.newaxis]
        normal = weighted.T @ terms + np.float32(1e-6) * np.eye(terms.shape[1], dtype=np.float32)
        left = values - terms @ np.linalg.solve(normal, weighted.T @ values)
        limit = 3 * 1.4826 * np.median(np.abs(left[weights > 0.0])) + 1e-6
        robust = weights / (1.0 + (left / limit) ** 2)
    return np.asarray((left * weights / (1.0 + (left / (2 * limit)) ** 2)).reshape(extra.shape), np.float32)


def _echo(left: Image, ink: Image, pixels_per_mm: float) -> tuple[Image, float]:
    """Return how strongly each shift of the ink is found, and the noise of that.

    The first is (2 k + 1, 2 k + 1) with no shift in the middle. The noise is the robust deviation over all
    shifts up to twice the farthest.
    """
    reach = int(np.ceil(2 * FARTHEST_MM * pixels_per_mm))
    rows, columns = (cv2.getOptimalDFTSize(side + reach) for side in left.shape)
    found = np.fft.rfft2(left, (rows, columns))
    meant = np.fft.rfft2(ink, (rows, columns))
    power = np.abs(meant) ** 2
    floor = WHITENING * np.percentile(power, 90) + 1e-9
    echo = np.fft.irfft2(found * np.conj(meant) / (power + floor), (rows, columns))
    reach = min(reach, rows // 2 - 1, columns // 2 - 1)
    echo = np.roll(echo, (reach, reach), axis=(0, 1))[: 2 * reach + 1, : 2 * reach + 1]
    smooth = cv2.GaussianBlur(echo.astype(np.float32), (0, 0), 0.7)
    away = _distances(reach, pixels_per_mm)[0] > NEAREST_MM
    middle = float(np.median(smooth[away]))
    return smooth - np.float32(middle), float(1.4826 * np.median(np.abs(smooth[away] - middle))) + 1e-12


def _distances(reach: int, pixels_per_mm: float) -> tuple[Image, Image, Image]:
    """Return length, x and y of every shift, mm."""
    steps = np.arange(-reach, reach + 1, dtype=np.float32) / np.float32(pixels_per_mm)
    x, y = np.meshgrid(steps, steps)
    return np.hypot(x, y), x, y


def _highest(echo: Image, pixels_per_mm: float) -> tuple[float, float, float]:
    """Return height and shift (x, y in mm) of the highest echo; one on both sides alike is no ghost."""
    distance, x, y = _distances(echo.shape[0] // 2, pixels_per_mm)
    one_sided = echo - np.maximum(np.flip(echo), 0.0)
    allowed = np.where((distance > NEAREST_MM) & (distance < FARTHEST_MM), one_sided, -np.inf)
    best = np.unravel_index(int(np.argmax(allowed)), allowed.shape)
    return float(allowed[best]), float(x[best]), float(y[best])
