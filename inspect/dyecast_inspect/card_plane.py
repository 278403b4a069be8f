"""Where the card lies: a homography, and beside it the small things that are not a plane.

A phone's lens bends straight lines by a few tenths of a pixel over a card; a print or an overexposed photo
makes every black square a little larger or smaller; paper curls by a millimetre or two. Each is fitted
beside the homography and held near zero by what is known of it beforehand, so that a flat card stays a
plane. Homography: Hartley and Zisserman, Multiple View Geometry, 2nd ed., chapter 4; focal length from one
homography: Zhang 2000, "A flexible new technique for camera calibration", section 3.1. Radial term: Brown
1966 (from memory).
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.card_layout import CardLayout
from dyecast_inspect.card_sighting import SeenMarker

CORNER_NOISE_PX = 0.05
"""Standard deviation of a refined marker corner, working pixels; measured on synthetic and rendered
photos."""

RADIAL_PRIOR = 0.01
"""Standard deviation expected of a phone's radial coefficient (radius in half picture diagonals): phones
correct their pictures, and what is left moves the corner of the picture by about 1 % (from memory)."""

GROWTH_PRIOR_MM = 0.15
"""Standard deviation expected of how far a printed edge lies from its place: dot gain of an ink-jet edge and
the shift of an edge by the phone's tone curve are each about 0.1 mm on this card (estimate, no published
source)."""

CURL_PRIOR_MM = 1.0
"""Standard deviation expected of each of the three curl coefficients, mm: a paper card that is not taped down
lifts by 1 to 3 mm (common practice, no published source)."""

FOCAL_LENGTHS = (0.6, 0.9, 2.5)
"""Shortest, usual and longest focal length of a phone's lenses in units of the picture's long side: 22, 32
and 90 mm in 35 mm terms (the long side of that frame is 36 mm)."""

OUTWARDS = np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])
"""Outward directions of a square's corners, clockwise from the top left, x right and y down."""

FIT_ROUNDS = 5
"""Gauss-Newton steps; the fit stands still after 4."""

SLOPE_STEP = 1e-6
"""Step of the forward differences: the square root of double precision's 1e-16 would be 1e-8; the larger step
keeps rounding of pixel coordinates of some thousands out of the slopes."""

Parameters = NDArray[np.float64]
"""Eight changes of the homography, three curl coefficients (mm), the radial term, the growth (mm); one row a
card."""


