"""Sub-pixel corners of a marker, from straight lines fitted to its four sides.

Each side is crossed by many short profiles in linear light. Where a profile passes half-way between the black
border and the white paper lies the edge; a robust line through these points is the side, and two neighbouring
sides meet in the corner. A symmetric blur does not move the half-way point, so the corner stays put in a
photo that is slightly out of focus. The spread of the same profiles about the line is the edge spread
function, the idea of the slanted-edge method of ISO 12233 (used here for its width only).
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from dyecast_inspect.card_sighting import SeenMarker
from dyecast_shared.photo import Photo, channel_light

GREEN = 1
"""Channel the edges are measured in: half of a sensor's pixels are green, so it is the sharpest and least
noisy, and black on white looks the same in every channel."""

PROFILES_PER_SIDE = 32
"""Profiles across one side; the line through them averages the noise of one profile down about five-fold."""

PROFILE_REACH_CELLS = 0.9
"""How far a profile reaches to either side of the edge, in marker cells: the border is one cell wide and the
white around it is at least one, so 0.9 stays clear of the pattern inside and of whatever lies outside."""

PROFILE_STEP_PX = 0.5
"""Distance between two samples of a profile, working pixels; half the pixel pitch loses nothing."""

PROFILE_SAMPLES_MOST = 121
"""Most samples of one profile; markers with cells above 33 px are sampled more coarsely to bound the time."""

SIDE_INSET = 0.1
"""Share of the side left out at each end, where blur mixes in the neighbouring side."""

COARSE_PROFILES_PER_SIDE = 10
"""Profiles of the first pass, which only removes the detector's error of a few pixels."""

OUTLIER_PX_LEAST = 0.15
"""A profile point closer to its line than this is never called an outlier, working pixels."""

STEP_RATIO_LEAST = 1.3
"""Paper must be this many times brighter than the black border (linear light), or there is no edge to
follow."""

RISE_10_90_IN_SIGMA = 2.5631
"""Distance from 10 % to 90 % of a Gaussian edge in standard deviations: 2 × 1.28155 (normal quantile)."""

ESF_BIN_PX = 0.25
"""Bin of the edge spread function, working pixels: the four-fold oversampling of ISO 12233."""


@dataclass(frozen=True, slots=True, eq=False)
class _Sides:
    """Profiles across the four sides of M markers; S = 4 M sides, marker by marker.

    `ends` (S, 2, 2) first and last point of each side, `normals` (S, 2) outward, `offsets` (S, T) along the
    normal in px, `light` (S, P, T) linear green.
    """

    ends: NDArray[np.float64]
    normals: NDArray[np.float64]
    offsets: NDArray[np.float64]
    light: NDArray[np.float64]


def refine_markers(photo: Photo, markers: Sequence[SeenMarker], cells: int) -> list[SeenMarker]:
    """Return the markers with their corners to a fraction of a pixel and their edge width measured.

    Parameters
    ----------
    photo
        The photo they were seen in.
    markers
        Corners to a few working pixels (less than a marker cell).
    cells
        Cells along one side of a marker, black border included (7 for a 5 × 5 dictionary).

    Returns
    -------
    list
        In the same order, without markers of which a side cannot be followed: no step from black to white on
        most of its profiles.
    """
    kept = list(markers)
    corners = np.array([_clockwise(marker, marker.corners_px) for marker in kept]).reshape(-1, 4, 2)
    for profiles in (COARSE_PROFILES_PER_SIDE, PROFILES_PER_SIDE):
        sides, sampled = _cross_sides(photo, corners, cells, profiles)
        shifts, followed = _follow_edges(sides)
        kept = [marker for marker, good in zip(kept, sampled, strict=True) if good]
        kept = [marker for marker, good in zip(kept, followed, strict=True) if good]
        sides, shifts = _of_markers(sides, followed), shifts[np.repeat(followed, 4)]
        corners = _meet(sides, shifts)
    if not kept:
        return []
    widths = _edge_widths(sides, shifts)
    return [
        replace(
            marker,
            corners_px=_clockwise(marker, own),
            edge_width_px=float(max(width[0] + width[2], width[1] + width[3]) / 2),
        )
        for marker, own, width in zip(kept, corners, widths, strict=True)
    ]


def _clockwise(marker: SeenMarker, corners: NDArray[np.float64]) -> NDArray[np.float64]:
    """Turn the order of corners (4, 2) of a mirrored marker from its own to clockwise, or back."""
    return corners[::-1] if marker.mirrored else corners


