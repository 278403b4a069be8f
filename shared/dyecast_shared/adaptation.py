"""Chromatic adaptation: what a colour under one white becomes under another."""

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dyecast_shared.cielab import read_only

BRADFORD_CONE_RESPONSE: Final = read_only(
    [
        [0.8951, 0.2664, -0.1614],
        [-0.7502, 1.7135, 0.0367],
        [0.0389, -0.0685, 1.0296],
    ]
)
"""(3, 3) XYZ to the sharpened cone responses of Bradford. Source: ICC.1:2010, Annex E."""


def bradford_matrix(source_white: ArrayLike, target_white: ArrayLike) -> NDArray[np.float64]:
    """Build the matrix that carries XYZ under one white to XYZ under another.

    Parameters
    ----------
    source_white, target_white
        (3,) XYZ of the two whites, 2 degree observer, both with the same scale of Y.

    Returns
    -------
    (3, 3) float64; ``matrix @ source_white`` is ``target_white``.

    Source: linear Bradford transform as in ICC.1:2010, Annex E, and B. Lindbloom,
    "Chromatic Adaptation" (brucelindbloom.com).

    White becomes white, and the same white changes nothing:

    >>> d65, d50 = [0.9505, 1.0, 1.089], [0.9642, 1.0, 0.8249]
    >>> print((bradford_matrix(d65, d50) @ d65).round(4))
    [0.9642 1. 0.8249]
    >>> print(bradford_matrix(d50, d50).round(9) + 0.0)
    [[1. 0. 0.]
     [0. 1. 0.]
     [0. 0. 1.]]
    """
    source = BRADFORD_CONE_RESPONSE @ np.asarray(source_white, dtype=np.float64)
    target = BRADFORD_CONE_RESPONSE @ np.asarray(target_white, dtype=np.float64)
    scaled = (target / source)[:, np.newaxis] * BRADFORD_CONE_RESPONSE
    return np.asarray(np.linalg.solve(BRADFORD_CONE_RESPONSE, scaled), dtype=np.float64)
