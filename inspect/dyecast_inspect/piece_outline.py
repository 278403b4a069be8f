"""Find things that lie beside the card by their outline: square, rectangular, rounded or round."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from dyecast_inspect.card_sighting import CardSighting
from dyecast_inspect.fit_outline import FittedOutline, fit_circle, fit_rectangle
from dyecast_inspect.outline import ellipse
from dyecast_inspect.outline_border import border_px
from dyecast_inspect.outline_profiles import Points, Shadows
from dyecast_inspect.outline_regions import COLOUR_LEVELS, SMALLEST_SIDE_MM, outline_regions, stands_out
from dyecast_inspect.outline_view import OutlineView, outline_view
from dyecast_inspect.table_model import TableModel, table_model
from dyecast_shared.geometry import apply_homography
from dyecast_shared.photo import Photo

MOST_OUTLINES: Final = 6
"""Outlines returned at most."""

LEAST_SUPPORT: Final = 0.25
"""An outline of which less runs along edges is none."""

SAME_MM: Final = 2.0
"""Outlines whose corners lie this close are the same thing."""

SAME_REGION_MM: Final = 4.0
"""Regions whose boxes lie this close are fitted once: the fit looks farther than that."""

ROUND_ASPECT: Final = 1.3
"""A region whose box is longer than this times its width is not tried as a circle."""

ROUND_FILLING: Final = 0.9
"""A region that fills more of its box than this is not tried as a circle (a circle fills 0.785)."""

AROUND_MM: Final = (1.5, 4.0)
"""The strip around an outline in which table should be seen, mm from the outline."""

CORNER_BOX_PX: Final = 32
"""Side of the small picture in which corners are told from the middle."""


class OutlineShape(StrEnum):
    """What an outline was laid along; a rounded rectangle counts as a rectangle."""

    RECTANGLE = "rectangle"
    ROUND = "round"


@dataclass(frozen=True, slots=True, eq=False)
class PieceOutline:
    """A thing beside the card.

    Attributes
    ----------
    corners
        (4, 2) float64 card mm, clockwise as seen: of the best-fitting rectangle, or of the square around a
        round thing in the card's axes.
    shape
        Rectangle or round.
    border_mm
        Width of an even border seen inside the outline, mm; 0 when none was seen.
    score
        0..1, how much speaks for it; it orders outlines and is no probability.
    """

    corners: NDArray[np.float64]
    shape: OutlineShape
    border_mm: float
    score: float

    def inset(self, margin_mm: float) -> NDArray[np.float64]:
        """Return the corners with all sides moved inwards by `margin_mm`, (4, 2) card mm."""
        return _widened(self.corners, -margin_mm)


def find_outlines(photo: Photo, card: CardSighting) -> tuple[PieceOutline, ...]:
    """Return things beside the card by their outline, the likeliest first; empty when there are none.

    The table is modelled by a smooth colour; regions that differ from it or are enclosed by edges give
    first places, sides or circle are then laid along the outermost edges that are not a shadow's. The
    method is our own; corners come to about 1 mm (measured on rendered scenes, see the tests).
    """
    view = outline_view(photo, card)
    model = table_model(view)
    stands = stands_out(view, model)
    fitted = [outline for box in _boxes(view, model) for outline in _fits(view, model, box)]
    scored = [(_score(view, model, stands, outline), outline) for outline in fitted]
    scored.sort(key=lambda pair: -pair[0])
    kept: list[PieceOutline] = []
    for score, outline in scored:
        if outline.support < LEAST_SUPPORT or len(kept) >= MOST_OUTLINES:
            continue
        found = _in_card_mm(view, model, outline, score)
        if found is not None and not any(_same(found, other) for other in kept):
            kept.append(found)
    return tuple(kept)


@dataclass(frozen=True, slots=True, eq=False)
class _Box:
    """The box around a region: corners (4, 2) px clockwise, and the share of it that the region fills."""

    corners: Points
    filling: float


def _boxes(view: OutlineView, model: TableModel) -> list[_Box]:
    """Return the boxes around the regions that stand out, each place once."""
    boxes: list[_Box] = []
    for hull in outline_regions(view, model):
        corners = np.asarray(cv2.boxPoints(cv2.minAreaRect(hull)), np.float64)
        area = float(np.linalg.norm(corners[1] - corners[0]) * np.linalg.norm(corners[2] - corners[1]))
        box = _Box(_clockwise(corners), cv2.contourArea(hull) / max(area, 1.0))
        if not any(
            _apart(box.corners, other.corners) < SAME_REGION_MM * view.pixels_per_mm for other in boxes
        ):
            boxes.append(box)
    return boxes


def _fits(view: OutlineView, model: TableModel, box: _Box) -> list[FittedOutline]:
    """Lay a rectangle, and where the region may be round a circle, along the edges around a box."""
    fits = [fit_rectangle(view, model, box.corners, shadows) for shadows in Shadows]
    sides = np.linalg.norm(box.corners[1:3] - box.corners[:2], axis=1)
    if sides.max() < ROUND_ASPECT * sides.min() and box.filling < ROUND_FILLING:
        radius = float(np.sqrt(box.filling * sides.prod() / np.pi))
        fits.append(fit_circle(view, model, box.corners.mean(axis=0), radius))
    return [fit for fit in fits if fit is not None]


def _score(view: OutlineView, model: TableModel, stands: NDArray[np.bool_], outline: FittedOutline) -> float:
    """Weigh the edges along the outline by what is seen within and around: something, and then table."""
    target = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], np.float32) * CORNER_BOX_PX
    to_box = cv2.getPerspectiveTransform(outline.corners.astype(np.float32), target)
    inside = cv2.warpPerspective(stands.astype(np.float32), to_box, (CORNER_BOX_PX, CORNER_BOX_PX)) > 0.5
    middle = ellipse(CORNER_BOX_PX, CORNER_BOX_PX)
    filled, corners = float(inside[middle].mean()), float(inside[~middle].mean())
    fitting = 1.0 - corners if outline.round else corners
    around = _bare_around(view, model, outline)
    return outline.support * (0.3 + 0.7 * filled) * (0.5 + 0.5 * fitting) * (0.4 + 0.6 * around)


def _bare_around(view: OutlineView, model: TableModel, outline: FittedOutline) -> float:
    """Return the share, 0..1, of a strip around the outline that is table, in light or in shade."""
    masks = []
    for margin_mm in AROUND_MM:
        mask = np.zeros(view.seen.shape, np.uint8)
        wider = _widened(outline.corners, margin_mm * view.pixels_per_mm)
        if outline.round:
            radius = float(np.linalg.norm(wider[1] - wider[0])) / 2
            x, y = (int(value) for value in np.round(wider.mean(axis=0)))
            cv2.circle(mask, (x, y), round(radius), 1, cv2.FILLED)
        else:
            cv2.fillConvexPoly(mask, np.round(wider).astype(np.int32), 1)
        masks.append(mask.astype(bool))
    strip = masks[1] & ~masks[0] & view.seen
    bare = (model.distance < COLOUR_LEVELS[0]) | model.shaded
    return float(bare[strip].mean()) if strip.any() else 0.0


def _widened(corners: Points, margin: float) -> Points:
    """Move the sides of a rectangle (4, 2) outwards by `margin`."""
    across, down = corners[1] - corners[0], corners[3] - corners[0]
    x, y = across / np.linalg.norm(across) * margin, down / np.linalg.norm(down) * margin
    return np.asarray(corners + np.stack([-x - y, x - y, x + y, y - x]))


def _in_card_mm(
    view: OutlineView, model: TableModel, outline: FittedOutline, score: float
) -> PieceOutline | None:
    """Return an outline in card mm, with its border; None when it is too small."""
    corners = apply_homography(np.linalg.inv(view.from_card), outline.corners)
    sides = np.linalg.norm(corners[1:3] - corners[:2], axis=1)
    if sides.min() < SMALLEST_SIDE_MM:
        return None
    return PieceOutline(
        corners=corners,
        shape=OutlineShape.ROUND if outline.round else OutlineShape.RECTANGLE,
        border_mm=border_px(view, model, outline) / view.pixels_per_mm,
        score=score,
    )


def _same(first: PieceOutline, second: PieceOutline) -> bool:
    return first.shape == second.shape and _apart(first.corners, second.corners) < SAME_MM


def _apart(first: Points, second: Points) -> float:
    """Return the largest distance of corners when the second starts at its best corner."""
    return min(float(np.abs(np.roll(second, start, axis=0) - first).max()) for start in range(4))


def _clockwise(corners: Points) -> Points:
    """Return a quadrangle's corners clockwise as seen (y down)."""
    first, second = corners[1] - corners[0], corners[2] - corners[1]
    return corners if first[0] * second[1] - first[1] * second[0] > 0 else corners[::-1].copy()
