"""Sub-pixel corners of a marker, from straight lines fitted to its four sides.

Each side is crossed by many short profiles in linear light. Where a profile passes half-way between the black
border and the white paper lies the edge; a robust line through these points is the side, and two neighbouring
sides meet in the corner. A symmetric blur does not move the half-way point, so the corner stays put in a
photo that is slightly out of focus. The spread of the same profiles about the line is the edge spread
function, the idea of the slanted-edge method of ISO 12233 (used here for its width only).
"""

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
    """Profiles across four sides.

    `ends` (4, 2, 2) first and last point of each side, `normals` (4, 2) outward, `offsets` (T,) along the
    normal in px, `light` (4, P, T) linear green.
    """

    ends: NDArray[np.float64]
    normals: NDArray[np.float64]
    offsets: NDArray[np.float64]
    light: NDArray[np.float64]


def refine_marker(photo: Photo, marker: SeenMarker, cells: int) -> SeenMarker | None:
    """Return the marker with its corners to a fraction of a pixel and its edge width measured.

    Parameters
    ----------
    photo
        The photo it was seen in.
    marker
        Corners to a few working pixels (less than a marker cell).
    cells
        Cells along one side of the marker, black border included (7 for a 5 × 5 dictionary).

    Returns
    -------
    SeenMarker or None
        None when a side cannot be followed: no step from black to white on most of its profiles.
    """
    corners = marker.corners_px[::-1] if marker.mirrored else marker.corners_px
    coarse = _measure_sides(photo, corners, cells, COARSE_PROFILES_PER_SIDE)
    fine = None if coarse is None else _measure_sides(photo, _meet(*coarse), cells, PROFILES_PER_SIDE)
    if fine is None:
        return None
    corners, widths = _meet(*fine), _edge_widths(*fine)
    return replace(
        marker,
        corners_px=corners[::-1] if marker.mirrored else corners,
        edge_width_px=float(max(widths[0] + widths[2], widths[1] + widths[3]) / 2),
    )


def _measure_sides(
    photo: Photo, corners: NDArray[np.float64], cells: int, profiles: int
) -> tuple[_Sides, NDArray[np.float64]] | None:
    """Return the profiles and how far the fitted sides lie from the assumed ones, or None."""
    sides = _cross_sides(photo, corners, cells, profiles)
    shifts = None if sides is None else _follow_edges(sides)
    return None if sides is None or shifts is None else (sides, shifts)


def _cross_sides(photo: Photo, corners: NDArray[np.float64], cells: int, profiles: int) -> _Sides | None:
    """Sample the profiles, or None when the marker is too small or outside the photo."""
    along = np.roll(corners, -1, axis=0) - corners
    lengths = np.linalg.norm(along, axis=1)
    if not np.isfinite(lengths).all() or lengths.min() < cells:
        return None
    reach = max(PROFILE_REACH_CELLS * float(lengths.min()) / cells, 2.0)
    samples = min(2 * round(reach / PROFILE_STEP_PX) + 1, PROFILE_SAMPLES_MOST)
    offsets = np.linspace(-reach, reach, samples)
    shares = np.linspace(SIDE_INSET, 1 - SIDE_INSET, profiles)
    origins = corners[:, None, :] + shares[None, :, None] * along[:, None, :]
    normals = np.stack([along[:, 1], -along[:, 0]], axis=1) / lengths[:, None]
    points = origins[:, :, None, :] + offsets[None, None, :, None] * normals[:, None, None, :]
    light = _green_at(photo, points)
    return None if light is None else _Sides(origins[:, [0, -1]], normals, offsets, light)


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


def _follow_edges(sides: _Sides) -> NDArray[np.float64] | None:
    """Return how far the fitted sides lie from the assumed ones, (4, P) px along the normal, or None."""
    black, white = _black_and_white(sides.light)
    if (white < STEP_RATIO_LEAST * black + 1e-4).any():
        return None
    crossings = _half_way(sides.light, sides.offsets, (black + white) / 2)
    return _robust_lines(crossings)


def _black_and_white(light: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Levels (4,) of the border and the paper, from profiles (4, P, T)."""
    typical = np.median(light, axis=1)
    middle = light.shape[2] // 2
    return typical[:, :middle].min(axis=1), typical[:, middle:].max(axis=1)


def _half_way(
    light: NDArray[np.float64], offsets: NDArray[np.float64], half: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Offset (4, P) where each profile rises through its side's half level (4,), nearest to its middle.

    NaN where it does not rise through it at all.
    """
    below, above = light[..., :-1] - half[:, None, None], light[..., 1:] - half[:, None, None]
    rises = (below < 0) & (above >= 0)
    distance = np.where(rises, np.abs(offsets[:-1] + offsets[1:]), np.inf)
    at = np.argmin(distance, axis=2)[..., None]
    low, high = np.take_along_axis(below, at, 2)[..., 0], np.take_along_axis(above, at, 2)[..., 0]
    found = rises.any(axis=2)
    share = -low / np.where(found, high - low, 1.0)
    return np.where(found, offsets[at[..., 0]] + share * (offsets[1] - offsets[0]), np.nan)


def _robust_lines(crossings: NDArray[np.float64]) -> NDArray[np.float64] | None:
    """Fit a line through each row (4, P) without its outliers; return it at every column, or None."""
    steps = np.linspace(-1.0, 1.0, crossings.shape[1])
    usable = np.isfinite(crossings)
    filled = np.where(usable, crossings, 0.0)
    keep = usable
    for _ in range(3):
        count = keep.sum(axis=1)
        if count.min() < crossings.shape[1] // 2:
            return None
        mean_step, mean = (keep * steps).sum(axis=1) / count, (keep * filled).sum(axis=1) / count
        away = keep * (steps - mean_step[:, None])
        slope = (away * filled).sum(axis=1) / (away * steps).sum(axis=1)
        lines = mean[:, None] + slope[:, None] * (steps - mean_step[:, None])
        misses = np.abs(filled - lines)
        ordered = np.sort(np.where(keep, misses, np.inf), axis=1)
        spread = 1.4826 * ordered[np.arange(len(ordered)), count // 2]
        keep = usable & (misses <= np.maximum(2.5 * spread, OUTLIER_PX_LEAST)[:, None])
    return np.asarray(lines)


def _meet(sides: _Sides, shifts: NDArray[np.float64]) -> NDArray[np.float64]:
    """Corners (4, 2) where each side, shifted along its normal, meets the one before it."""
    lines = sides.ends + shifts[:, [0, -1], None] * sides.normals[:, None, :]
    directions = lines[:, 1] - lines[:, 0]
    normals = np.stack([directions[:, 1], -directions[:, 0]], axis=1)
    distances = (normals * lines[:, 0]).sum(axis=1)
    pairs = np.stack([np.roll(normals, 1, axis=0), normals], axis=1)
    meeting = np.linalg.solve(pairs, np.stack([np.roll(distances, 1), distances], axis=1)[..., None])
    return np.asarray(meeting[..., 0])


def _edge_widths(sides: _Sides, shifts: NDArray[np.float64]) -> list[float]:
    """Return the standard deviation of each side's edge spread, px."""
    levels = zip(*_black_and_white(sides.light), strict=True)
    return [
        _edge_width(light, sides.offsets[None, :] - shift[:, None], black, white)
        for light, shift, (black, white) in zip(sides.light, shifts, levels, strict=True)
    ]


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
