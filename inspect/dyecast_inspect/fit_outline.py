"""Lay a rectangle or a circle along the edges around a region of the table view."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dyecast_inspect.outline_profiles import (
    Points,
    Profiles,
    Shadows,
    between_steps,
    outermost_edge,
    profiles,
    shifted,
)
from dyecast_inspect.outline_view import OutlineView
from dyecast_inspect.table_model import TableModel

ROUNDS: Final = 4
"""Times an outline is laid anew; a shadow may hold it back for one or two."""

ALONG_MM: Final = 1.0
"""Distance of the points at which a side is looked at."""

LEAST_POINTS: Final = 12

CORNER_SHARE: Final = 0.12
"""Share of a side at each end that is not looked at: it may be rounded."""

SLANTS_MM: Final = np.arange(-4.0, 4.01, 0.5)
"""By how much the two ends of a side may lie further out or in than supposed, in mm apart."""

HOPELESS: Final = 0.1
"""A side of which less runs along an edge has none near by."""

CIRCLE_ROUNDS: Final = 3
CIRCLE_TOLERANCE_MM: Final = 1.0
"""Edges farther than a few times this from the circle have no say in it."""

SMALLEST_PX: Final = 12.0
"""Sides shorter than this have collapsed."""


@dataclass(frozen=True, slots=True, eq=False)
class FittedOutline:
    """An outline along edges.

    Attributes
    ----------
    corners
        (4, 2) px of the rectangle, or of the upright square around the circle, clockwise as seen.
    support
        Share of the outline that runs along an edge, 0..1: of the weakest side, or of the circle.
    round
        True for a circle.
    """

    corners: Points
    support: float
    round: bool


def fit_rectangle(
    view: OutlineView, model: TableModel, corners: Points, shadows: Shadows
) -> FittedOutline | None:
    """Move each side to its edge, keep right angles; None when the rectangle collapses."""
    support = np.zeros(4)
    for _ in range(ROUNDS):
        sides = [_fit_side(view, model, corners, number, shadows) for number in range(4)]
        support = np.array([side[2] for side in sides])
        if support.min() < HOPELESS:
            return None
        corners = _right_angled(np.array([side[:2] for side in sides]), support)
        lengths = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
        if lengths.min() < SMALLEST_PX or lengths.max() > max(view.seen.shape) or _turned_inside_out(corners):
            return None
    return FittedOutline(corners, float(support.min()), round=False)


def fit_circle(view: OutlineView, model: TableModel, centre: Points, radius: float) -> FittedOutline | None:
    """Lay a circle along the edges around a region; None when it collapses."""
    support, noise = 0.0, CIRCLE_TOLERANCE_MM * view.pixels_per_mm
    for _ in range(CIRCLE_ROUNDS):
        points, outward = circle_points(view, centre, radius)
        seen = profiles(view, model, points, outward)
        places = np.array([_outermost_of_row(seen, row) for row in range(len(points))])
        move = _harmonics(places, outward, noise)
        centre, radius = centre + move[1:], radius + move[0]
        if not SMALLEST_PX / 2 < radius < max(view.seen.shape):
            return None
    points, outward = circle_points(view, centre, radius)
    seen = profiles(view, model, points, outward)
    near = np.abs(seen.offsets) <= noise
    support = float(seen.votes[:, near].max(axis=1).mean())
    unit = np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])
    return FittedOutline(centre + radius * unit, support, round=True)


def circle_points(view: OutlineView, centre: Points, radius: float) -> tuple[Points, Points]:
    """Return points (n, 2) on a circle and their outward directions (n, 2)."""
    count = max(4 * LEAST_POINTS, round(2 * np.pi * radius / view.pixels_per_mm / ALONG_MM / 1.5))
    angle = np.arange(count) / count * 2 * np.pi
    outward = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    return centre + radius * outward, outward


def side_points(view: OutlineView, start: Points, end: Points) -> tuple[Points, Points]:
    """Return points (n, 2) along the middle of a side, and where they lie on it, (n,) 0..1."""
    count = max(LEAST_POINTS, round(float(np.linalg.norm(end - start)) / view.pixels_per_mm / ALONG_MM))
    share = np.linspace(CORNER_SHARE, 1.0 - CORNER_SHARE, count)
    return start + share[:, np.newaxis] * (end - start), share


def outward_of(corners: Points, number: int) -> Points:
    """Return the unit vector out of a clockwise (as seen, y down) quadrangle across one side."""
    along = corners[(number + 1) % 4] - corners[number]
    along = along / np.linalg.norm(along)
    return np.array([along[1], -along[0]])


def _fit_side(
    view: OutlineView, model: TableModel, corners: Points, number: int, shadows: Shadows
) -> tuple[Points, Points, float]:
    """Return the new ends of one side and the mean vote along it."""
    start, end = corners[number], corners[(number + 1) % 4]
    outward = outward_of(corners, number)
    points, share = side_points(view, start, end)
    directions = np.repeat(outward[np.newaxis], len(points), axis=0)
    seen = profiles(view, model, points, directions, shadows=shadows)
    slants = SLANTS_MM * view.pixels_per_mm
    steps = (share - 0.5) * slants[:, np.newaxis] / seen.step
    votes = shifted(seen.votes, steps).mean(axis=1)
    best = votes.argmax(axis=0)
    strongest = votes.max(axis=0)
    peak = outermost_edge(strongest, seen.shaded.mean(axis=0))
    slant = slants[best[peak]]
    offset = seen.offsets[peak] + between_steps(votes[best[peak]], peak) * seen.step
    move = np.array([offset - slant / 2, offset + slant / 2])[:, np.newaxis] * outward
    return start + move[0], end + move[1], float(strongest[peak])


def _right_angled(sides: NDArray[np.float64], support: Points) -> Points:
    """Return the corners (4, 2) of the rectangle nearest to four sides (4, 2 ends, 2), by their votes."""
    along = sides[:, 1] - sides[:, 0]
    angle = np.arctan2(along[:, 1], along[:, 0]) - np.arange(4) * np.pi / 2
    turn = np.angle((support**2 * np.linalg.norm(along, axis=1) * np.exp(1j * angle)).sum())
    across, down = np.array([np.cos(turn), np.sin(turn)]), np.array([-np.sin(turn), np.cos(turn)])
    middle = sides.mean(axis=1)
    top, right, bottom, left = middle[0] @ down, middle[1] @ across, middle[2] @ down, middle[3] @ across
    return np.stack(
        [
            left * across + top * down,
            right * across + top * down,
            right * across + bottom * down,
            left * across + bottom * down,
        ]
    )


def _turned_inside_out(corners: Points) -> bool:
    """Tell whether opposite sides have crossed."""
    first, second = corners[1] - corners[0], corners[2] - corners[1]
    return bool(first[0] * second[1] - first[1] * second[0] <= 0)


def _outermost_of_row(seen: Profiles, row: int) -> float:
    """Return the offset, px, of the outermost clear edge at one point of a circle; NaN when there is none."""
    votes = seen.votes[row]
    if votes.max() < 0.5:
        return float("nan")
    peak = outermost_edge(votes, seen.shaded[row])
    return float(seen.offsets[peak] + between_steps(votes, peak) * seen.step)


def _harmonics(places: Points, outward: Points, noise: float) -> Points:
    """Fit radius and shift (3,) to offsets along a circle by reweighted least squares (Cauchy's weights)."""
    known = np.isfinite(places)
    if known.sum() < LEAST_POINTS:
        return np.zeros(3)
    terms = np.column_stack([np.ones(known.sum()), outward[known]])
    move = np.array([float(np.median(places[known])), 0.0, 0.0])
    for _ in range(12):
        rest = places[known] - terms @ move
        weight = 1.0 / (1.0 + (rest / noise) ** 2) ** 2
        weighted = terms * weight[:, np.newaxis]
        move = np.linalg.solve(weighted.T @ terms + 1e-6 * np.eye(3), weighted.T @ places[known])
    return np.asarray(move, np.float64)