def _of_markers(sides: _Sides, kept: NDArray[np.bool_]) -> _Sides:
    """Keep the sides of some of the markers, (M,) bool."""
    rows = np.repeat(kept, 4)
    return _Sides(sides.ends[rows], sides.normals[rows], sides.offsets[rows], sides.light[rows])


def _cross_sides(
    photo: Photo, corners: NDArray[np.float64], cells: int, profiles: int
) -> tuple[_Sides, NDArray[np.bool_]]:
    """Sample the profiles of markers (M, 4, 2), and tell which are large enough and inside the photo, (M,).

    Only those have sides.
    """
    along = np.roll(corners, -1, axis=1) - corners
    lengths = np.linalg.norm(along, axis=2)
    shortest = lengths.min(axis=1, initial=np.inf)
    good: NDArray[np.bool_] = np.isfinite(lengths).all(axis=1) & (shortest >= cells)
    reach = np.maximum(PROFILE_REACH_CELLS * shortest[good] / cells, 2.0)
    samples = min(2 * round(float(reach.max(initial=2.0)) / PROFILE_STEP_PX) + 1, PROFILE_SAMPLES_MOST)
    offsets = reach[:, None] * np.linspace(-1.0, 1.0, samples)
    shares = np.linspace(SIDE_INSET, 1 - SIDE_INSET, profiles)
    origins = corners[good, :, None, :] + shares[:, None] * along[good, :, None, :]
    normals = np.stack([along[good, :, 1], -along[good, :, 0]], axis=2) / lengths[good, :, None]
    points = origins[:, :, :, None, :] + offsets[:, None, None, :, None] * normals[:, :, None, None, :]
    lights = [_green_at(photo, each) for each in points]
    inside = np.array([light is not None for light in lights], bool)
    good[good] = inside
    return _Sides(
        ends=origins[inside][:, :, [0, -1]].reshape(-1, 2, 2),
        normals=normals[inside].reshape(-1, 2),
        offsets=np.repeat(offsets[inside], 4, axis=0),
        light=np.array([light for light in lights if light is not None]).reshape(-1, profiles, samples),
    ), good


