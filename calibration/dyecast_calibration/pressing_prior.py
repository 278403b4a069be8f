"""What is believed about light, glass and pressing before a piece is measured.

Every spread is one standard deviation of a Gaussian prior.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class PressingPrior:
    """Priors of `fit_pressing`, each with its reason.

    Attributes
    ----------
    fraction
        Log transferred fraction; a pale piece holds 40 %, exp(-0.9).
    dye_difference
        Log departure of cyan and of yellow from the common fraction; dyes of one ink set travel alike.
    yellowing
        Density in the short band; 0.1 is a coating gone visibly cream.
    gain, slope, curvature
        Log light at the piece over the light extrapolated from the card, per half piece for slope and
        curvature.
    band_gain, band_gain_per_delta_e
        Log gain of the long and short bands: metamerism between card and piece, lamps of two colours; more
        for every CIEDE2000 that the card's own colours are off.
    veil, veil_spread, veil_slope
        Mirrored light as a share of white, in the middle and per half piece. Glass mirrors 4 to 5 % of what
        stands opposite (Fresnel, refractive index 1.5); the card's own sheen has been taken off already.
    matt_spread
        The same spread for a surface that does not mirror: flare of the lens, sheen of the card.
    blur, blur_spread
        Variance of the photo's blur, px² of the fit's frame.
    bleed, bleed_spread
        Variance of the dyes' bleed, mm²; half a millimetre of bleed is 0.25.
    noise
        Residual of a good fit, in cube roots of light (0.02 is 2.3 in lightness).
    tail
        Residuals beyond this many times `noise` lose their say.
    independent
        Independent measurements that all pixels together are worth.
    """

    fraction: float = 0.5
    surplus: float = 0.03
    dye_difference: float = 0.06
    yellowing: float = 0.06
    impossible_yellowing: float = 0.01
    gain: float = 0.2
    slope: float = 0.15
    curvature: float = 0.05
    band_gain: float = 0.03
    band_gain_per_delta_e: float = 0.02
    veil: float = 0.012
    veil_spread: float = 0.025
    veil_slope: float = 0.006
    matt_spread: float = 0.012
    blur: float = 1.0
    blur_spread: float = 2.0
    bleed: float = 0.0
    bleed_spread: float = 0.1
    noise: float = 0.02
    tail: float = 2.0
    independent: float = 200.0

    def informed(self, *, card_error: float, bleed: tuple[float, float] | None) -> "PressingPrior":
        """Return the prior after what has been measured.

        Parameters
        ----------
        card_error
            The card's leave-one-out CIEDE2000.
        bleed
            Measured variance of the dyes' bleed and its standard uncertainty, mm², or None.
        """
        widened = replace(self, band_gain=self.band_gain + self.band_gain_per_delta_e * card_error)
        if bleed is None:
            return widened
        value, uncertainty = bleed
        return replace(widened, bleed=max(value, 0.0), bleed_spread=uncertainty)

    def vectors(self, *, glass: bool) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
        """Return mean, spread below and spread above it of the 17 parameters, in the order of `fit_pressing`.

        Two priors lean: hardly more dye can arrive than was printed, and a coating does not turn blue.
        """
        mean = np.zeros(17)
        mean[12], mean[15], mean[16] = (self.veil if glass else 0.0), self.blur, self.bleed
        below = np.array(
            [
                self.fraction,
                *[self.dye_difference] * 2,
                self.impossible_yellowing,
                self.gain,
                *[self.slope] * 2,
                *[self.curvature] * 3,
                *[self.band_gain] * 2,
                self.veil_spread if glass else self.matt_spread,
                *[self.veil_slope] * 2,
                self.blur_spread,
                self.bleed_spread,
            ]
        )
        above = below.copy()
        above[0], above[3] = self.surplus, self.yellowing
        return mean, below, above
