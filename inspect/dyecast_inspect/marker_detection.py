"""Where the markers of the known cards are, to about two pixels.

Dark quadrilaterals are sought in a reduced picture; whether one is a marker, and which, is decided by
correlating its cells, sampled at working resolution, with the printed patterns. On rendered photos with the
blur of a phone this read every marker of every card, where reading bit by bit in the reduced picture lost 1
marker in 20.
"""

from collections.abc import Iterable, Sequence
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.card_layout import CardLayout
from dyecast_inspect.card_sighting import SeenMarker
from dyecast_shared.photo import Photo

DETECTION_SIDES_PX = (1000, 2000, 500)
"""Long side of the reduced picture, tried in this order until a card is complete: 1000 finds a marker of 15
px and costs few ms; 2000 is for cards far away, 500 for photos so blurred that only coarse shapes are
left."""

OUTLINE_PX_LEAST = 28
"""Shortest outline of a quadrilateral, reduced pixels: 7 pixels a side, one for each cell."""

POLYGON_ACCURACY = 0.05
"""How far an outline may stray from its polygon, as a share of its length: a fifth of a square's side."""

THRESHOLD_LEVELS = 7
"""Grey levels below the mean of its surroundings from which a pixel counts as dark; noise stays below."""

THRESHOLD_WINDOW_PX = 15
"""Window of the adaptive threshold, reduced pixels: more than a marker's cell, less than a marker."""

LIKENESS_LIMIT = 0.65
"""Least correlation of the 25 inner cells with a printed pattern. A blur of half a cell leaves 0.8; unrelated
patterns of 25 cells correlate with a standard deviation of 0.2, so 0.65 is met by chance once in 1700 tries,
and the corners must then agree with another marker's."""

BORDER_LIMIT = 0.7
"""Mean level of the border cells, 0 = the darkest and 1 = the brightest cell; a marker's border is dark."""

SAMPLES_PER_CELL = 3
"""Samples along each side of a cell, averaged."""


def grey_of(photo: Photo) -> NDArray[np.uint8]:
    """Return the photo in 8-bit grey (Rec. 601 weights, encoded values), working size."""
    pixels = photo.pixels
    if pixels.dtype == np.uint16:
        pixels = (pixels >> 8).astype(np.uint8)
    return np.asarray(cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY), dtype=np.uint8)


@cache
def marker_cells(dictionary: str, identity: int) -> NDArray[np.float64]:
    """Return the (n, n) cells of a marker, border included; 0 black, 1 white."""
    predefined = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, dictionary))
    cells = int(predefined.markerSize) + 2
    return np.asarray(cv2.aruco.generateImageMarker(predefined, identity, cells), dtype=np.float64) / 255


def detect_markers(
    grey: NDArray[np.uint8], layouts: Sequence[CardLayout], long_side: int
) -> list[SeenMarker]:
    """Return every marker of these layouts seen in the picture, mirrored ones too, best likeness first.

    Parameters
    ----------
    grey
        (H, W) uint8, working size.
    layouts
        The cards looked for.
    long_side
        Longer side of the picture in which quadrilaterals are sought, pixels.
    """
    proposals = propose_quadrilaterals(grey, long_side)
    seen: list[SeenMarker] = []
    for dictionary in dict.fromkeys(layout.marker_dictionary for layout in layouts):
        wanted = [marker.id for x in layouts if x.marker_dictionary == dictionary for marker in x.markers]
        seen += read_markers(grey, proposals, dictionary, wanted)
    return _without_repeats(sorted(seen, key=lambda marker: -marker.likeness))


def detection_sides(grey: NDArray[np.uint8]) -> tuple[int, ...]:
    """Return those of `DETECTION_SIDES_PX` that reduce this picture, (H, W), differently, in their order."""
    by_factor: dict[int, int] = {}
    for long_side in DETECTION_SIDES_PX:
        by_factor.setdefault(_reduction(grey, long_side), long_side)
    return tuple(by_factor.values())


def _reduction(grey: NDArray[np.uint8], long_side: int) -> int:
    """Return by how much the picture is reduced for a long side of about so many pixels."""
    return max(1, round(float(max(grey.shape)) / long_side))


def _without_repeats(markers: Sequence[SeenMarker]) -> list[SeenMarker]:
    """Leave out markers of the same id in the same place: a border is followed inside and outside."""
    kept: list[SeenMarker] = []
    for marker in markers:
        side = float(np.linalg.norm(marker.corners_px[1] - marker.corners_px[0]))
        middle = marker.corners_px.mean(axis=0)
        if all(
            (marker.dictionary, marker.id) != (other.dictionary, other.id)
            or np.linalg.norm(other.corners_px.mean(axis=0) - middle) > side / 2
            for other in kept
        ):
            kept.append(marker)
    return kept


