"""Whether a thing that was found by its outline alone has the artwork's colours."""

from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.pressing_model import bands_from_xyz
from dyecast_inspect.explain_surface import ExplainedPiece
from dyecast_inspect.read_artwork import Artwork
from dyecast_inspect.register_piece import Registration
from dyecast_shared.errors import PieceNotFound

LEAST_SAME_DIRECTION: Final = 0.97
"""Cosine between measured and intended optical densities, all places and bands as one vector. Too little dye,
or too much, shortens the vector and hardly turns it (0.996 and more on made scenes); another colour or
picture turns it (0.94 and less)."""

MOST_INK: Final = 1.4
"""Measured over intended density from which a thing carries more ink than any pressing brings."""

LEAST_INK: Final = 0.3
"""The same below which it carries next to nothing, or something that is no pressing at all."""


def check_outlined(registration: Registration, explained: ExplainedPiece, artwork: Artwork) -> None:
    """Refuse a thing whose place nothing but its outline tells, when its colours are not the artwork's.

    Raises PieceNotFound. A place that the artwork's details tell has been checked by them already.
    """
    if np.isfinite(registration.correlation):
        return
    intended, measured = _densities(explained, artwork)
    product, length = float((intended * measured).sum()), float(np.linalg.norm(intended))
    direction = product / max(length * float(np.linalg.norm(measured)), 1e-9)
    if direction < LEAST_SAME_DIRECTION or not LEAST_INK < product / max(length**2, 1e-9) < MOST_INK:
        raise PieceNotFound("What lies beside the card has the artwork's shape, but not its colours.")


def _densities(
    explained: ExplainedPiece, artwork: Artwork
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Return intended and measured optical density of the judged places, each (n, 3) by band."""
    height, width = explained.fit.agreement.shape
    intended = bands_from_xyz(cv2.resize(artwork.xyz, (width, height), interpolation=cv2.INTER_AREA))
    measured = cv2.resize(explained.bands, (width, height), interpolation=cv2.INTER_AREA)
    share = cv2.resize(explained.judged.astype(np.float32), (width, height), interpolation=cv2.INTER_AREA)
    judged = share > 0.9
    return _density(intended[judged]), _density(np.asarray(measured, np.float32)[judged])


def _density(bands: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return optical density by band."""
    return np.asarray(-np.log10(np.maximum(bands, 1e-3)), np.float32)
