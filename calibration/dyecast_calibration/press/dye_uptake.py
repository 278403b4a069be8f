"""How much dye a coating has taken up: diffusion into a sheet that is open on one side.

The paper keeps the coating's face at one concentration, the blank lets nothing through. The dye exposure is
the diffusion coefficient, integrated over time, divided by the coating's thickness squared; with it the
solutions for constant temperature hold for any history of temperature (Crank 1975, The Mathematics of
Diffusion, 2nd edition, section 7.1: a coefficient that depends on time only).
"""

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

EARLY: Final = 0.2
"""Dye exposure up to which the solution for short times is used, above which the series for long ones: two
terms of each then agree to 1e-8."""


def dye_uptake(exposure: ArrayLike) -> NDArray[np.float64]:
    """Tell the share of its saturation that a coating has taken up.

    Parameters
    ----------
    exposure
        Dye exposure, ∫D dt / thickness², zero or more, any shape.

    Returns
    -------
    Shares from 0 to 1 of the same shape: first in proportion to the square root of the exposure, then
    levelling off.

    Source: Crank 1975, equations 4.18 and 4.20, for a sheet of twice the thickness open on both sides.
    """
    amount = np.asarray(exposure, np.float64)
    late = np.maximum(amount, EARLY)
    series = [8.0 / (np.pi * n) ** 2 * np.exp(-((np.pi * n / 2.0) ** 2) * late) for n in (1, 3, 5)]
    root = np.sqrt(np.minimum(amount, EARLY))
    first_reflection = _ierfc(1.0 / np.maximum(root, 1e-3))  # which is nothing below that
    early = 2.0 * root * (1.0 / np.sqrt(np.pi) - 2.0 * first_reflection)
    return np.asarray(np.where(amount < EARLY, early, 1.0 - sum(series)))


def _ierfc(argument: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the integral of the complementary error function from `argument` to infinity."""
    from scipy.special import erfc

    return np.asarray(np.exp(-(argument**2)) / np.sqrt(np.pi) - argument * erfc(argument))
