"""Which part of the artwork shows while the transfer paper is still taped over the rest.

Two looks. The first compares small windows: where the photo's density follows the artwork's by any fraction,
the picture shows. The second fits a pressing to that part and asks of every place whether it looks more like
the pressed artwork or more like the paper. What shows lies beyond a straight fold; a glove, glare or the
table within it is left out because it agrees with no pressing.
"""

from dataclasses import dataclass, replace
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.pressing_model import bands_from_xyz
from dyecast_calibration.pressing_prior import PressingPrior
from dyecast_inspect.explain_surface import FIRST_LOOK, fit_size, piece_sample
from dyecast_inspect.fit_pressing import PieceSample, PressingFit, fit_pressing
from dyecast_inspect.fold_line import beyond_fold
from dyecast_inspect.intended_ink import intended_ink
from dyecast_inspect.measure_piece import MeasuredPiece
from dyecast_inspect.read_artwork import Artwork

Image = NDArray[np.float32]
Mask = NDArray[np.bool_]

WINDOW_PX: Final = 7
"""Side of the first look's windows, pixels of the fit's picture: a tenth of the piece."""

LEAST_DEVIATION: Final = 0.03
"""Standard deviation of the artwork's density in a window below which its pattern says nothing."""

CLEAR_DEVIATION: Final = 0.15
"""The same from which a window has its full say."""

EVEN_CORRELATION: Final = 0.6
"""Correlation at which a window speaks neither for nor against the artwork."""

LEAST_SLOPE: Final = 0.3
MOST_SLOPE: Final = 1.5
"""Fractions of the artwork's density a print may show. Less is the ghost that stayed in the paper, seen on
the flap or through its back; common practice, no published source."""

PRINT_NOISE: Final = 0.03
"""Residual of a place that shows the print, in cube roots of light: half more than on a bare piece, because
the flap's shadow and light lie over it."""

PAPER_NOISE: Final = 0.06
"""The same for paper: creases, shade and the ghost of the print."""

SURPRISE: Final = 6.0
"""Log odds at which a place is explained by neither print nor paper (a glove, tape, the table)."""

MOST_EVIDENCE: Final = 3.0
"""Log odds one place may add: neighbours share their errors."""

DOUBT: Final = 0.05
"""Log odds taken off every place, so that the fold lies no further out than the evidence reaches."""

STRANGE: Final = 3.0
"""Residual in units of `PRINT_NOISE`, root mean square of the bands, from which a place is something else."""

LOOKS: Final = 2
"""Fits after the first look: one to learn what the paper looks like, one to place the fold."""

MARGIN_PX: Final = 1
"""Pixels of the fit's picture beside the fold and around strange things that are left out: their edge."""


@dataclass(frozen=True, slots=True, eq=False)
class VisiblePart:
    """The part of the artwork that shows.

    Attributes
    ----------
    mask
        (h, w) bool in the fit's picture (long side 64): what is measured, edges left out.
    share
        Share of the artwork's area that shows, 0..1, edges included.
    ink_range
        Range of the artwork's optical density within it, 5th to 95th percentile of the band with the most.
    evidence
        Sum of the log odds in it; the higher, the surer that this is the artwork.
    pattern
        How well the photo follows the artwork's pattern in it, -1..1 (see `pattern_evidence`).
    fraction
        Transferred fraction of the fit to this part, to tell a print from its ghost.
    """

    mask: Mask
    share: float
    ink_range: float
    evidence: float
    pattern: float
    fraction: float

    def in_frame(self, height: int, width: int) -> Mask:
        """Return the mask at another size."""
        large = cv2.resize(self.mask.astype(np.float32), (width, height), interpolation=cv2.INTER_LINEAR)
        return np.asarray(large > 0.5)


