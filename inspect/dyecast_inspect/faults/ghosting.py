"""The paper moved while it was hot: a faint second print, shifted by the same way everywhere.

What the fitted pressing leaves over in each band of light is freed from all that a slip, a blur or a wrong
share of ink would leave at the artwork's own edges; what remains is held against the artwork's ink shifted
every way: correlation in the frequency domain, all bands together, since a ghost has the artwork's colours.
Each frequency counts by how far the artwork stands above what else is left over there, and the artwork's own
spectrum is divided out, so that an echo becomes a peak (Wiener's filter; the matched filter in coloured
noise, North 1943; the idea of an echo as a peak from Bogert, Healy and Tukey's cepstrum, 1963).
"""

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from dyecast_inspect.explain_faults import ghosting_sentence
from dyecast_inspect.faults.broad_changes import without_broad
from dyecast_inspect.faults.ghost import Ghost, ghost_share
from dyecast_inspect.faults.likelihood import share_beyond
from dyecast_inspect.faults.mirrored import WHOLE
from dyecast_inspect.faults.print_residual import PrintResidual
from dyecast_inspect.faults.robust_shares import robust_shares
from dyecast_inspect.inspection import Fault, FaultSize

NEAREST_MM: Final = 1.0
"""A ghost nearer than this cannot be told from a blur."""

FARTHEST_MM: Final = 6.0
"""Paper that moved farther than this was laid anew."""

PEAK: Final = 10.0
"""Height of the echo in robust deviations of all other shifts: of some 600 independent ones the highest
reaches 3.5 by chance, and 9 to 10 where the artwork repeats itself or its edges fit badly; a ghost of a fifth
of the dye reaches 20 and more."""

WHITENING: Final = 0.3
"""Power over noise, as a share of its mean, below which a frequency loses its say."""

RINGS: Final = 40
"""Rings of equal width in frequency over which the power of what is left is averaged."""

Image = NDArray[np.float32]


@dataclass(frozen=True, slots=True, eq=False)
class _Band:
    """What is left in one band of light, weighted, and the ink that a ghost would repeat; both (h, w)."""

    left: Image
    ink: Image


@dataclass(frozen=True, slots=True)
class GhostFinding:
    """The fault as told, and the second print that makes it."""

    fault: Fault
    ghost: Ghost


def find_ghosting(residual: PrintResidual) -> GhostFinding | None:
    """Return the second, shifted print and its fault, or None."""
    if not (residual.weight > 0.0).any():
        return None
    echo, noise = _echo(_bands(residual), residual.pixels_per_mm)
    height, shift_x, shift_y = _highest(echo / noise, residual.pixels_per_mm)
    distance = float(np.hypot(shift_x, shift_y))
    confidence = share_beyond(height, PEAK, 1.0)
    if confidence < 0.5:
        return None
    direction = float(np.degrees(np.arctan2(shift_y, shift_x))) % 360.0
    share = ghost_share(residual, shift_x, shift_y)
    sizes = (
        FaultSize("distance", distance, "mm"),
        FaultSize("direction", direction, "° clockwise from the right"),
        FaultSize("dye of the second print", 100.0 * share, "% of the first's"),
    )
    fault = Fault("ghosting", ghosting_sentence(distance, direction), confidence, WHOLE, sizes)
    return GhostFinding(fault, Ghost(shift_x, shift_y, share))


def _bands(residual: PrintResidual) -> list[_Band]:
    """Free every band from broad changes and from what the artwork's own edges leave."""
    judged = np.asarray(residual.weight > 0.0, np.float32)
    inks = without_broad(residual.expected, judged, residual.pixels_per_mm)
    extras = without_broad(residual.density, residual.weight, residual.pixels_per_mm)
    planes = [np.moveaxis(picture, 2, 0).copy() for picture in (extras, residual.weight, inks)]
    return [_Band(_without_own_edges(*band), band[2]) for band in zip(*planes, strict=True)]


