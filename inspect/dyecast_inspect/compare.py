"""Compare the measured piece with the intended colours: CIEDE2000 over the piece and by main colour."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.pressing_model import xyz_from_bands
from dyecast_inspect.explain_surface import ExplainedPiece
from dyecast_inspect.inspection import ColourDifference, RegionDifference
from dyecast_inspect.main_colours import main_colours
from dyecast_shared.cielab import xyz_to_lab
from dyecast_shared.delta_e import delta_e_2000, hue_chroma_differences

NOISE_BLUR_PX: Final = 1.5
"""Both pictures are averaged over this standard deviation, in pixels of the frame, beyond being brought to
the same sharpness: sensor noise, JPEG blocks and print grain must not count as colour."""


@dataclass(frozen=True, slots=True, eq=False)
class Comparison:
    """Measured beside intended.

    Attributes
    ----------
    measured_lab, intended_lab
        (h, w, 3) float32 CIELAB, D50, 2 degree observer, equally sharp.
    intended_xyz
        (h, w, 3) float32 the intended colours in the frame, as sharp as they are, XYZ, D50.
    delta_e_map
        (h, w) float32 CIEDE2000, NaN where nothing was judged.
    summary
        Mean, median and 95th percentile over the judged part.
    """

    measured_lab: NDArray[np.float32]
    intended_lab: NDArray[np.float32]
    intended_xyz: NDArray[np.float32]
    delta_e_map: NDArray[np.float32]
    summary: ColourDifference


def compare(piece: ExplainedPiece, intended_xyz: NDArray[np.float32]) -> Comparison:
    """Compare with intended colours (any size, the artwork's aspect, XYZ D50 with Y = 1 for white)."""
    height, width = piece.judged.shape
    resized = cv2.resize(intended_xyz, (width, height), interpolation=cv2.INTER_AREA)
    intended = np.asarray(resized, np.float32)
    softened = _softened(intended, photo_blur_px(piece))
    softened, measured = _averaged((softened, xyz_from_bands(piece.bands)), piece.judged)
    intended_lab, measured_lab = _lab(softened), _lab(measured)
    difference = np.asarray(delta_e_2000(intended_lab, measured_lab), np.float32)
    difference[~piece.judged] = np.nan
    return Comparison(
        measured_lab=measured_lab,
        intended_lab=intended_lab,
        intended_xyz=intended,
        delta_e_map=difference,
        summary=summarised(difference[piece.judged]),
    )


def summarised(differences: NDArray[np.float32]) -> ColourDifference:
    """Return mean, median and 95th percentile of CIEDE2000 values."""
    return ColourDifference(
        mean=float(differences.mean()),
        median=float(np.median(differences)),
        p95=float(np.percentile(differences, 95)),
    )


def photo_blur_px(piece: ExplainedPiece) -> float:
    """Return the standard deviation by which the photo is less sharp than the artwork, in frame pixels."""
    ratio = piece.judged.shape[1] / piece.fit.agreement.shape[1]
    return float(np.sqrt(piece.fit.blur_px2) * ratio)


def compare_regions(comparison: Comparison, judged: NDArray[np.bool_]) -> tuple[RegionDifference, ...]:
    """Compare each of the artwork's main colours, the largest first; every second pixel is enough."""
    intended_lab, measured_lab = (
        np.ascontiguousarray(lab[::2, ::2]) for lab in (comparison.intended_lab, comparison.measured_lab)
    )
    colours = main_colours(intended_lab, judged[::2, ::2])
    if not colours:
        return ()
    intended, measured = (
        np.array([cv2.mean(lab, colour.mask.astype(np.uint8))[:3] for colour in colours])
        for lab in (intended_lab, measured_lab)
    )
    parts = hue_chroma_differences(intended, measured)
    differences = np.asarray(delta_e_2000(intended, measured))
    return tuple(
        RegionDifference(
            name=colour.name,
            area_share=colour.share,
            intended_lab=_triple(intended[place]),
            measured_lab=_triple(measured[place]),
            delta_lightness=float(parts.delta_lightness[place]),
            delta_chroma=float(parts.delta_chroma[place]),
            delta_hue=float(parts.delta_hue[place]),
            delta_e_2000=float(differences[place]),
        )
        for place, colour in enumerate(colours)
    )


def _triple(lab: NDArray[np.float64]) -> tuple[float, float, float]:
    """Return a Lab colour as three plain numbers."""
    return float(lab[0]), float(lab[1]), float(lab[2])


def _softened(xyz: NDArray[np.float32], blur_px: float) -> NDArray[np.float32]:
    """Make the artwork as soft as the photo."""
    return np.asarray(cv2.GaussianBlur(xyz, (0, 0), blur_px), np.float32) if blur_px > 0.2 else xyz


def _averaged(
    pictures: Sequence[NDArray[np.float32]], judged: NDArray[np.bool_]
) -> list[NDArray[np.float32]]:
    """Average pictures over the noise, in linear light, over judged pixels only; the others stay."""
    mask = judged.astype(np.float32)
    share = np.maximum(cv2.GaussianBlur(mask, (0, 0), NOISE_BLUR_PX), np.float32(1e-3))
    masks, shares = cv2.merge([mask] * 3), cv2.merge([share] * 3)
    hidden = np.asarray(~judged, np.uint8)
    averaged = []
    for picture in pictures:
        blurred = cv2.GaussianBlur(picture * masks, (0, 0), NOISE_BLUR_PX)
        light = np.asarray(blurred / shares, np.float32)
        averaged.append(np.asarray(cv2.copyTo(picture, hidden, light), np.float32))
    return averaged


def _lab(xyz: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return CIELAB, D50, 2 degree, float32."""
    return np.asarray(xyz_to_lab(xyz), np.float32)
