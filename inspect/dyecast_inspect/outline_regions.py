"""Regions of the table view that stand out from the table: by their colour, and by edges around them."""

from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from dyecast_inspect.outline_view import OutlineView
from dyecast_inspect.table_model import TableModel

SMALLEST_SIDE_MM: Final = 20.0
"""Things smaller than a small magnet are not looked for."""

SMALLEST_AREA: Final = 0.7 * SMALLEST_SIDE_MM**2
"""Square millimetres: a round magnet, a little frayed."""

COLOUR_LEVELS: Final = (3.0, 5.0, 8.0)
"""Distances from the table's colour, in its standard deviations, that are tried."""

EDGE_LEVELS: Final = (3.0, 5.0, 8.0)
"""Strengths of an edge, in medians of the table's grain, that are tried."""

CLOSING_MM: Final = 2.5
"""Gaps up to this are closed."""

OPENINGS_MM: Final = (4.0, 10.0)
"""Tails narrower than this are cut off: grain of wood, a fold of cloth, the rim of a shadow."""

LEAST_GRAIN: Final = 0.33
"""Change of L*a*b* per pixel that counts as grain on the smoothest table."""


def outline_regions(view: OutlineView, model: TableModel) -> tuple[NDArray[np.float32], ...]:
    """Return convex outlines, each (N, 2) float32 pixels of the view, of what may be a thing on the table."""
    different = [model.distance > level for level in COLOUR_LEVELS]
    unshaded = [mask & ~model.shaded for mask in different[:2]]
    edge = _edges(view, model)
    enclosed = [_enclosed(view, edge > level) for level in EDGE_LEVELS]
    return tuple(hull for mask in (*different, *unshaded, *enclosed) for hull in _hulls(view, mask))


def stands_out(view: OutlineView, model: TableModel) -> NDArray[np.bool_]:
    """Return where, (h, w) bool, something differs from the table's colour or is enclosed by edges."""
    return (model.distance > COLOUR_LEVELS[0]) | _enclosed(view, _edges(view, model) > EDGE_LEVELS[1])


def _edges(view: OutlineView, model: TableModel) -> NDArray[np.float32]:
    """Return the change of L*a*b* at each pixel, in medians of the table's own."""
    slopes = [cv2.Sobel(view.lab, cv2.CV_32F, *axis) / 8.0 for axis in ((1, 0), (0, 1))]
    strength = np.sqrt(sum((slope * slope).sum(axis=2) for slope in slopes))
    within = cv2.erode(view.seen.astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
    table = within & (model.distance < COLOUR_LEVELS[0])
    grain = float(np.median(strength[table])) if table.any() else LEAST_GRAIN
    return np.asarray(np.where(within, strength, 0.0) / max(grain, LEAST_GRAIN), np.float32)


def _enclosed(view: OutlineView, edges: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return what cannot be reached from the photo's rim or the card without crossing an edge."""
    closed = cv2.morphologyEx(edges.astype(np.uint8), cv2.MORPH_CLOSE, _disc(CLOSING_MM * view.pixels_per_mm))
    free = ((closed == 0) & view.seen).astype(np.uint8)
    _, labels = cv2.connectedComponents(free, connectivity=4)
    rim = cv2.dilate((~view.seen).astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
    outer = np.unique(labels[rim & (free > 0)])
    return np.asarray(view.seen & ~np.isin(labels, outer[outer > 0]))


def _hulls(view: OutlineView, mask: NDArray[np.bool_]) -> list[NDArray[np.float32]]:
    """Close gaps, fill holes, cut tails off, and return the convex outlines of what is large enough."""
    scale = view.pixels_per_mm
    closed = cv2.morphologyEx((mask & view.seen).astype(np.uint8), cv2.MORPH_CLOSE, _disc(CLOSING_MM * scale))
    filled = np.zeros_like(closed)
    cv2.drawContours(filled, _contours(closed), -1, 1, cv2.FILLED)
    filled[~view.seen] = 0
    hulls = []
    for opening in OPENINGS_MM:
        opened = cv2.morphologyEx(filled, cv2.MORPH_OPEN, _disc(opening * scale))
        large = [c for c in _contours(opened) if cv2.contourArea(c) >= SMALLEST_AREA * scale**2]
        hulls += [np.asarray(cv2.convexHull(c), np.float32).reshape(-1, 2) for c in large]
    return hulls


def _contours(mask: NDArray[Any]) -> list[NDArray[np.int32]]:
    """Return the outer contours of a mask."""
    contours, _ = cv2.findContours(np.asarray(mask, np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    return [np.asarray(contour, np.int32) for contour in contours]


def _disc(diameter_px: float) -> NDArray[np.uint8]:
    """Return a round structuring element."""
    size = max(1, round(diameter_px)) | 1
    return np.asarray(cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size)), np.uint8)
