"""The shape of a piece's face in the artwork's frame: rectangle, rounded rectangle or ellipse."""

from collections.abc import Callable
from functools import partial
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

CORNER_RADII: Final = (0.0, 0.06, 0.10, 0.15, 0.22)
"""Corner radii told apart, as a share of the short side, before the ellipse: coasters, tiles, panels."""

CORNER_AGREEMENT: Final = 0.6
"""Agreement in the corners, relative to the middle, below which what lies there is not the piece."""

Shape = Callable[[int, int], NDArray[np.bool_]]


def find_outline(
    agreement: NDArray[np.float32], seen: NDArray[np.bool_], height: int, width: int
) -> NDArray[np.bool_]:
    """Return the largest face whose corners agree with the artwork, drawn at (height, width).

    Parameters
    ----------
    agreement
        (h, w) 0..1, how well each place agrees with a pressing of the artwork.
    seen
        (h, w) bool, where there is anything to say.
    height, width
        Size of the mask to draw.
    """
    shapes: list[Shape] = [partial(rounded, radius=radius) for radius in CORNER_RADII]
    shapes.append(ellipse)
    rows, columns = agreement.shape
    middle = seen & ellipse(rows, columns)
    if not middle.any():
        return shapes[0](height, width)
    enough = CORNER_AGREEMENT * float(np.median(agreement[middle]))
    for shape, rounder in pairwise(shapes):
        between = seen & shape(rows, columns) & ~rounder(rows, columns)
        if not between.any() or float(np.median(agreement[between])) > enough:
            return shape(height, width)
    return ellipse(height, width)


def rounded(height: int, width: int, radius: float) -> NDArray[np.bool_]:
    """Return a rectangle (height, width) with corners of `radius`, a share of the short side."""
    reach = radius * min(height, width)
    across = np.maximum(np.abs(np.arange(width) + 0.5 - width / 2) - (width / 2 - reach), 0.0)
    down = np.maximum(np.abs(np.arange(height) + 0.5 - height / 2) - (height / 2 - reach), 0.0)
    return np.asarray(down[:, np.newaxis] ** 2 + across**2 <= (reach + 1e-9) ** 2)


def ellipse(height: int, width: int) -> NDArray[np.bool_]:
    """Return the ellipse inscribed in (height, width)."""
    across = (np.arange(width) + 0.5) / width * 2 - 1
    down = (np.arange(height) + 0.5) / height * 2 - 1
    return np.asarray(down[:, np.newaxis] ** 2 + across**2 <= 1.0)
