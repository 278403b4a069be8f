"""Small pale marks where ink did not arrive: lint, dust, scratches, bubbles.

What stands out of the noise of its own surroundings, and of what a slip of a third of a pixel would do at the
artwork's edges, is a mark; its length, width and company say what it may be.
"""

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from dyecast_inspect.explain_faults import (
    SEVERAL_SPOTS,
    lint_sentence,
    place_words,
    scratch_sentence,
    spots_sentence,
)
from dyecast_inspect.faults.fine_residual import THINNED, TILE_PX, FineResidual, tiled
from dyecast_inspect.faults.likelihood import share_beyond
from dyecast_inspect.inspection import Fault, FaultSize

PEAK: Final = 20.0
"""Height of a mark in robust deviations of its surroundings. Half a million places are looked at, noise of
JPEG and sensor has heavier tails than the normal distribution, whose limit would be 5, and where three
colours of an artwork meet, or a mirrored lamp ends, the tile's fit leaves up to 18 on rendered scenes; a
speck of 0.8 mm gives 20 to 100."""

FAINT: Final = 13.0
"""Height of a mark that counts beside one that is sure: of a cluster of bubbles few stand out far."""

FOOT: Final = 4.0
"""Deviations to which a mark's outline reaches down."""

LEAST_RISE: Final = 0.02
"""Rise in square roots of light, at least: about 2 in lightness, what an eye sees of a speck."""

SLIP_PX: Final = 0.35
"""Slip and blur at the artwork's edges that the tile's fit leaves, pixels."""

AROUND_MM: Final = 2.0
"""Surroundings of a mark that are held against the artwork."""

REACH_MM: Final = 1.5
"""How far artwork and print may lie apart in places: sparse artworks under striped glare are off by 1 mm."""

MISPLACED: Final = 0.5
"""Correlation with the artwork, shifted within reach, from which a mark is misplaced detail of it."""

BETTER: Final = 0.15
"""How much better than unshifted it must be."""

SMOOTH_MM: Final = 0.12
"""Blur against noise, standard deviation."""

BROAD_MM: Final = 1.5
"""What is broader than this, standard deviation, is light or pressing and no mark."""

LEAST_AREA_MM2: Final = 0.15
"""Smaller marks are one or two pixels of noise."""

SCRATCH_MM: Final = 7.0
SCRATCH_SLENDERNESS: Final = 8.0
"""A mark at least this long, and this many times as long as wide, is no fibre of lint but a line."""

HEIGHT_SPREAD: Final = 0.25
"""Standard uncertainty of the logarithm of a mark's height: the noise around it is an estimate too."""

NEIGHBOURS_MM: Final = 4.0
"""Marks with a smaller gap between them belong together."""

MOST_TOLD: Final = 5
"""Marks reported, the surest first."""


@dataclass(frozen=True, slots=True)
class Mark:
    """One pale mark.

    How far it stands out, in deviations; centre, length, width and box (left, top, right, bottom) in mm.
    """

    height: float
    centre: tuple[float, float]
    length: float
    width: float
    box: tuple[float, float, float, float]


def find_specks(residual: FineResidual) -> tuple[Fault, ...]:
    """Return the marks as faults: lint or dust, or an unknown blemish."""
    height, width = residual.rise.shape
    size_mm = (width / residual.pixels_per_mm, height / residual.pixels_per_mm)
    together = _together(find_marks(residual))
    groups = [group for group in together if max(mark.height for mark in group) > PEAK]
    groups.sort(key=lambda group: -max(mark.height for mark in group))
    return tuple(_fault(group, size_mm) for group in groups[:MOST_TOLD])


def find_marks(residual: FineResidual) -> list[Mark]:
    """Return every mark that stands out, be it faintly."""
    scale = residual.pixels_per_mm
    fine = max(0.6, SMOOTH_MM * scale)
    left = np.where(residual.usable, residual.rise, np.float32(0.0))
    rise = cv2.GaussianBlur(left, (0, 0), fine) - cv2.blur(left, _window(4 * BROAD_MM * scale))
    deviations = np.where(residual.usable & (rise > LEAST_RISE / 2), rise / _noise(rise, residual.edges), 0.0)
    feet = (deviations > FOOT).astype(np.uint8)
    count, labels, boxes, _ = cv2.connectedComponentsWithStats(feet, connectivity=8)
    peaks = np.zeros(count)
    np.maximum.at(peaks, np.asarray(labels[feet > 0], np.int64), deviations[feet > 0])
    areas = boxes[:, cv2.CC_STAT_AREA] / scale**2
    marks = []
    for label in np.flatnonzero((peaks > FAINT) & (areas >= LEAST_AREA_MM2)):
        left, top, wide, tall = boxes[label, :4]
        part = np.s_[top : top + tall, left : left + wide]
        inside = labels[part] == label
        if rise[part][inside].max() > LEAST_RISE and not _is_misplaced(residual, part):
            marks.append(_mark(inside, float(peaks[label]), (left, top), scale))
    return marks


