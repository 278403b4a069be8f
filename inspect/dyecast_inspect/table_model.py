"""How the bare table looks in a table view, and where something else is seen."""

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from dyecast_inspect.outline_view import OutlineView

COARSE_STEP_PX: Final = 4
"""Every so many pixels the table's colour is fitted; it changes slowly."""

TERMS_OF_ROUND: Final = (1, 6, 6, 6, 10, 10, 10, 10, 10, 10)
"""Terms of the surface in each round of the robust fit: constant, quadratic, cubic. Lamps near by and a sheen
bend the light on a table more than a plane can."""

RIM_SHARE: Final = 0.25
"""This share of the view nearest to the photo's rim is most likely table, and counts double."""

FIRST_SPREAD: Final = (20.0, 12.0, 12.0)
"""Standard deviation, in L*, a*, b*, by which table may differ from its median before anything is fitted."""

LEAST_SPREAD: Final = 1.2
"""Standard deviation, in L*a*b*, that even the smoothest table gets: sensor noise and JPEG blocks."""

OUTLIER: Final = 4.5
"""Standard deviations from which a pixel has no say (Tukey's biweight; Beaton and Tukey 1974)."""

SHADED_TOLERANCE: Final = 2.5
"""L*a*b* by which shaded table may miss the table's own colour made darker, beside `SHADED_TINT`."""

SHADED_TINT: Final = 0.12
"""Share of the darkening by which a shadow may be tinted by other light."""

DARKEST_SHADE: Final = 0.45
"""Cube root of the share of light left in the deepest shadow believed: a tenth."""

EDGE_SPAN_MM: Final = 1.2
"""Length of the two strips whose colours an edge is measured between."""

NOISE_QUANTILE: Final = 0.7
"""Edges weaker than this share of the table's own are its grain."""

LEAST_NOISE: Final = 1.0
"""Edge strength in L*a*b* below which an edge is never taken for one."""


@dataclass(frozen=True, slots=True, eq=False)
class TableModel:
    """How the bare table looks.

    Attributes
    ----------
    distance
        (h, w) float32, how far each pixel is from the table's colour there, in standard deviations of the
        table; 0 where nothing is seen.
    shaded
        (h, w) bool, where a pixel is the table's colour with light taken away.
    edge_noise
        L*a*b* difference between neighbouring strips of `EDGE_SPAN_MM` on the table: its grain.
    """

    distance: NDArray[np.float32]
    shaded: NDArray[np.bool_]
    edge_noise: float


def table_model(view: OutlineView) -> TableModel:
    """Fit the table's colour by a smooth surface that the things lying on it do not pull."""
    surface, precision = _surface(view)
    rest = view.lab - surface
    square = np.einsum("hwi,ij,hwj->hw", rest, precision.astype(np.float32), rest, optimize=True)
    distance = np.where(view.seen, np.sqrt(np.maximum(square, 0.0)), 0.0).astype(np.float32)
    return TableModel(distance, _shaded(view.lab, surface), _edge_noise(view, distance))


def _surface(view: OutlineView) -> tuple[NDArray[np.float32], NDArray[np.float64]]:
    """Return the table's L*a*b* everywhere, (h, w, 3), and the inverse covariance (3, 3) around it."""
    height, width = view.seen.shape
    step = slice(None, None, COARSE_STEP_PX)
    seen = view.seen[step, step]
    rows, columns = np.mgrid[0 : seen.shape[0], 0 : seen.shape[1]]
    terms = _terms(columns / seen.shape[1] * 2 - 1, rows / seen.shape[0] * 2 - 1)
    coefficients, precision = _robust(
        view.lab[step, step][seen].astype(np.float64), terms[seen], _near_rim(view.inside[step, step])[seen]
    )
    coarse = (terms @ coefficients).astype(np.float32)
    x, y = np.meshgrid(np.arange(width) / COARSE_STEP_PX, np.arange(height) / COARSE_STEP_PX)
    fine = cv2.remap(
        coarse,
        x.astype(np.float32),
        y.astype(np.float32),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    return np.asarray(fine, np.float32), precision


def _terms(x: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the ten terms of a cubic surface, (..., 10), lowest degree first."""
    return np.stack([np.ones_like(x), x, y, x * x, x * y, y * y, x**3, x * x * y, x * y * y, y**3], axis=-1)


def _near_rim(inside: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return the `RIM_SHARE` of the view that lies nearest to its rim."""
    framed = cv2.copyMakeBorder(inside.astype(np.uint8), 1, 1, 1, 1, cv2.BORDER_CONSTANT, value=0)
    depth = cv2.distanceTransform(framed, cv2.DIST_L2, 3)[1:-1, 1:-1]
    return np.asarray(inside & (depth <= np.quantile(depth[inside], RIM_SHARE)))


def _robust(
    colours: NDArray[np.float64], terms: NDArray[np.float64], rim: NDArray[np.bool_]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Fit by reweighted least squares: coefficients (10, 3) and the inverse covariance of what is left."""
    base = 1.0 + rim
    start = np.median(colours[rim], axis=0)
    weight = base * np.exp(-0.5 * (((colours - start) / FIRST_SPREAD) ** 2).sum(axis=1))
    coefficients, precision = np.zeros((terms.shape[1], 3)), np.eye(3)
    for count in TERMS_OF_ROUND:
        weighted = terms[:, :count] * weight[:, np.newaxis]
        normal = weighted.T @ terms[:, :count] + 1e-3 * np.eye(count)
        coefficients[:count] = np.linalg.solve(normal, weighted.T @ colours)
        rest = colours - terms @ coefficients
        covariance = (rest * weight[:, np.newaxis]).T @ rest / max(float(weight.sum()), 1e-9)
        precision = np.asarray(np.linalg.inv(covariance + LEAST_SPREAD**2 * np.eye(3)))
        square = np.einsum("ni,ij,nj->n", rest, precision, rest, optimize=True)
        weight = base * np.clip(1.0 - square / OUTLIER**2, 0.0, 1.0) ** 2
    return coefficients, precision


def _shaded(lab: NDArray[np.float32], surface: NDArray[np.float32]) -> NDArray[np.bool_]:
    """Tell where a pixel is the table with light taken away.

    Above the linear part of CIELAB, light k times as strong multiplies L* + 16, a* and b* alike by the cube
    root of k (CIE 15:2018, the definition of L*a*b*), so a shadow moves a colour towards (-16, 0, 0).
    """
    offset = np.array([16.0, 0.0, 0.0], np.float32)
    table, seen = surface + offset, lab + offset
    factor = (seen * table).sum(axis=2) / np.maximum((table * table).sum(axis=2), 1.0)
    beside = np.linalg.norm(seen - factor[..., np.newaxis] * table, axis=2)
    darkening = (1.0 - factor) * np.linalg.norm(table, axis=2)
    tolerated = SHADED_TOLERANCE + SHADED_TINT * np.maximum(darkening, 0.0)
    return np.asarray((beside < tolerated) & (factor < 1.0) & (factor > DARKEST_SHADE))


def _edge_noise(view: OutlineView, distance: NDArray[np.float32]) -> float:
    """Return how much neighbouring strips of bare table differ."""
    span = max(1, round(EDGE_SPAN_MM * view.pixels_per_mm))
    mean = cv2.blur(view.lab, (span, span))
    change = np.linalg.norm(mean[:, span:] - mean[:, :-span], axis=2)
    bare = (distance < OUTLIER / 1.5) & view.seen
    both = bare[:, span:] & bare[:, :-span]
    return max(LEAST_NOISE, float(np.quantile(change[both], NOISE_QUANTILE))) if both.any() else LEAST_NOISE
