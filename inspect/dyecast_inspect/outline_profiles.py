"""Edges across an outline: how strongly the picture changes along the way out of a thing."""

from dataclasses import dataclass
from enum import Enum
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from dyecast_inspect.outline_view import OutlineView
from dyecast_inspect.table_model import EDGE_SPAN_MM, TableModel

Points = NDArray[np.float64]

REACH_MM: Final = 7.0
"""An edge is looked for this far on both sides of where it is supposed."""

STEP_MM: Final = 0.4
"""Distance between the offsets looked at."""

STRIP_STEPS: Final = round(EDGE_SPAN_MM / STEP_MM)
"""Steps in a strip."""

WIDE_STEPS: Final = 3 * STRIP_STEPS
"""Steps in a strip that tells a soft edge from a sharp one: a shadow's edge is some millimetres wide."""

STEP_RATIO: Final = 1.4
"""Change over wide strips, in changes over narrow ones, that even a blurred step does not exceed."""

_MARGIN: Final = WIDE_STEPS - STRIP_STEPS

HALF_SURE: Final = 2.0
"""Strength, in the table's edge noise, at which an edge is as likely as not: votes saturate, so that strong
edges within the print do not outvote the outline."""

CLEAR_PEAK: Final = 0.7
"""An edge with this share of the strongest one's votes may be the outline."""

MOST_SHADED: Final = 0.6
"""When this share of the strip within an edge is shaded table, the edge is the shadow's, not the thing's."""


class Shadows(Enum):
    """How a shadow's edge is told from a thing's: table within that only lacks light, or softness.

    Neither is always right: a grey thing on a grey table has the colour of a shadow, and a lamp's shadow
    close to a thin thing is sharp.
    """

    BY_COLOUR = "colour"
    BY_SOFTNESS = "softness"


@dataclass(frozen=True, slots=True, eq=False)
class Profiles:
    """What is seen across an outline at n points, at m offsets outwards.

    Attributes
    ----------
    votes
        (n, m) 0..1, how surely an edge runs there.
    shaded
        (n, m) 0..1, share of shaded table in the strip just within.
    offsets
        (m,) px from the outline, rising outwards.
    """

    votes: NDArray[np.float32]
    shaded: NDArray[np.float32]
    offsets: Points

    @property
    def step(self) -> float:
        """Pixels between offsets."""
        return float(self.offsets[1] - self.offsets[0])


def profiles(
    view: OutlineView,
    model: TableModel,
    points: Points,
    outward: Points,
    *,
    shadows: Shadows = Shadows.BY_COLOUR,
) -> Profiles:
    """Look across an outline at points (n, 2) px, along unit vectors (n, 2) that point out of the thing."""
    distance = REACH_MM + (WIDE_STEPS * STEP_MM)
    offsets = np.arange(-distance, distance + 1e-6, STEP_MM) * view.pixels_per_mm
    places = points[:, np.newaxis] + offsets[:, np.newaxis] * outward[:, np.newaxis]
    x, y = places[..., 0].astype(np.float32), places[..., 1].astype(np.float32)
    replicate = cv2.BORDER_REPLICATE
    lab = np.asarray(cv2.remap(view.lab, x, y, cv2.INTER_LINEAR, borderMode=replicate), np.float32)
    flags = np.dstack([view.seen, model.shaded]).astype(np.float32)
    seen, shaded = np.moveaxis(cv2.remap(flags, x, y, cv2.INTER_LINEAR, borderValue=0), -1, 0)
    change = _change(lab, STRIP_STEPS)
    strength = np.linalg.norm(change, axis=2) / model.edge_noise
    if shadows is Shadows.BY_SOFTNESS:
        strength = strength * _sharpness(change, _change(lab, WIDE_STEPS))
    square = np.where(_running_mean(seen, 2 * STRIP_STEPS)[:, _MARGIN:-_MARGIN] > 0.99, strength**2, 0.0)
    within = _running_mean(shaded, STRIP_STEPS)[:, _MARGIN : -STRIP_STEPS - _MARGIN]
    return Profiles(
        votes=np.asarray(square / (square + HALF_SURE**2), np.float32),
        shaded=within if shadows is Shadows.BY_COLOUR else np.zeros_like(within),
        offsets=offsets[WIDE_STEPS : len(offsets) - WIDE_STEPS + 1] - STEP_MM / 2 * view.pixels_per_mm,
    )


def _change(lab: NDArray[np.float32], steps: int) -> NDArray[np.float32]:
    """Return the change of L*a*b* outwards between neighbouring strips, (n, m, 3), for every offset kept."""
    strips = _running_mean(lab, steps)
    change = strips[:, steps:] - strips[:, :-steps]
    margin = WIDE_STEPS - steps
    return change[:, margin : change.shape[1] - margin]


def _sharpness(change: NDArray[np.float32], wide: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return 1 for a step, 0 for a long ramp, which changes three times as much over three times the way."""
    along = (change * wide).sum(axis=2) / np.maximum((change * change).sum(axis=2), 1e-6)
    steepest = WIDE_STEPS / STRIP_STEPS
    return np.asarray(np.clip((steepest - along) / (steepest - STEP_RATIO), 0.0, 1.0), np.float32)


def outermost_edge(votes: NDArray[np.float32], shaded: NDArray[np.float32]) -> int:
    """Return the place of the outline among mean votes and mean shading at (m,) offsets.

    It is the outermost clear peak that has more than shaded table within; when there is none, the innermost
    clear peak, since shadows lie outside.
    """
    rises = np.concatenate([[0.0], votes[:-1]]) <= votes
    falls = np.concatenate([votes[1:], [0.0]]) <= votes
    peaks = np.flatnonzero(rises & falls & (votes >= CLEAR_PEAK * votes.max()))
    if len(peaks) == 0:
        return int(votes.argmax())
    lit = peaks[shaded[peaks] < MOST_SHADED]
    return int(lit.max() if len(lit) else peaks.min())


def between_steps(votes: NDArray[np.float32], peak: int) -> float:
    """Return how far, in steps of -0.5..0.5, the top of a parabola through a peak lies from it."""
    if not 0 < peak < len(votes) - 1:
        return 0.0
    before, top, after = (float(votes[peak + place]) for place in (-1, 0, 1))
    bend = before - 2 * top + after
    return float(np.clip(0.5 * (before - after) / bend, -0.5, 0.5)) if bend < -1e-9 else 0.0


def shifted(values: NDArray[np.float32], steps: Points) -> NDArray[np.float32]:
    """Read rows of (n, m) values from `steps` (k, n) further out, zero beyond the ends: (k, n, m)."""
    times, count = steps.shape
    columns = (np.arange(values.shape[1]) + steps[..., np.newaxis]).reshape(times * count, -1)
    rows = np.broadcast_to(np.tile(np.arange(count), times)[:, np.newaxis], columns.shape)
    read = cv2.remap(
        values, columns.astype(np.float32), rows.astype(np.float32), cv2.INTER_LINEAR, borderValue=0
    )
    return np.asarray(read, np.float32).reshape(times, count, -1)


def _running_mean(values: NDArray[np.float32], steps: int) -> NDArray[np.float32]:
    """Mean of `steps` neighbours along the second axis, (n, m, ...) to (n, m - steps + 1, ...)."""
    padding = ((0, 0), (1, 0)) + ((0, 0),) * (values.ndim - 2)
    sums = np.cumsum(np.pad(values, padding), axis=1, dtype=np.float64)
    return np.asarray((sums[:, steps:] - sums[:, :-steps]) / steps, np.float32)
