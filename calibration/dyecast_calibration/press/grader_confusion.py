"""How a piece that came out one way is graded: the confusion of the grader, as measured.

A grade is a reading of ink and of heat, each with an error, against a limit; rarely it is simply wrong. The
numbers are those of the README, "The grader": where its curves cross, and where it tells nine in ten.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

INK_LIMIT: Final = 0.87
"""Transferred fraction at which under-pressed and good are called alike often. Source: as above."""

INK_BLUR: Final = 0.062
"""Standard deviation of the reading of ink: 0.79, 1.28 of these below the limit, is called under-pressed nine
times in ten. Source: README, "The grader"."""

HEAT_BLUR: Final = 0.35
"""Standard deviation of the logarithm of the reading of damage: a dose of 1.26 is called over-pressed nine
times in ten, the limit is met at 1.167, and yellowing grows from a dose of 1 on, so that this is a damage of
1.56. Source: README, "The grader", and the tests' scene maker."""

LAPSE: Final = 0.03
"""Share of clear pieces graded anyhow: 1 to 5 % of them were not right. Source: README, "The grader"."""

LEAST_DAMAGE: Final = 1e-6
"""Below this, damage counts as this, so that it has a logarithm."""


def grade_chances(
    transferred: NDArray[np.float64], damage: NDArray[np.float64], lapse: float = LAPSE
) -> NDArray[np.float64]:
    """Tell how likely each grade is.

    Parameters
    ----------
    transferred, damage
        Of the piece, any one shape; see `ExpectedPressing`.
    lapse
        Share of grades given whatever the piece is, a third to each.

    Returns
    -------
    (3, ...) chances of under-pressed, good and over-pressed; together 1.
    """
    over = over_chance(damage)
    under = (1.0 - over) * _normal((INK_LIMIT - transferred) / INK_BLUR)
    chances = np.stack([under, 1.0 - over - under, over])
    return np.asarray((1.0 - lapse) * chances + lapse / 3.0)


def over_chance(damage: NDArray[np.float64]) -> NDArray[np.float64]:
    """Tell how likely a damage is called over-pressed, without lapses."""
    return _normal(np.log(np.maximum(damage, LEAST_DAMAGE)) / HEAT_BLUR)


def _normal(deviations: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the cumulative normal distribution."""
    from scipy.special import ndtr

    return np.asarray(ndtr(deviations))
