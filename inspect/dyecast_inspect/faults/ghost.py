"""A second print: where it lies, how much dye it has, and the ink of a piece that carries it.

A ghost adds dye all over, and would make a pale piece look good. Once it is known, the pressing is explained
again as that of an artwork printed twice.
"""

from dataclasses import dataclass, replace
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.pressing_model import LEAST_LIGHT
from dyecast_inspect.faults.broad_changes import without_broad
from dyecast_inspect.faults.print_residual import PrintResidual
from dyecast_inspect.faults.robust_shares import robust_shares
from dyecast_inspect.intended_ink import IntendedInk
from dyecast_shared.single_precision import exponential, logarithm

MOST_SHARE: Final = 0.6
"""A second print of more dye than this is no ghost of the first."""

Image = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Ghost:
    """A second print: its shift to the right and down, mm, and its dye as a share 0..1 of the first's."""

    right_mm: float
    down_mm: float
    share: float


def ghost_share(residual: PrintResidual, right_mm: float, down_mm: float) -> float:
    """Return the dye of a second print with a known shift, as a share of the first's."""
    extra, less = _left_over(residual, _moved_ink(residual, right_mm, down_mm))
    return float(np.clip(extra / max(1.0 + less, 0.5), 0.0, MOST_SHARE))


def beside_ghost(residual: PrintResidual, ghost: Ghost) -> PrintResidual:
    """Return the departures of a print without those that its ghost explains."""
    moved = _moved_ink(residual, ghost.right_mm, ghost.down_mm)
    extra, less = (np.float32(share) for share in _left_over(residual, moved))
    return replace(residual, density=residual.density - extra * moved - less * residual.expected)


def _moved_ink(residual: PrintResidual, right_mm: float, down_mm: float) -> Image:
    """Return the density expected of a second print of all the dye, (h, w, 3)."""
    scale = residual.pixels_per_mm
    return _shifted(residual.expected, right_mm * scale, down_mm * scale)


def _left_over(residual: PrintResidual, moved: Image) -> tuple[float, float]:
    """Return by which shares of the moved density, and of that in place, the print departs from the fit.

    The first is the second print's. The fit put that print's mean down to the first, whose dye is therefore
    1 plus the second, negative, share of what was fitted.
    """
    scale = residual.pixels_per_mm
    judged = np.asarray(residual.weight > 0.0, np.float32)
    terms = np.stack([without_broad(each, judged, scale).ravel() for each in (moved, residual.expected)])
    values = without_broad(residual.density, residual.weight, scale).ravel()
    shares, _ = robust_shares(terms, values, residual.weight.ravel())
    extra, less = shares.tolist()
    return extra, less


def printed_twice(ink: IntendedInk, ghost: Ghost, pixels_per_mm: float) -> IntendedInk:
    """Return the ink of a first print and its ghost; `pixels_per_mm` are those of the ink's pictures."""
    right, down = ghost.right_mm * pixels_per_mm, ghost.down_mm * pixels_per_mm
    share = np.float32(ghost.share)
    amounts, mixed = (each + share * _shifted(each, right, down) for each in (ink.amounts, ink.mixed))
    return IntendedInk(amounts, mixed)


def light_of_both(bands: Image, ghost: Ghost, pixels_per_mm: float) -> Image:
    """Return the light (h, w, 3) of a first print and its ghost, from that of the first, 0..1."""
    density = -logarithm(np.maximum(bands, np.float32(LEAST_LIGHT)))
    second = _shifted(density, ghost.right_mm * pixels_per_mm, ghost.down_mm * pixels_per_mm)
    return bands * exponential(np.float32(-ghost.share) * second)


def _shifted(picture: Image, right_px: float, down_px: float) -> Image:
    """Move a picture (h, w, 3); there is no ink beyond its edge."""
    height, width = picture.shape[:2]
    move = np.array([[1.0, 0.0, right_px], [0.0, 1.0, down_px]])
    return np.asarray(cv2.warpAffine(picture, move, (width, height), flags=cv2.INTER_LINEAR), np.float32)
