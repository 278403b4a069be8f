"""How much of each known picture a measured one holds, whatever else spoils places of it."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

ROUNDS: Final = 2
"""Rounds of weighting by what the round before left over."""

DEVIATIONS: Final = 3.0
"""Robust deviations from which a place has half its say."""

SAMPLED_EVERY: Final = 7
"""One place in so many is enough for a median of ten thousands."""

RIDGE: Final = 1e-6
"""Keeps pictures that are empty or alike solvable."""

Array = NDArray[np.float32]


def robust_shares(terms: Array, values: Array, weights: Array) -> tuple[Array, float]:
    """Fit values (n,) by shares of terms (k, n), weighted by (n,), in which some weight is above 0.

    Returns the shares (k,) and the departure from which a place had half its say, in the values' unit:
    iterated least squares with Cauchy's weights (Holland and Welsch 1977).
    """
    some = np.flatnonzero(weights)[::SAMPLED_EVERY]
    robust, shares, limit = weights, np.zeros(len(terms), np.float32), 1.0
    for _ in range(ROUNDS):
        weighted = terms * robust
        normal = weighted @ terms.T + np.float32(RIDGE) * np.eye(len(terms), dtype=np.float32)
        shares = np.asarray(np.linalg.solve(normal, weighted @ values), np.float32)
        left = values - shares @ terms
        limit = DEVIATIONS * 1.4826 * float(np.median(np.abs(left[some]))) + 1e-6
        robust = np.asarray(weights / (1.0 + (left / np.float32(limit)) ** 2), np.float32)
    return shares, limit
