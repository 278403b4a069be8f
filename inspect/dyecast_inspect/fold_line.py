"""The straight line along which the transfer paper is folded back."""

from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

DIRECTIONS: Final = 72
"""Directions tried, every 5 degrees: over 64 pixels the line's ends are then off by a pixel and a half."""


def beyond_fold(evidence: NDArray[np.floating]) -> tuple[NDArray[np.bool_], float]:
    """Return the half plane with the most evidence, and how much it holds.

    Paper folds along a straight line, so what shows lies on one side of it. Every direction is tried with
    every place of the line (a sorted running sum); the whole picture is one of the half planes.

    Parameters
    ----------
    evidence
        (h, w) above 0 where the artwork seems to show, below 0 where something else does, any unit.

    Returns
    -------
    (h, w) bool, and the sum of the evidence in it.
    """
    orders = _orders(*evidence.shape)
    running = np.cumsum(evidence.ravel()[orders], axis=1)
    direction, last = np.unravel_index(int(np.argmax(running)), running.shape)
    best = np.zeros(evidence.size, np.bool_)
    if running[direction, last] <= 0.0:
        return best.reshape(evidence.shape), 0.0
    best[orders[direction, : last + 1]] = True
    return best.reshape(evidence.shape), float(running[direction, last])


@lru_cache(maxsize=4)
def _orders(height: int, width: int) -> NDArray[np.intp]:
    """Return for every direction the pixels from the furthest along it to the nearest, (directions, N)."""
    down, across = np.mgrid[0:height, 0:width].reshape(2, -1)
    angles = np.arange(DIRECTIONS)[:, np.newaxis] * (2.0 * np.pi / DIRECTIONS)
    return np.argsort(-(np.cos(angles) * across + np.sin(angles) * down), axis=1, kind="stable")