def propose_quadrilaterals(grey: NDArray[np.uint8], long_side: int) -> NDArray[np.float64]:
    """Return dark convex quadrilaterals as (N, 4, 2) corners, working pixels, clockwise as seen.

    Adaptive threshold, outlines, polygons of four corners: the first stage of ArUco (Garrido-Jurado and
    others 2014, "Automatic generation and detection of highly reliable fiducial markers", Pattern
    Recognition 47).
    """
    factor = _reduction(grey, long_side)
    size = (grey.shape[1] // factor, grey.shape[0] // factor)
    whole = grey[: size[1] * factor, : size[0] * factor]
    small = cv2.resize(whole, size, interpolation=cv2.INTER_AREA) if factor > 1 else whole
    dark = cv2.adaptiveThreshold(
        small, 255, cv2.ADAPTIVE_THRESH_MEAN_C, cv2.THRESH_BINARY_INV, THRESHOLD_WINDOW_PX, THRESHOLD_LEVELS
    )
    without_specks = cv2.medianBlur(dark, 3)
    outlines, _ = cv2.findContours(without_specks, cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE)
    found = [_quadrilateral(x) for x in outlines if OUTLINE_PX_LEAST <= len(x) <= 2 * sum(size)]
    stacked = np.array([x for x in found if x is not None], dtype=np.float64).reshape(-1, 4, 2)
    return np.asarray((stacked + 0.5) * factor - 0.5)


def _quadrilateral(outline: cv2.typing.MatLike) -> NDArray[np.float64] | None:
    """Return the four corners of an outline, (4, 2) clockwise as seen, or None when it has no four."""
    polygon = cv2.approxPolyDP(outline, POLYGON_ACCURACY * len(outline), True)
    if len(polygon) != 4 or not cv2.isContourConvex(polygon):
        return None
    corners = np.asarray(polygon, dtype=np.float64).reshape(4, 2)
    return corners if cv2.contourArea(polygon, oriented=True) > 0 else corners[::-1]


def read_markers(
    grey: NDArray[np.uint8], quadrilaterals: NDArray[np.float64], dictionary: str, wanted: Iterable[int]
) -> list[SeenMarker]:
    """Return those quadrilaterals (N, 4, 2) that carry one of the wanted patterns, as markers."""
    wanted = list(wanted)
    count = len(marker_cells(dictionary, wanted[0]))
    patterns, keys = _pattern_table(dictionary, tuple(wanted))
    seen = []
    for corners in quadrilaterals:
        cells = sample_cells(grey, corners, count)
        if cells is None or _border(cells) > BORDER_LIMIT:
            continue
        likeness = patterns @ _standardised(cells[1:-1, 1:-1])
        best = int(np.argmax(likeness))
        if likeness[best] >= LIKENESS_LIMIT:
            identity, turn, mirrored = keys[best]
            seen.append(
                SeenMarker(
                    dictionary, identity, _turned(corners, turn, mirrored), float(likeness[best]), mirrored
                )
            )
    return seen


def sample_cells(
    grey: NDArray[np.uint8], corners: NDArray[np.float64], count: int
) -> NDArray[np.float64] | None:
    """Return mean levels of the (count, count) cells of a quadrilateral, scaled to 0..1, or None."""
    side = count * SAMPLES_PER_CELL
    edge = np.array(
        [[-0.5, -0.5], [side - 0.5, -0.5], [side - 0.5, side - 0.5], [-0.5, side - 0.5]], np.float32
    )
    transform = cv2.getPerspectiveTransform(edge, corners.astype(np.float32))
    if not np.isfinite(transform).all():
        return None
    patch = cv2.warpPerspective(grey, transform, (side, side), flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP)
    cells = patch.reshape(count, SAMPLES_PER_CELL, count, SAMPLES_PER_CELL).mean(
        axis=(1, 3), dtype=np.float64
    )
    span = float(np.ptp(cells))
    return (cells - cells.min()) / span if span >= 8 else None


def _border(cells: NDArray[np.float64]) -> float:
    return float((cells.sum() - cells[1:-1, 1:-1].sum()) / (cells.size - (len(cells) - 2) ** 2))


def _standardised(cells: NDArray[np.float64]) -> NDArray[np.float64]:
    """Flatten to zero mean and unit length, so that a dot product is a correlation."""
    flat = cells.ravel() - cells.mean()
    return np.asarray(flat / max(float(np.linalg.norm(flat)), 1e-9))


@cache
def _pattern_table(
    dictionary: str, wanted: tuple[int, ...]
) -> tuple[NDArray[np.float64], list[tuple[int, int, bool]]]:
    """Return every pattern in every turn and mirrored as rows, with (id, quarter turns, mirrored)."""
    rows, keys = [], []
    for identity in wanted:
        inner = marker_cells(dictionary, identity)[1:-1, 1:-1]
        for mirrored in (False, True):
            seen = inner.T if mirrored else inner
            for turn in range(4):
                rows.append(_standardised(np.rot90(seen, -turn)))
                keys.append((identity, turn, mirrored))
    return np.array(rows), keys


def _turned(corners: NDArray[np.float64], turn: int, mirrored: bool) -> NDArray[np.float64]:
    """Put the corner that is the marker's own top left first; mirrored markers run counter-clockwise."""
    turned = np.roll(corners, -turn, axis=0)
    return turned[[0, 3, 2, 1]] if mirrored else turned