def _without_own_edges(extra: Image, weight: Image, ink: Image) -> Image:
    """Take off, robustly, what share of ink, slip and blur leave at the artwork's edges; weighted."""
    terms, values, weights = _edge_terms(ink), extra.ravel(), weight.ravel()
    shares, limit = robust_shares(terms, values, weights)
    left = values - shares @ terms
    return np.asarray((left * weights / (1.0 + (left / (2.0 * limit)) ** 2)).reshape(extra.shape), np.float32)


def _edge_terms(ink: Image) -> Image:
    """Return the pictures, (terms, h w), of more ink, a slip either way, a blur, and a blur in light.

    A blur works on light, whose logarithm the density is: beside the second derivatives it leaves the square
    of the slope.
    """
    soft = np.asarray(cv2.GaussianBlur(ink, (0, 0), 0.7), np.float32)
    across, down = (_slope(soft, *order) for order in ((1, 0), (0, 1)))
    curved = (_slope(across, 1, 0), _slope(down, 0, 1), _slope(across, 0, 1), cv2.Laplacian(ink, cv2.CV_32F))
    pictures = (ink, across, down, *curved, ink * np.abs(ink), across * across + down * down)
    return np.stack([np.asarray(picture, np.float32).ravel() for picture in pictures])


def _slope(picture: Image, across: int, down: int) -> Image:
    """Return the change per pixel."""
    return np.asarray(cv2.Sobel(picture, cv2.CV_32F, across, down, scale=1 / 8), np.float32)


def _echo(bands: list[_Band], pixels_per_mm: float) -> tuple[Image, float]:
    """Return how strongly each shift of the ink is found, and the noise of that.

    The first is (2 k + 1, 2 k + 1) with no shift in the middle. The noise is the robust deviation over all
    shifts up to twice the farthest.
    """
    reach = int(np.ceil(2 * FARTHEST_MM * pixels_per_mm))
    rows, columns = (cv2.getOptimalDFTSize(side + reach) for side in bands[0].ink.shape)
    whitened = np.fft.irfft2(_whitened(bands, rows, columns), (rows, columns))
    reach = min(reach, rows // 2 - 1, columns // 2 - 1)
    echo = np.roll(whitened, (reach, reach), axis=(0, 1))[: 2 * reach + 1, : 2 * reach + 1]
    smooth = cv2.GaussianBlur(echo.astype(np.float32), (0, 0), 0.7)
    away = _distances(reach, pixels_per_mm)[0] > NEAREST_MM
    middle = float(np.median(smooth[away]))
    return smooth - np.float32(middle), float(1.4826 * np.median(np.abs(smooth[away] - middle))) + 1e-12


def _whitened(bands: list[_Band], rows: int, columns: int) -> NDArray[np.complex64]:
    """Return the echo's spectrum: what is left against the ink, over the noise and the ink's own power."""
    rings = _rings(rows, columns)
    in_ring = np.maximum(np.bincount(rings.ravel(), minlength=RINGS), 1)
    product = np.zeros(rings.shape, np.complex64)
    power = np.zeros(rings.shape, np.float32)
    for band in bands:
        found, meant = (_spectrum(picture, rows, columns) for picture in (band.left, band.ink))
        noise = np.bincount(rings.ravel(), _power(found).ravel(), RINGS) / in_ring + 1e-12
        less = np.asarray(1.0 / noise, np.float32)[rings]
        product += less * found * np.conj(meant)
        power += less * _power(meant)
    return np.asarray(product / (power + WHITENING * power.mean()), np.complex64)


def _rings(rows: int, columns: int) -> NDArray[np.intp]:
    """Return the ring of every frequency of a real transform."""
    frequency = np.hypot(np.fft.fftfreq(rows)[:, np.newaxis], np.fft.rfftfreq(columns))
    return np.asarray(frequency * (RINGS / np.sqrt(0.5) * (1.0 - 1e-9)), np.intp)


def _spectrum(picture: Image, rows: int, columns: int) -> NDArray[np.complex64]:
    """Return the real transform of a picture padded with nothing."""
    return np.asarray(np.fft.rfft2(picture, (rows, columns)), np.complex64)


def _power(spectrum: NDArray[np.complex64]) -> Image:
    return spectrum.real**2 + spectrum.imag**2


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