@dataclass(frozen=True, slots=True, eq=False)
class CardPlane:
    """A fitted card.

    Attributes
    ----------
    homography
        (3, 3) float64, card mm to working pixels before curl and lens.
    upwards
        (3,) float64: what 1 mm of height above the plane adds to the homogeneous pixel.
    curl_mm
        (3,) height coefficients of x², y² and x·y, with x and y running from -1 to 1 over the card.
    radial
        Coefficient k of ``p = c + (q - c) (1 + k r²)``, r in half picture diagonals about the centre c.
    growth_mm
        How far the black squares reach beyond their printed edge.
    card_size
        (width, height) mm.
    picture_size
        (height, width) working pixels.
    """

    homography: NDArray[np.float64]
    upwards: NDArray[np.float64]
    curl_mm: NDArray[np.float64]
    radial: float
    growth_mm: float
    card_size: tuple[float, float]
    picture_size: tuple[int, int]

    def to_photo(self, points_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """Move card points (N, 2), mm, to working pixels, curl and lens included."""
        state = np.concatenate([self.homography.ravel(), self.curl_mm, [self.radial]])
        moved = _to_photo(points_mm[None], state[None], self.upwards, self.card_size, self.picture_size)
        return np.asarray(moved[0])

    def grown(self, square_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return corners (4 N, 2) of printed squares, mm, clockwise from the top left, with their growth."""
        return np.asarray(square_mm + self.growth_mm * np.tile(OUTWARDS, (len(square_mm) // 4, 1)))


def project(homography: NDArray[np.float64], points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Apply a (3, 3) homography to points (N, 2)."""
    moved = points @ homography[:, :2].T + homography[:, 2]
    return np.asarray(moved[:, :2] / moved[:, 2:])


def marker_points_mm(layout: CardLayout, identity: int) -> NDArray[np.float64]:
    """Return the (4, 2) corners of a marker of the card, mm, clockwise from its top left."""
    return np.array(next(marker for marker in layout.markers if marker.id == identity).corners())


def homography_between(source: NDArray[np.float64], target: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the least-squares homography (3, 3) from points (N, 2) to points (N, 2), N >= 4.

    Raises
    ------
    ValueError
        The points do not span a plane.
    """
    found, _ = cv2.findHomography(source, target, 0)
    if found is None:
        raise ValueError("the points do not span a plane")
    return np.asarray(found / found[2, 2], dtype=np.float64)


def first_homography(layout: CardLayout, markers: Sequence[SeenMarker]) -> NDArray[np.float64]:
    """Return the least-squares homography through the corners of these markers, card mm to working pixels."""
    card = np.concatenate([marker_points_mm(layout, marker.id) for marker in markers])
    return homography_between(card, np.concatenate([marker.corners_px for marker in markers]))


def fit_card_plane(
    layout: CardLayout, markers: Sequence[SeenMarker], picture_size: tuple[int, int]
) -> CardPlane:
    """Fit plane, curl, lens and growth together to the corners of these markers (maximum a posteriori).

    Raises
    ------
    ValueError
        The markers do not span a plane.
    """
    start = first_homography(layout, markers)
    upwards = upward_direction(start, picture_size)
    printed = np.concatenate([marker_points_mm(layout, marker.id) for marker in markers])
    outwards = np.tile(OUTWARDS, (len(markers), 1))
    seen = np.concatenate([marker.corners_px for marker in markers])
    expected = np.array([*[CURL_PRIOR_MM] * 3, RADIAL_PRIOR, GROWTH_PRIOR_MM])
    card_size = (layout.width, layout.height)

    def misses(parameters: Parameters) -> NDArray[np.float64]:
        grown = printed + parameters[:, 12, None, None] * outwards
        state = np.concatenate([_homographies(start, parameters).reshape(-1, 9), parameters[:, 8:12]], axis=1)
        fitted = _to_photo(grown, state, upwards, card_size, picture_size)
        wrong = ((fitted - seen) / CORNER_NOISE_PX).reshape(len(parameters), -1)
        return np.concatenate([wrong, parameters[:, 8:] / expected], axis=1)

    found = _gauss_newton(misses, np.zeros(13))
    homography = _homographies(start, found[None])[0]
    return CardPlane(
        homography, upwards, found[8:11], float(found[11]), float(found[12]), card_size, picture_size
    )


def _homographies(start: NDArray[np.float64], parameters: Parameters) -> NDArray[np.float64]:
    """Return the start changed by the first eight of each row of parameters (K, 13): (K, 3, 3)."""
    changes = np.concatenate([parameters[:, :8], np.zeros((len(parameters), 1))], axis=1)
    return np.asarray(start @ (np.eye(3) + changes.reshape(-1, 3, 3)))


def upward_direction(homography: NDArray[np.float64], picture_size: tuple[int, int]) -> NDArray[np.float64]:
    """Return what 1 mm of height towards the camera adds to the homogeneous pixel, (3,).

    Square pixels and the optical axis in the middle of the picture are taken for granted; the focal length
    comes from the homography itself where the card is seen slanted enough, and is the usual one otherwise.
    """
    height, width = picture_size
    centred = np.array([[1, 0, -(width - 1) / 2], [0, 1, -(height - 1) / 2], [0, 0, 1.0]])
    columns = centred @ homography
    focal = _focal_length(columns, max(picture_size))
    first, second = columns[:, 0] / [focal, focal, 1], columns[:, 1] / [focal, focal, 1]
    scale = np.sqrt(np.linalg.norm(first) * np.linalg.norm(second))
    normal = -np.cross(first, second) / scale
    return np.asarray(np.linalg.inv(centred) @ (normal * [focal, focal, 1]))


def _focal_length(columns: NDArray[np.float64], long_side: int) -> float:
    """Focal length in pixels from a homography about the picture's middle: its axes are square and equal."""
    (a, b, c), (d, e, f) = columns[:, 0], columns[:, 1]
    spread = np.array([a * d + b * e, (a * a + b * b - d * d - e * e) / 2])
    depth = np.array([c * f, (c * c - f * f) / 2])
    inverse_square = -float(spread @ depth) / max(float(spread @ spread), 1e-12)
    shortest, usual, longest = (share * long_side for share in FOCAL_LENGTHS)
    if inverse_square * longest**2 < 1:
        return usual
    return float(np.clip(1 / np.sqrt(inverse_square), shortest, longest))


def _to_photo(
    points_mm: NDArray[np.float64],
    states: NDArray[np.float64],
    upwards: NDArray[np.float64],
    card_size: tuple[float, float],
    picture_size: tuple[int, int],
) -> NDArray[np.float64]:
    """Move points (K, N, 2) of K cards to pixels; a state is homography (9), curl (3) and radial term (1)."""
    homographies, curls, radials = states[:, :9].reshape(-1, 3, 3), states[:, 9:12], states[:, 12, None, None]
    x, y = np.moveaxis(2 * points_mm / np.array(card_size) - 1, -1, 0)
    heights = curls[:, 0, None] * x * x + curls[:, 1, None] * y * y + curls[:, 2, None] * x * y
    moved = points_mm @ homographies[:, :, :2].swapaxes(1, 2) + homographies[:, None, :, 2]
    moved = moved + heights[..., None] * upwards
    points_px = moved[..., :2] / moved[..., 2:]
    height, width = picture_size
    away = points_px - np.array([(width - 1) / 2, (height - 1) / 2])
    square_radius = (away**2).sum(axis=2, keepdims=True) / ((height**2 + width**2) / 4)
    return np.asarray(points_px + radials * square_radius * away)


def _gauss_newton(misses: Callable[[Parameters], NDArray[np.float64]], parameters: Parameters) -> Parameters:
    """Return parameters (P,) that make the sum of squared misses least.

    `misses` answers many rows of parameters at once, so that all slopes (forward differences) cost one call.
    """
    steps = SLOPE_STEP * np.vstack([np.zeros(len(parameters)), np.eye(len(parameters))])
    for _ in range(FIT_ROUNDS):
        now, *moved = misses(parameters + steps)
        slopes = (np.array(moved) - now) / SLOPE_STEP
        parameters = parameters - np.linalg.lstsq(slopes.T, now, rcond=None)[0]
    return parameters