def _is_misplaced(residual: FineResidual, part: tuple[slice, slice]) -> bool:
    """Tell whether the artwork explains the surroundings of a mark when, and only when, it is shifted."""
    around, reach = (round(length * residual.pixels_per_mm) for length in (AROUND_MM + REACH_MM, REACH_MM))
    rows, columns = (slice(max(side.start - around, 0), side.stop + around) for side in part)
    intended = residual.intended[rows, columns]
    seen = residual.seen[rows, columns][reach:-reach, reach:-reach]
    if min(seen.shape) < 3 or float(intended.std()) < LEAST_RISE / 2:
        return False
    likeness = cv2.matchTemplate(intended, np.ascontiguousarray(seen), cv2.TM_CCOEFF_NORMED)
    best, unshifted = float(likeness.max()), float(likeness[reach, reach])
    return best > MISPLACED and best > unshifted + BETTER


def _window(size_px: float) -> tuple[int, int]:
    side = 2 * round(size_px / 2) + 1
    return side, side


def _noise(rise: NDArray[np.float32], edges: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return the robust deviation of the surroundings and of a slip at edges, (h, w)."""
    height, width = rise.shape
    spread = 1.4826 * np.median(np.abs(tiled(rise)[:, ::THINNED]), axis=1).reshape(
        height // TILE_PX, width // TILE_PX
    )
    around = (
        cv2.medianBlur(np.maximum(spread, 1e-4).astype(np.float32), 3) if min(spread.shape) >= 3 else spread
    )
    floor = np.maximum(around, np.median(around) / 2).astype(np.float32)
    surroundings = cv2.resize(floor, (width, height), interpolation=cv2.INTER_LINEAR)
    slip = np.float32(SLIP_PX) * cv2.dilate(edges, np.ones((3, 3), np.uint8))
    return np.asarray(cv2.magnitude(surroundings, slip), np.float32)


def _mark(inside: NDArray[np.bool_], height: float, corner: tuple[int, int], scale: float) -> Mark:
    """Measure one mark: a uniform bar of length L has the variance L² / 12."""
    rows, columns = np.nonzero(inside)
    x, y = (columns + 0.5 + corner[0]) / scale, (rows + 0.5 + corner[1]) / scale
    spread = np.cov(np.stack([x, y])) if len(x) > 1 else np.zeros((2, 2))
    short, long = np.sqrt(12.0 * np.maximum(np.linalg.eigvalsh(spread), 0.0) + 1.0 / scale**2)
    half = 0.5 / scale
    box = (float(x.min() - half), float(y.min() - half), float(x.max() + half), float(y.max() + half))
    return Mark(height, (float(x.mean()), float(y.mean())), float(long), float(short), box)


def _together(marks: list[Mark]) -> list[list[Mark]]:
    """Gather marks that lie side by side."""
    groups: list[list[Mark]] = []
    for mark in marks:
        near = [group for group in groups if any(_gap(mark, other) < NEIGHBOURS_MM for other in group)]
        groups = [group for group in groups if group not in near]
        groups.append([mark, *(other for group in near for other in group)])
    return groups


def _gap(one: Mark, other: Mark) -> float:
    """Return the gap between two boxes, mm."""
    across = max(one.box[0] - other.box[2], other.box[0] - one.box[2], 0.0)
    down = max(one.box[1] - other.box[3], other.box[1] - one.box[3], 0.0)
    return float(np.hypot(across, down))


def _fault(group: list[Mark], size_mm: tuple[float, float]) -> Fault:
    """Say what a group of marks may be."""
    boxes = np.array([mark.box for mark in group])
    left, top = (boxes[:, :2].min(axis=0) / size_mm).tolist()
    right, bottom = (boxes[:, 2:].max(axis=0) / size_mm).tolist()
    place = ((left, top), (right, top), (right, bottom), (left, bottom))
    where = place_words(place)
    extent = float(np.hypot((right - left) * size_mm[0], (bottom - top) * size_mm[1]))
    surest = max(mark.height for mark in group)
    confidence = share_beyond(float(np.log(surest)), float(np.log(PEAK)), HEIGHT_SPREAD)
    sizes = (FaultSize("length", extent, "mm"), FaultSize("marks", float(len(group)), "marks"))
    if _is_line(group, extent):
        return Fault("unknown-blemish", scratch_sentence(extent, where), confidence, place, sizes)
    if len(group) > SEVERAL_SPOTS:
        return Fault("unknown-blemish", spots_sentence(len(group), extent, where), confidence, place, sizes)
    return Fault("lint-or-dust", lint_sentence(extent, where), confidence, place, sizes)


def _is_line(group: list[Mark], extent: float) -> bool:
    """Tell whether marks make one long straight line, which edges of the artwork may interrupt."""
    broadest = max(mark.width for mark in group)
    covered = sum(mark.length for mark in group)
    return extent >= max(SCRATCH_MM, SCRATCH_SLENDERNESS * broadest) and covered > extent / 2
