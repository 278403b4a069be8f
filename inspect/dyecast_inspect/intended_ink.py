"""How much of each dye the artwork asks for, small enough for the fit."""

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.pressing_model import bands_from_xyz, dye_amounts
from dyecast_inspect.read_artwork import Artwork

TIMES_FINER: Final = 2
"""The ink is known this many times finer than what the fit sees of the piece."""

MISSING_DYE: Final = 0.01
"""Amount below no dye at all, density units, at which a colour has half its say: beyond what dyes can show,
the printer puts something darker instead, which would be taken for more ink. On made pieces 0.005 to 0.02
did alike."""


@dataclass(frozen=True, slots=True, eq=False)
class IntendedInk:
    """Dye amounts the artwork asks for, (h, w, 3) float32 of cyan, magenta, yellow in density units.

    Attributes
    ----------
    amounts
        Those that belong to the mean of the light in each pixel: lines finer than a pixel stay lines.
    mixed
        The mean of the amounts themselves: what is left when dye gas has spread further than a pixel.
    """

    amounts: NDArray[np.float32]
    mixed: NDArray[np.float32]

    def printable(self) -> NDArray[np.float32]:
        """Return how far each colour can be printed at all, (h, w) in 0..1: 1 where no dye is below none."""
        cyan, magenta, yellow = np.moveaxis(self.amounts, -1, 0)
        missing = np.minimum(np.minimum(np.minimum(cyan, magenta), yellow), np.float32(0.0))
        return np.asarray(1.0 / (1.0 + (missing / np.float32(MISSING_DYE)) ** 2), np.float32)


def intended_ink(artwork: Artwork, size: tuple[int, int]) -> IntendedInk:
    """Return the ink of an artwork, `TIMES_FINER` times finer than `size` (height, width)."""
    fine = (TIMES_FINER * size[1], TIMES_FINER * size[0])
    light = cv2.resize(artwork.coarse(), fine, interpolation=cv2.INTER_AREA)
    mixed = cv2.resize(sampled_ink(artwork), fine, interpolation=cv2.INTER_AREA)
    return IntendedInk(dye_amounts(bands_from_xyz(light)), np.asarray(mixed, np.float32))


def sampled_ink(artwork: Artwork) -> NDArray[np.float32]:
    """Return the dye amounts of the artwork's samples, (h, w, 3) float32."""
    if artwork.parts is not None:
        return artwork.parts.ink
    return dye_amounts(bands_from_xyz(artwork.sampled_xyz))
