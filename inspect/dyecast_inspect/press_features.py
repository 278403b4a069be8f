"""The physical signs of a pressing, each with its uncertainty, from the fitted explanation."""

from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.grading_limits import GradingLimits
from dyecast_calibration.pressing_model import BANDS_TO_XYZ, bands_from_xyz
from dyecast_inspect.compare import Comparison
from dyecast_inspect.explain_surface import ExplainedPiece
from dyecast_inspect.fit_pressing import BLEED, YELLOWING
from dyecast_inspect.inspection import Estimate, PressFeatures
from dyecast_inspect.trail import MeasuredPhoto
from dyecast_shared.cielab import xyz_to_lab

TONES: Final = (("highlights", 0.05, 0.3), ("midtones", 0.3, 0.8), ("shadows", 0.8, 3.0))
"""Name and range of optical density in the artwork of each tone range; below 0.05 there is hardly any ink."""

LEAST_PIXELS: Final = 30
"""A tone range or tile with fewer judged pixels of the fit than this is not reported."""

EVENNESS_TILES: Final = 5
"""The piece is cut into this many tiles a side when its evenness is measured."""

DARK_LIGHTNESS: Final = 40.0
"""CIELAB lightness of the artwork below which a place is a dark."""


def press_features(measured: MeasuredPhoto, comparison: Comparison, limits: GradingLimits) -> PressFeatures:
    """Gather the signs."""
    piece, card_error = measured.explained, measured.correction.leave_one_out_mean
    deviation = np.sqrt(np.maximum(np.diag(piece.fit.covariance), 0.0))
    pressing = piece.fit.pressing()
    by_dye = {"cyan": pressing.cyan, "magenta": pressing.magenta, "yellow": pressing.yellow}
    fraction = float(np.mean(list(by_dye.values())))
    intended, seen, judged = _densities(piece, comparison.intended_xyz)
    return PressFeatures(
        transferred_fraction=Estimate(
            fraction,
            float(np.hypot(fraction * deviation[0], limits.fraction_uncertainty)),
            "of the intended ink",
        ),
        transferred_by_dye=by_dye,
        transferred_by_tone=_by_tone(intended, seen, judged),
        veil=Estimate(float(piece.fit.veil(1, 1).mean()), float(deviation[12]), "of perfect white"),
        coating_yellowing=_yellowing(pressing.yellowing, _yellowing_deviation(deviation, card_error, limits)),
        warmth_of_darks=_warmth(comparison, piece.judged, card_error),
        detail_loss=_detail_loss(bleed_variance(measured)),
        unevenness=_unevenness(intended, seen, judged),
    )


def yellowing_density(measured: MeasuredPhoto, limits: GradingLimits) -> Estimate:
    """Return the coating's yellowing as density in the short band, with its uncertainty."""
    fit, card_error = measured.explained.fit, measured.correction.leave_one_out_mean
    deviation = np.sqrt(np.maximum(np.diag(fit.covariance), 0.0))
    value = float(fit.parameters[YELLOWING])
    return Estimate(value, _yellowing_deviation(deviation, card_error, limits), "optical density")


def bleed_variance(measured: MeasuredPhoto) -> Estimate:
    """Return the variance of the dyes' bleed, mm²: measured on fine detail, or what the fit makes of it."""
    if measured.bleed is not None:
        return measured.bleed
    fit = measured.explained.fit
    return Estimate(float(fit.parameters[BLEED]), float(np.sqrt(fit.covariance[BLEED, BLEED])), "mm²")


def _detail_loss(variance: Estimate) -> Estimate:
    """Turn a variance in mm² into a standard deviation in mm."""
    spread = float(np.sqrt(max(variance.value, 0.0)))
    return Estimate(spread, variance.uncertainty / (2 * max(spread, np.sqrt(variance.uncertainty) / 2)), "mm")


def _yellowing_deviation(deviation: NDArray[np.float64], card_error: float, limits: GradingLimits) -> float:
    """Return the standard uncertainty of the yellowing, in density."""
    return float(np.hypot(deviation[YELLOWING], limits.yellowing_uncertainty_per_delta_e * card_error))


def _yellowing(density: float, deviation: float) -> Estimate:
    """Turn density in the short band into CIELAB b* of bare coating."""
    slope = (_coating_b(density + 0.01) - _coating_b(density)) / 0.01
    return Estimate(_coating_b(density), deviation * slope, "b*")


def _coating_b(density: float) -> float:
    """Return CIELAB b* (D50, 2 degree) of white coating with a yellowing of `density`."""
    from dyecast_calibration.pressing_model import YELLOWING_ABSORPTION

    bands = 10.0 ** (-density * YELLOWING_ABSORPTION)
    return float(np.asarray(xyz_to_lab(BANDS_TO_XYZ @ bands))[2])


def _densities(
    piece: ExplainedPiece, intended_xyz: NDArray[np.float32]
) -> tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.bool_]]:
    """Return intended and measured optical density, mean of the bands, and where it was judged, all small."""
    height, width = piece.fit.agreement.shape
    size = (width, height)
    intended = bands_from_xyz(cv2.resize(intended_xyz, size, interpolation=cv2.INTER_AREA))
    measured = cv2.resize(piece.bands, size, interpolation=cv2.INTER_AREA)
    judged = cv2.resize(piece.judged.astype(np.float32), size, interpolation=cv2.INTER_AREA) > 0.9
    return _density(intended), _density(np.asarray(measured, np.float32)), judged


def _density(bands: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return optical density, mean of the bands."""
    return np.asarray(-np.log10(np.maximum(bands, np.float32(1e-3))).mean(axis=2), np.float32)


def _by_tone(
    intended: NDArray[np.float32], measured: NDArray[np.float32], judged: NDArray[np.bool_]
) -> dict[str, float]:
    """Return measured over intended density in each tone range the artwork has."""
    shares = {}
    for name, low, high in TONES:
        place = judged & (intended >= low) & (intended < high)
        if place.sum() >= LEAST_PIXELS:
            shares[name] = float(measured[place].sum() / intended[place].sum())
    return shares


def _unevenness(
    intended: NDArray[np.float32], measured: NDArray[np.float32], judged: NDArray[np.bool_]
) -> float:
    """Return the spread of measured over intended density between tiles, robust standard deviation."""
    height, width = judged.shape
    shares = []
    for rows in np.array_split(np.arange(height), EVENNESS_TILES):
        for columns in np.array_split(np.arange(width), EVENNESS_TILES):
            tile = np.ix_(rows, columns)
            place = judged[tile] & (intended[tile] > TONES[0][1])
            if place.sum() >= LEAST_PIXELS:
                shares.append(measured[tile][place].sum() / intended[tile][place].sum())
    if len(shares) < 4:
        return 0.0
    return float(1.4826 * np.median(np.abs(shares - np.median(shares))))


def _warmth(comparison: Comparison, judged: NDArray[np.bool_], card_error: float) -> Estimate:
    """Return how much yellower the darks are than the artwork asks, in CIELAB b*."""
    darks = judged & (comparison.intended_lab[..., 0] < DARK_LIGHTNESS)
    if darks.sum() < LEAST_PIXELS:
        return Estimate(float("nan"), float("nan"), "b*")
    shift = comparison.measured_lab[..., 2][darks] - comparison.intended_lab[..., 2][darks]
    return Estimate(float(np.median(shift)), card_error, "b*")
