"""Plane geometry of cards and pieces: homographies, rectangles, polygons.

Points are (x, y) with x to the right and y downwards, in whatever unit the caller works in.
"""

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray


def apply_homography(homography: ArrayLike, points: ArrayLike) -> NDArray[np.float64]:
    """Map points through a homography.

    Parameters
    ----------
    homography
        (3, 3), acting on column vectors (x, y, 1); its overall scale does not matter.
    points
        (N, 2) x, y in the unit of the source plane.

    Returns
    -------
    (N, 2) float64 x, y in the unit of the target plane; NaN for a point on the horizon.

    Source: Hartley and Zisserman, "Multiple View Geometry in Computer Vision", 2nd ed. (2004), section 2.3.

    Twice the size, moved by 10 to the right:

    >>> print(apply_homography([[2, 0, 10], [0, 2, 0], [0, 0, 1]], [[0, 0], [3, 4]]))
    [[10. 0.]
     [16. 8.]]
    """
    matrix = np.asarray(homography, dtype=np.float64)
    mapped = np.asarray(points, dtype=np.float64) @ matrix[:, :2].T + matrix[:, 2]
    depth = np.where(mapped[:, 2:] == 0.0, np.nan, mapped[:, 2:])
    return np.asarray(mapped[:, :2] / depth, dtype=np.float64)


def local_scale(homography: ArrayLike, point: ArrayLike) -> float:
    """Tell how many target units one source unit becomes around a point.

    Parameters
    ----------
    homography
        (3, 3), e.g. from card millimetres to photo pixels.
    point
        (2,) x, y in the source plane.

    Returns
    -------
    Square root of |det J|, J being the Jacobian of the mapping at the point, e.g. in pixels per millimetre;
    the geometric mean over all directions' extremes. Infinite on the horizon.

    Source: det J = det H / w³ with w the third coordinate of H (x, y, 1); derived by hand from the quotient
    rule.

    >>> round(local_scale([[2, 0, 10], [0, 2, 0], [0, 0, 1]], [5, 5]), 6)
    2.0
    """
    matrix = np.asarray(homography, dtype=np.float64)
    x, y = np.asarray(point, dtype=np.float64)
    depth = abs(float(matrix[2] @ np.array([x, y, 1.0])))
    if depth == 0.0:
        return math.inf
    return math.sqrt(abs(float(np.linalg.det(matrix))) / depth**3)


def rectangle_corners(x: float, y: float, width: float, height: float) -> NDArray[np.float64]:
    """Return the corners of an upright rectangle.

    Parameters
    ----------
    x, y
        Its top left corner.
    width, height
        Its sides, in the same unit.

    Returns
    -------
    (4, 2) float64: top left, top right, bottom right, bottom left.
    """
    return np.array([[x, y], [x + width, y], [x + width, y + height], [x, y + height]], dtype=np.float64)


def polygon_area(points: ArrayLike) -> float:
    """Return the area of a polygon whose sides do not cross.

    Parameters
    ----------
    points
        (N, 2) x, y of its corners, N >= 3, in either direction of travel.

    Returns
    -------
    The area in the square of the points' unit, never negative.

    Source: the shoelace formula, relative to the first corner so that far-off polygons lose no digits.

    >>> polygon_area([[0, 0], [4, 0], [4, 3], [0, 3]])
    12.0
    """
    corners = np.asarray(points, dtype=np.float64)
    x, y = (corners - corners[0]).T
    return 0.5 * abs(float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))))
