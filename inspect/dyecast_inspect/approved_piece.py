"""Compare a piece with one that a person approved, both measured from photos."""

from dataclasses import dataclass

import cv2
import numpy as np

from dyecast_calibration.pressing_model import xyz_from_bands
from dyecast_inspect.compare import summarised
from dyecast_inspect.explain_surface import ExplainedPiece
from dyecast_inspect.inspection import ColourDifference
from dyecast_inspect.trail import MeasuredPhoto
from dyecast_shared.cielab import xyz_to_lab
from dyecast_shared.delta_e import delta_e_2000

COMPARED_LONG_SIDE_PX = 160
"""Long side of the frame in which two photographed pieces are compared: both blurs then hardly count."""


@dataclass(frozen=True, slots=True, eq=False)
class ApprovedPiece:
    """A known-good piece: the name of its photo and what was measured, in the artwork's frame."""

    photo: str
    explained: ExplainedPiece


def approved_from(measured: MeasuredPhoto) -> ApprovedPiece:
    """Return what later pieces are compared with, from the photo of a piece that a person approved."""
    return ApprovedPiece(measured.photo.name, measured.explained)


def compare_with_approved(piece: ExplainedPiece, approved: ApprovedPiece) -> ColourDifference:
    """Return CIEDE2000 between a piece and the approved one, over what can be judged on both.

    A systematic error of the card (a home printer's colours) is in both and cancels.
    """
    height, width = piece.judged.shape
    ratio = COMPARED_LONG_SIDE_PX / max(height, width)
    size = (max(8, round(width * ratio)), max(8, round(height * ratio)))
    labs, masks = [], []
    for each in (piece, approved.explained):
        bands = cv2.resize(each.bands, size, interpolation=cv2.INTER_AREA)
        labs.append(np.asarray(xyz_to_lab(xyz_from_bands(bands)), np.float32))
        masks.append(cv2.resize(each.judged.astype(np.float32), size, interpolation=cv2.INTER_AREA) > 0.9)
    both = masks[0] & masks[1]
    if not both.any():
        return ColourDifference(float("nan"), float("nan"), float("nan"))
    return summarised(np.asarray(delta_e_2000(labs[1][both], labs[0][both]), np.float32))
