"""The look of this shop's approved pieces: how each colour of an artwork comes out when all is well here.

Every printer, ink and blank departs from the artwork in its own way. Approved pieces tell how, colour by
colour: the expected offset of a colour is the mean of the offsets seen, near colours first (Nadaraya 1964,
Watson 1964). A systematic error of a home-printed card is in those offsets too, and so cancels.
"""

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.shop_profile import APPROVED, ShopProfile
from dyecast_inspect.compare import Comparison, summarised
from dyecast_inspect.inspection import ColourDifference
from dyecast_shared.delta_e import delta_e_2000

KERNEL_DELTA_E: Final = 20.0
"""Distance in CIELAB at which a colour's offset still tells 60 % of another's; main colours are 20 to 40
apart."""

NOTHING_WEIGHT: Final = 0.3
"""Weight of "no offset" beside the colours seen: far from all of them a colour is expected as it is."""

COMPARED_LONG_SIDE_PX: Final = 160
"""Long side of the frame in which a piece is compared with the approved look: it has no detail of its own."""


@dataclass(frozen=True, slots=True, eq=False)
class ApprovedLook:
    """Offsets of approved pieces: `intended` and `offset`, (n, 3) CIELAB, D50, 2 degree; n >= 1."""

    intended: NDArray[np.float64]
    offset: NDArray[np.float64]

    def expected_lab(self, intended_lab: NDArray[np.float32]) -> NDArray[np.float32]:
        """Return CIELAB of colours (..., 3) as the shop's good pieces show them."""
        flat = np.asarray(intended_lab, np.float32).reshape(-1, 3)
        square = ((flat[:, np.newaxis] - self.intended.astype(np.float32)) ** 2).sum(axis=2)
        weight = np.exp(-square / (2 * KERNEL_DELTA_E**2))
        offset = (
            weight @ self.offset.astype(np.float32) / (weight.sum(axis=1, keepdims=True) + NOTHING_WEIGHT)
        )
        return np.asarray((flat + offset).reshape(np.shape(intended_lab)), np.float32)

    @property
    def spread(self) -> float:
        """How far the approved pieces differ among themselves: mean distance in CIELAB from the look."""
        seen = self.intended + self.offset
        return float(
            np.linalg.norm(seen - self.expected_lab(self.intended.astype(np.float32)), axis=1).mean()
        )


def approved_look(profile: ShopProfile) -> ApprovedLook | None:
    """Return the look of a shop's approved pieces, None when there are none."""
    pairs = [pair for piece in profile.of_kind(APPROVED) for pair in piece.colours]
    if not pairs:
        return None
    intended = np.array([pair.intended_lab for pair in pairs], np.float64)
    return ApprovedLook(intended, np.array([pair.measured_lab for pair in pairs], np.float64) - intended)


def compare_with_look(
    comparison: Comparison, judged: NDArray[np.bool_], look: ApprovedLook
) -> ColourDifference:
    """Return CIEDE2000 between a piece and the artwork as this shop's good pieces show it."""
    height, width = judged.shape
    ratio = min(1.0, COMPARED_LONG_SIDE_PX / max(height, width))
    size = (max(8, round(width * ratio)), max(8, round(height * ratio)))
    intended, seen = (
        cv2.resize(lab, size, interpolation=cv2.INTER_AREA)
        for lab in (comparison.intended_lab, comparison.measured_lab)
    )
    whole = cv2.resize(judged.astype(np.float32), size, interpolation=cv2.INTER_AREA) > 0.9
    if not whole.any():
        return ColourDifference(float("nan"), float("nan"), float("nan"))
    expected = look.expected_lab(np.asarray(intended[whole], np.float32))
    return summarised(np.asarray(delta_e_2000(seen[whole], expected), np.float32))
