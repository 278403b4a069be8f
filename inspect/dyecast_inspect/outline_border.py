"""An even border within an outline: the part of a blank that the artwork leaves unprinted."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from dyecast_inspect.fit_outline import FittedOutline, circle_points, outward_of, side_points
from dyecast_inspect.outline_profiles import Points, profiles
from dyecast_inspect.outline_view import OutlineView
from dyecast_inspect.table_model import TableModel

WIDEST_MM: Final = 12.0
"""A border wider than this is no border but a picture in a picture."""

CLEAR_BORDER: Final = 0.45
"""Share of every side along which the border's inner edge must be seen."""

RISE: Final = 1.2
"""An edge behind a border has this many times the votes of the even strip before it."""

PLATEAU: Final = 0.95
"""Votes saturate, so an edge is a plateau: its middle is where they have this share of the most."""

WANDERING_MM: Final = 0.5
"""The border's inner edge may wander by this much: the print is hardly ever laid on exactly."""


def border_px(view: OutlineView, model: TableModel, outline: FittedOutline) -> float:
    """Return the width of an even border within an outline, px; 0 when none is seen on every side."""
    scale = view.pixels_per_mm
    middle = -WIDEST_MM / 2 * scale
    sides, inwards = [], np.zeros(1)
    for points, outward in _sides(view, outline):
        seen = profiles(view, model, points + middle * outward, outward)
        reach = max(1, round(WANDERING_MM * scale / seen.step))
        padded = np.pad(seen.votes.mean(axis=0), reach)
        near = np.lib.stride_tricks.sliding_window_view(padded, 2 * reach + 1).max(axis=1)
        sides.append(near[::-1])
        inwards = -(seen.offsets + middle)[::-1]
    everywhere = np.min(sides, axis=0)[(inwards > 0) & (inwards < WIDEST_MM * scale)]
    place = _inner_edge(everywhere)
    inwards = inwards[(inwards > 0) & (inwards < WIDEST_MM * scale)]
    return 0.0 if place is None else float(inwards[place])


def _inner_edge(votes: NDArray[np.float64]) -> int | None:
    """Return the place of the first edge behind a dip, in votes from the outline inwards, or None."""
    lowest = np.minimum.accumulate(votes)
    risen = np.flatnonzero((votes >= CLEAR_BORDER) & (votes >= RISE * lowest))
    if len(risen) == 0:
        return None
    last = first = int(risen[0])
    top = votes[first]
    while last + 1 < len(votes) and votes[last + 1] >= PLATEAU * top:
        last += 1
        top = max(top, votes[last])
    places = np.arange(first, last + 1)
    return round(float(places[votes[places] >= PLATEAU * top].mean()))


def _sides(view: OutlineView, outline: FittedOutline) -> list[tuple[Points, Points]]:
    """Return points and outward directions along each side, or around the circle."""
    corners = outline.corners
    if outline.round:
        radius = float(np.linalg.norm(corners[1] - corners[0])) / 2
        points, outward = circle_points(view, corners.mean(axis=0), radius)
        return list(zip(np.array_split(points, 4), np.array_split(outward, 4), strict=True))
    sides = []
    for number in range(4):
        points, _ = side_points(view, corners[number], corners[(number + 1) % 4])
        outward = outward_of(corners, number)
        sides.append((points, np.repeat(outward[np.newaxis], len(points), axis=0)))
    return sides
