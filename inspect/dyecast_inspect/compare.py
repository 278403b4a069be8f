"""Compare the measured piece with the intended colours: CIEDE2000 over the piece and by main colour."""

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
    delta_e_map
        (h, w) float32 CIEDE2000, NaN where nothing was judged.
    summary
        Mean, median and 95th percentile over the judged part.
    """

    measured_lab: NDArray[np.float32]
    intended_lab: NDArray[np.float32]
    delta_e_map: NDArray[np.float32]
    summary: ColourDifference


def compare(piece: ExplainedPiece, intended_xyz: NDArray[np.float32]) -> Comparison:
    """Compare with intended colours (any size, the artwork's aspect, XYZ D50 with Y = 1 for white)."""
    height, width = piece.judged.shape
    intended = cv2.resize(intended_xyz, (width, height), interpolation=cv2.INTER_AREA)
    intended = _softened(np.asarray(intended, np.float32), photo_blur_px(piece))
    measured_lab = _lab(_averaged(xyz_from_bands(piece.bands), piece.judged))
    intended_lab = _lab(_averaged(intended, piece.judged))
    difference = np.asarray(delta_e_2000(intended_lab, measured_lab), np.float32)
    return Comparison(
        measured_lab=measured_lab,
        intended_lab=intended_lab,
        delta_e_map=np.where(piece.judged, difference, np.float32(np.nan)).astype(np.float32),
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
    regions = []
    intended_lab, measured_lab = comparison.intended_lab[::2, ::2], comparison.measured_lab[::2, ::2]
    for colour in main_colours(intended_lab, judged[::2, ::2]):
        intended = intended_lab[colour.mask].mean(axis=0).astype(np.float64)
        measured = measured_lab[colour.mask].mean(axis=0).astype(np.float64)
        parts = hue_chroma_differences(intended, measured)
        regions.append(
            RegionDifference(
                name=colour.name,
                area_share=colour.share,
                intended_lab=_triple(intended),
                measured_lab=_triple(measured),
                delta_lightness=float(parts.delta_lightness),
                delta_chroma=float(parts.delta_chroma),
                delta_hue=float(parts.delta_hue),
                delta_e_2000=float(delta_e_2000(intended, measured)),
            )
        )
    return tuple(regions)


def _triple(lab: NDArray[np.float64]) -> tuple[float, float, float]:
    """Return a Lab colour as three plain numbers."""
    return float(lab[0]), float(lab[1]), float(lab[2])


def _softened(xyz: NDArray[np.float32], blur_px: float) -> NDArray[np.float32]:
    """Make the artwork as soft as the photo."""
    return np.asarray(cv2.GaussianBlur(xyz, (0, 0), blur_px), np.float32) if blur_px > 0.2 else xyz


def _averaged(xyz: NDArray[np.float32], judged: NDArray[np.bool_]) -> NDArray[np.float32]:
    """Average over the noise in linear light, over judged pixels only."""
    mask = judged.astype(np.float32)
    light = cv2.GaussianBlur(xyz * mask[..., np.newaxis], (0, 0), NOISE_BLUR_PX)
    share = cv2.GaussianBlur(mask, (0, 0), NOISE_BLUR_PX)
    averaged = light / np.maximum(share, 1e-3)[..., np.newaxis]
    return np.where(judged[..., np.newaxis], averaged, xyz).astype(np.float32)


def _lab(xyz: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return CIELAB, D50, 2 degree, float32."""
    return np.asarray(xyz_to_lab(xyz), np.float32)