def _green_at(photo: Photo, points: NDArray[np.float64]) -> NDArray[np.float64] | None:
    """Bilinear linear green, 0..1, at points (..., 2) in working pixels; None when outside the photo."""
    height, width = photo.pixels.shape[:2]
    flat = points.reshape(-1, 2)
    low = np.maximum(np.floor(flat.min(axis=0)).astype(int) - 1, 0)
    high = np.minimum(np.ceil(flat.max(axis=0)).astype(int) + 2, [width, height])
    if (high - low).min() < 2:
        return None
    crop = photo.pixels[low[1] : high[1], low[0] : high[0], GREEN]
    linear = channel_light(photo.encoding, crop, GREEN)
    across, down = np.split((flat - low).astype(np.float32).reshape(len(points), -1, 2), 2, axis=2)
    sampled = cv2.remap(linear, across, down, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(sampled, dtype=np.float64).reshape(points.shape[:-1])


def _follow_edges(sides: _Sides) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Return how far the fitted sides lie from the assumed ones, (S, P) px along the normal.

    The second, (M,), tells which markers have a step on every side, and a line through it.
    """
    black, white = _black_and_white(sides.light)
    lines, straight = _robust_lines(_half_way(sides, (black + white) / 2))
    good = straight & (white >= STEP_RATIO_LEAST * black + 1e-4)
    return lines, np.asarray(good.reshape(-1, 4).all(axis=1))


def _black_and_white(light: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Levels (S,) of the border and the paper, from profiles (S, P, T)."""
    typical = np.median(light, axis=1)
    middle = light.shape[2] // 2
    return typical[:, :middle].min(axis=1), typical[:, middle:].max(axis=1)


def _half_way(sides: _Sides, half: NDArray[np.float64]) -> NDArray[np.float64]:
    """Offset (S, P) where each profile rises through its side's half level (S,), nearest to its middle.

    NaN where it does not rise through it at all.
    """
    above_half, offsets = sides.light - half[:, None, None], sides.offsets
    below, above = above_half[..., :-1], above_half[..., 1:]
    rises = (below < 0) & (above >= 0)
    distance = np.where(rises, np.abs(offsets[:, :-1] + offsets[:, 1:])[:, None], np.inf)
    at = np.argmin(distance, axis=2)
    side, profile = np.indices(at.shape, sparse=True)
    low, high = below[side, profile, at], above[side, profile, at]
    found = rises.any(axis=2)
    share = -low / np.where(found, high - low, 1.0)
    step = offsets[:, 1:2] - offsets[:, :1]
    return np.where(found, offsets[side, at] + share * step, np.nan)


def _robust_lines(crossings: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Fit a line through each row (S, P) without its outliers; return it at every column.

    The second, (S,), tells which rows have enough points for one.
    """
    steps = np.linspace(-1.0, 1.0, crossings.shape[1])
    usable = np.isfinite(crossings)
    filled = np.where(usable, crossings, 0.0)
    keep, lines = usable, filled
    enough = np.ones(len(crossings), bool)
    for _ in range(3):
        enough &= keep.sum(axis=1) >= crossings.shape[1] // 2
        keep = keep | ~enough[:, None]  # a row without a line goes on, so that nothing is divided by nothing
        count = keep.sum(axis=1)
        mean_step, mean = (keep * steps).sum(axis=1) / count, (keep * filled).sum(axis=1) / count
        away = keep * (steps - mean_step[:, None])
        slope = (away * filled).sum(axis=1) / (away * steps).sum(axis=1)
        lines = mean[:, None] + slope[:, None] * (steps - mean_step[:, None])
        misses = np.abs(filled - lines)
        ordered = np.sort(np.where(keep, misses, np.inf), axis=1)
        spread = 1.4826 * ordered[np.arange(len(ordered)), count // 2]
        keep = usable & (misses <= np.maximum(2.5 * spread, OUTLIER_PX_LEAST)[:, None])
    return np.asarray(lines), enough


def _meet(sides: _Sides, shifts: NDArray[np.float64]) -> NDArray[np.float64]:
    """Corners (M, 4, 2) where each side, shifted along its normal, meets the one before it."""
    lines = sides.ends + shifts[:, [0, -1], None] * sides.normals[:, None, :]
    directions = lines[:, 1] - lines[:, 0]
    normals = np.stack([directions[:, 1], -directions[:, 0]], axis=1)
    distances = (normals * lines[:, 0]).sum(axis=1).reshape(-1, 4)
    normals = normals.reshape(-1, 4, 2)
    pairs = np.stack([np.roll(normals, 1, axis=1), normals], axis=2)
    meeting = np.linalg.solve(pairs, np.stack([np.roll(distances, 1, axis=1), distances], axis=2)[..., None])
    return np.asarray(meeting[..., 0])


def _edge_widths(sides: _Sides, shifts: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the standard deviation of each side's edge spread, (M, 4) px."""
    distances = sides.offsets[:, None, :] - shifts[:, :, None]
    levels = zip(*_black_and_white(sides.light), strict=True)
    widths = [
        _edge_width(light, distance, black, white)
        for light, distance, (black, white) in zip(sides.light, distances, levels, strict=True)
    ]
    return np.reshape(widths, (-1, 4))


def _edge_width(
    light: NDArray[np.float64], distance: NDArray[np.float64], black: float, white: float
) -> float:
    """Return the 10 % to 90 % rise of one edge over that of a Gaussian edge of unit standard deviation.

    `light` and `distance` (px from the edge, outwards positive) are (P, T).
    """
    bins = np.round(distance / ESF_BIN_PX).astype(int)
    first = int(bins.min())
    counts = np.bincount((bins - first).ravel())
    spread = np.bincount((bins - first).ravel(), light.ravel())[counts > 0] / counts[counts > 0]
    places = np.asarray((np.flatnonzero(counts) + first) * ESF_BIN_PX, dtype=np.float64)
    level = np.asarray((spread - black) / (white - black), dtype=np.float64)
    inside, outside = places <= 0, places >= 0
    low = _last_below(level[inside], places[inside], 0.1)
    high = -_last_below(1 - level[outside][::-1], -places[outside][::-1], 0.1)
    return (high - low) / RISE_10_90_IN_SIGMA


def _last_below(level: NDArray[np.float64], places: NDArray[np.float64], limit: float) -> float:
    """Place, interpolated, where a curve last rises through `limit`; its first place when always above."""
    under = np.flatnonzero(level <= limit)
    if len(under) == 0:
        return float(places[0])
    last = int(under[-1])
    if last + 1 == len(level):
        return float(places[last])
    share = (limit - level[last]) / (level[last + 1] - level[last])
    return float(places[last] + share * (places[last + 1] - places[last]))
