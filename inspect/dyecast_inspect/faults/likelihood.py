"""How sure a figure makes us that its limit is passed."""

from math import erf, sqrt

LEAST_DOUBT = 0.01
"""No fault is more certain than this leaves: the photo is one, and the models are simple."""


def share_beyond(value: float, limit: float, uncertainty: float) -> float:
    """Return the probability in 0..1 that a figure with a normal `uncertainty` lies above `limit`."""
    share = 0.5 * (1.0 + erf((value - limit) / (uncertainty * sqrt(2.0))))
    return min(share, 1.0 - LEAST_DOUBT)
