"""The signs a grade is made from: what the fitted explanation tells of ink and heat, and how well it knows.

Only physical quantities and their certainty, never the picture itself: a grader that sees these alone cannot
learn an artwork by heart.
"""

from dataclasses import dataclass, replace
from math import asinh, copysign, hypot, log
from typing import Final

import numpy as np

from dyecast_calibration.grading_limits import GradingLimits
from dyecast_inspect.fit_pressing import DYES
from dyecast_inspect.press_features import bleed_variance, yellowing_density
from dyecast_inspect.trail import MeasuredPhoto

PALE_INK: Final = log(0.89)
"""Log fraction from which deviations are counted: about where a piece begins to look pale. It only sets the
zero of one sign; what is pale the trained grader decides."""

LEAST_INK_UNCERTAINTY: Final = 0.03
"""Uncertainty of the log fraction that the fit's covariance does not know: its three-band model of dyes."""

MOST_DYES_APART: Final = 0.1
"""Log fraction by which one dye of a pressing may really lag behind another; made pieces stay within half of
it. A dye that seems further off tells of the photo's colours: poor light, strange inks."""

ASTRAY_SHARE: Final = 1.0 / 3.0
"""How much of an error in one dye reaches the ink, the mean of three, and so too the coating's yellowing."""

LEAST_BLEED_UNCERTAINTY_MM2: Final = 0.006
"""The same for the variance of bleed, mm²: a third of a pixel at 5 pixels a millimetre."""


@dataclass(frozen=True, slots=True)
class GradingSigns:
    """The signs of one piece; plain numbers, uncertainties are standard deviations.

    Attributes
    ----------
    ink, ink_uncertainty
        Natural logarithm of the transferred fraction, mean of the dyes; 0 = all that the artwork asks for.
    cyan_lag, yellow_lag
        Log fraction of cyan and of yellow below (negative) or above that of magenta.
    yellowing, yellowing_uncertainty
        Density of the yellowing in the short band.
    bleed, bleed_uncertainty
        Variance of the dyes' bleed, mm²; slightly negative is noise.
    """

    ink: float
    ink_uncertainty: float
    cyan_lag: float
    yellow_lag: float
    yellowing: float
    yellowing_uncertainty: float
    bleed: float
    bleed_uncertainty: float

    def less(self, ink: float, yellowing: float, bleed: float) -> "GradingSigns":
        """Return the signs with these taken off: log fraction, density and mm²."""
        return replace(
            self, ink=self.ink - ink, yellowing=self.yellowing - yellowing, bleed=self.bleed - bleed
        )

    def named(self) -> dict[str, float]:
        """Return what the grader sees: the signs, their products, and in units of their uncertainties.

        ``pale`` is the square of missing ink: much too pale is not merely more than a little pale. ``spread``
        is the bleed's standard deviation in mm. ``spread_deviations`` is an inverse hyperbolic sine, as the
        plain ratio runs to hundreds. Products tell that a sign means something else beside another: lacking
        ink on a yellow piece has faded, and yellow dye that seems to lag beside a yellow coating is how the
        fit divides an error of the photo's blue. Dyes further apart than a pressing can bring them widen the
        uncertainties: the photo's colours cannot be trusted that far.
        """
        missing, spread = min(self.ink, 0.0), max(self.bleed, 0.0) ** 0.5
        ink_uncertainty = hypot(self.ink_uncertainty, self._astray())
        yellowing_uncertainty = hypot(self.yellowing_uncertainty, self._astray())
        return {
            "ink": self.ink,
            "pale": missing**2,
            "cyan_lag": self.cyan_lag,
            "yellow_lag": self.yellow_lag,
            "yellowing": self.yellowing,
            "spread": spread,
            "ink_deviations": (self.ink - PALE_INK) / hypot(ink_uncertainty, LEAST_INK_UNCERTAINTY),
            "yellowing_deviations": self.yellowing / yellowing_uncertainty,
            "spread_deviations": asinh(
                self.bleed / hypot(self.bleed_uncertainty, LEAST_BLEED_UNCERTAINTY_MM2)
            ),
            "ink_beside_yellowing": self.ink * self.yellowing,
            "ink_beside_spread": self.ink * spread,
            "pale_beside_cyan_lag": missing * self.cyan_lag,
            "yellow_lag_beside_yellowing": self.yellow_lag * self.yellowing,
            "yellowing_beside_spread": self.yellowing * spread,
            "yellowing_root": copysign(abs(self.yellowing) ** 0.5, self.yellowing),
            "ink_uncertainty": ink_uncertainty,
            "yellowing_uncertainty": yellowing_uncertainty,
            "bleed_uncertainty_log": log(self.bleed_uncertainty),
        }

    def _astray(self) -> float:
        """Return by how much the photo's colours seem wrong, in terms of ink and of yellowing."""
        furthest = max(abs(self.cyan_lag), abs(self.yellow_lag))
        return ASTRAY_SHARE * max(0.0, furthest - MOST_DYES_APART)


def grading_signs(measured: MeasuredPhoto, limits: GradingLimits) -> GradingSigns:
    """Gather the signs of a measured piece."""
    fit = measured.explained.fit
    magenta, cyan, yellow = fit.parameters[DYES].tolist()
    yellowing, bleed = yellowing_density(measured, limits), bleed_variance(measured)
    return GradingSigns(
        ink=magenta + (cyan + yellow) / 3.0,
        ink_uncertainty=float(np.sqrt(fit.covariance[0, 0])),
        cyan_lag=cyan,
        yellow_lag=yellow,
        yellowing=yellowing.value,
        yellowing_uncertainty=yellowing.uncertainty,
        bleed=bleed.value,
        bleed_uncertainty=bleed.uncertainty,
    )
