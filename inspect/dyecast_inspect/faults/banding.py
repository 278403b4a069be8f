"""Lines of the print head: one dye that comes and goes along one axis of the print, at equal distances.

The share of each dye that is too much or too little is averaged along rows and along columns, in four strips
side by side. Lines of the print head run through all strips in step, which the artwork's own shapes do not:
what counts is the power of the waves that the strips have in common.
"""

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.pressing_model import DYE_ABSORPTION
from dyecast_inspect.explain_faults import banding_sentence
from dyecast_inspect.faults.likelihood import share_beyond
from dyecast_inspect.faults.mirrored import WHOLE
from dyecast_inspect.faults.print_residual import PrintResidual
from dyecast_inspect.inspection import Fault, FaultSize

DYES: Final = ("cyan", "magenta", "yellow")

STRIPS: Final = 4
"""Strips side by side that must agree."""

LONGEST_MM: Final = 11.0
"""Lines farther apart are few on a piece and could be anything."""

SHORTEST_MM: Final = 1.5
"""Lines nearer than this are not resolved."""

LEAST_AMPLITUDE: Final = 0.012
"""Amplitude of the wave, as a share of the dye: 0.03 from crest to trough begins to be seen in even areas.
Common practice, no published source."""

PEAK: Final = 45.0
"""Common power over the median power of all waves: for noise, whose power is distributed exponentially, that
is far beyond chance; the artworks of rendered scenes reach 20."""

COMMON: Final = 0.5
"""Share of the wave's power that the strips must have in common."""

LEAST_DYE: Final = 0.1
"""Amount of a dye, density units, from which its share can be told."""

MOST_SHARE: Final = 0.5
"""Departures beyond this share are marks or edges, and are cut off here."""

EDGE_SLOPE: Final = 0.03
"""Change of a dye's amount per pixel at which a place loses half its say: edges slip."""

PADDING: Final = 4
"""Times the length to which profiles are padded: waves between the grid's are found too."""

LEAST_FILLED: Final = 0.25
"""Share of places along a strip where there must be enough dye."""

Profile = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class _Wave:
    """The strongest common wave of one dye along one axis."""

    ratio: float
    amplitude: float
    period_mm: float
    common: float
    dye: int
    lines: str


def find_banding(residual: PrintResidual) -> Fault | None:
    """Return the fault of lines by the print head, or None."""
    waves = [wave for dye in range(3) for wave in _waves(residual, dye)]
    seen = [wave for wave in waves if wave.amplitude >= LEAST_AMPLITUDE and wave.common >= COMMON]
    best = max(seen, key=lambda wave: wave.ratio, default=None)
    if best is None or best.ratio < PEAK:
        return None
    confidence = share_beyond(float(np.log(best.ratio)), float(np.log(PEAK)), 0.5)
    sizes = (FaultSize("period", best.period_mm, "mm"), FaultSize("amplitude", 100.0 * best.amplitude, "%"))
    sentence = banding_sentence(best.period_mm, DYES[best.dye], best.lines)
    return Fault("banding", sentence, confidence, WHOLE, sizes)


def _waves(residual: PrintResidual, dye: int) -> list[_Wave]:
    """Return the strongest wave of one dye down the print and the one across it."""
    share, weight = _share_of_dye(residual, dye)
    found = [
        _strongest(share, weight, residual.pixels_per_mm, dye, "across the artwork"),
        _strongest(share.T, weight.T, residual.pixels_per_mm, dye, "down the artwork"),
    ]
    return [wave for wave in found if wave is not None]


def _share_of_dye(residual: PrintResidual, dye: int) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Return by what share there is more of a dye than expected, (h, w), and its weight."""
    unmixing = np.linalg.inv(DYE_ABSORPTION)[dye].astype(np.float32)
    amount = np.maximum(residual.amounts[..., dye], 0.0)
    share = (residual.density @ unmixing) / np.maximum(amount, LEAST_DYE)
    slopes = [cv2.Sobel(amount, cv2.CV_32F, *order, scale=1 / 8) for order in ((1, 0), (0, 1))]
    steep = (slopes[0] ** 2 + slopes[1] ** 2) / np.float32(EDGE_SLOPE**2)
    weight = residual.weight[..., dye] * amount**2 * (amount > LEAST_DYE) / (1.0 + steep)
    return np.clip(share, -MOST_SHARE, MOST_SHARE), np.asarray(weight, np.float32)


def _strongest(
    share: NDArray[np.float32], weight: NDArray[np.float32], pixels_per_mm: float, dye: int, lines: str
) -> _Wave | None:
    """Return the strongest wave along the rows' axis that the strips have in common."""
    begins = np.linspace(0, share.shape[1], STRIPS, endpoint=False).astype(int)
    totals = np.add.reduceat(weight, begins, axis=1, dtype=np.float64)
    sums = np.add.reduceat(share * weight, begins, axis=1, dtype=np.float64)
    broad_px = LONGEST_MM / 2 * pixels_per_mm
    profiles = [_profile(sums[:, strip], totals[:, strip], broad_px) for strip in range(STRIPS)]
    known = [profile for profile in profiles if profile is not None]
    if len(known) < STRIPS - 1:
        return None
    length = len(known[0])
    window = np.hanning(length)
    spectra = np.fft.rfft(np.stack(known) * window, PADDING * length, axis=1) / (window.sum() / 2)
    alone = (np.abs(spectra) ** 2).sum(axis=0)
    together = np.abs(spectra.sum(axis=0)) ** 2
    common = (together - alone) / (len(known) * (len(known) - 1))
    frequency = np.arange(len(common)) / (PADDING * length) * pixels_per_mm
    allowed = (frequency > 1 / LONGEST_MM) & (frequency < min(1 / SHORTEST_MM, pixels_per_mm / 3))
    if not allowed.any():
        return None
    best = int(np.argmax(np.where(allowed, common, -np.inf)))
    usual = float(np.median(alone[allowed])) / len(known) + 1e-12
    return _Wave(
        ratio=float(common[best]) / usual,
        amplitude=float(np.sqrt(max(common[best], 0.0))),
        period_mm=float(1.0 / frequency[best]),
        common=float(common[best] * len(known) / max(alone[best], 1e-12)),
        dye=dye,
        lines=lines,
    )


def _profile(summed: Profile, total: Profile, broad_px: float) -> Profile | None:
    """Return the mean share along a strip without its broad changes; None where the dye is rarely there."""
    filled = total > 0.1 * np.median(total[total > 0.0]) if (total > 0.0).any() else total > 0.0
    if filled.mean() < LEAST_FILLED:
        return None
    mean = summed / np.maximum(total, 1e-9)
    known = filled.astype(np.float32)[np.newaxis]
    broad = cv2.GaussianBlur(mean.astype(np.float32)[np.newaxis] * known, (0, 0), broad_px)
    share = np.maximum(cv2.GaussianBlur(known, (0, 0), broad_px), 1e-3)
    return np.asarray((mean - broad[0] / share[0]) * known[0], np.float64)