def visible_part(piece: MeasuredPiece, artwork: Artwork, prior: PressingPrior) -> VisiblePart:
    """Find the part of the artwork that shows in a measured frame; an empty one when nothing does."""
    height, width = piece.usable.shape
    sample = piece_sample(piece, intended_ink(artwork, fit_size(height, width)), piece.usable)
    size = sample.weight.shape[::-1]
    intended = bands_from_xyz(cv2.resize(artwork.xyz, size, interpolation=cv2.INTER_AREA))
    opaque = cv2.resize(artwork.opaque.astype(np.float32), size, interpolation=cv2.INTER_AREA) > 0.5
    usable = opaque & (sample.weight > 0.0)
    follows = np.where(usable, pattern_evidence(sample.measured, intended), 0.0)
    part = beyond_fold(follows)[0] & usable
    evidence, fit = 0.0, None
    for _ in range(LOOKS):
        if part.sum() < WINDOW_PX**2:
            return VisiblePart(np.zeros_like(part), 0.0, 0.0, 0.0, 0.0, 0.0)
        fit = _fitted(sample, _inner(part), prior, fit)
        part, evidence = _showing(sample, fit, part, usable)
    fraction = 0.0 if fit is None else fit.pressing().magenta
    inner, core = _inner(part), _inner(part, WINDOW_PX // 2)
    follows = follows[core if core.any() else inner]
    return VisiblePart(
        mask=inner,
        share=float(part.sum()) / max(float(opaque.sum()), 1.0),
        ink_range=_ink_range(intended, part),
        evidence=evidence,
        pattern=float(follows.sum() / max(float(np.abs(follows).sum()), 1e-6)),
        fraction=fraction,
    )


def pattern_evidence(measured: Image, intended: Image) -> Image:
    """Tell where the photo's density follows the artwork's, (h, w): 1 = surely, -1 = surely not, 0 = no say.

    Parameters
    ----------
    measured, intended
        (h, w, 3) float32 light in the three bands, 1 = white.
    """
    seen, asked = _density(measured), _density(intended)
    covariance = _windowed(seen * asked) - _windowed(seen) * _windowed(asked)
    asked_variance = (_windowed(asked * asked) - _windowed(asked) ** 2).sum(axis=2)
    seen_variance = (_windowed(seen * seen) - _windowed(seen) ** 2).sum(axis=2)
    together = covariance.sum(axis=2)
    slope = together / np.maximum(asked_variance, 1e-6)
    correlation = together / np.sqrt(np.maximum(asked_variance * seen_variance, 1e-9))
    speaks = np.clip((correlation - EVEN_CORRELATION) / (1.0 - EVEN_CORRELATION), -1.0, 1.0)
    speaks = np.where((slope < LEAST_SLOPE) | (slope > MOST_SLOPE), -1.0, speaks)
    deviation = np.sqrt(np.maximum(asked_variance, 0.0))
    say = np.clip((deviation - LEAST_DEVIATION) / (CLEAR_DEVIATION - LEAST_DEVIATION), 0.0, 1.0)
    return np.asarray(speaks * say, np.float32)


def _density(bands: Image) -> Image:
    """Return optical density in each band."""
    return np.asarray(-np.log10(np.clip(bands, 0.01, None)), np.float32)


def _windowed(values: Image) -> Image:
    """Mean over the window around each pixel."""
    return np.asarray(cv2.boxFilter(values, -1, (WINDOW_PX, WINDOW_PX)), np.float32)


def _fitted(sample: PieceSample, part: Mask, prior: PressingPrior, before: PressingFit | None) -> PressingFit:
    """Fit a pressing to a part."""
    share = float(part.mean())
    weighed = replace(sample, weight=sample.weight * part)
    start = None if before is None else before.parameters
    lighter = replace(prior, independent=max(20.0, prior.independent * share))
    return fit_pressing(weighed, lighter, start=start, converged=FIRST_LOOK)


def _showing(sample: PieceSample, fit: PressingFit, part: Mask, usable: Mask) -> tuple[Mask, float]:
    """Ask of every place whether it looks like the print; return the part that does, and the evidence."""
    root = np.cbrt(np.maximum(sample.measured, 0.0))
    off_print = (root - np.cbrt(np.maximum(fit.predicted, 0.0))) / PRINT_NOISE
    covered = usable & ~part
    paper = np.median(root[covered], axis=0) if covered.any() else np.ones(3)
    off_paper = (root - paper) / PAPER_NOISE
    against_print = 0.5 * (off_print**2).sum(axis=2)
    against_paper = 0.5 * (off_paper**2).sum(axis=2) + 3.0 * np.log(PAPER_NOISE / PRINT_NOISE)
    odds = np.clip(np.minimum(against_paper, SURPRISE) - against_print, -MOST_EVIDENCE, MOST_EVIDENCE)
    beyond, evidence = beyond_fold(np.where(usable, odds - DOUBT, 0.0))
    strange = (np.sqrt((off_print**2).mean(axis=2)) > STRANGE).astype(np.uint8)
    strange = np.asarray(cv2.morphologyEx(strange, cv2.MORPH_OPEN, np.ones((2, 2), np.uint8)), np.uint8)
    return _largest(beyond & usable & (strange == 0)), evidence


def _largest(mask: Mask) -> Mask:
    """Return the largest connected part of a mask."""
    count, labels, statistics, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8), connectivity=4)
    if count < 2:
        return np.zeros_like(mask)
    return np.asarray(labels == 1 + int(np.argmax(statistics[1:, cv2.CC_STAT_AREA])))


def _inner(mask: Mask, margin: int = MARGIN_PX) -> Mask:
    """Leave out the edge of a mask, but not where it is the picture's own."""
    around = np.pad(mask.astype(np.uint8), margin, mode="edge")
    inner = cv2.erode(around, np.ones((2 * margin + 1,) * 2, np.uint8))
    return np.asarray(inner[margin:-margin, margin:-margin], np.bool_)


def _ink_range(intended: Image, part: Mask) -> float:
    """Return the range of the artwork's density in a part, 5th to 95th percentile of the widest band."""
    if not part.any():
        return 0.0
    low, high = np.percentile(_density(intended)[part], [5.0, 95.0], axis=0)
    return float((high - low).max())
