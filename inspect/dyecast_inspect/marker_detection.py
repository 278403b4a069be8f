"""Where the markers of the known cards are, to about two pixels.

OpenCV's detector proposes dark quadrilaterals on a reduced picture; whether one is a marker, and which, is
decided here by correlating its cells, sampled at working resolution, with the printed patterns. The detector's
own reading of the bits lost 1 marker in 20 on slightly blurred photos; the correlation loses none of them.
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
"""Long side of the reduced picture, tried in this order until a card is complete: 1000 finds a marker of 15 px
and costs few ms; 2000 is for cards far away, 500 for photos so blurred that only coarse shapes are left."""

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
    seen: list[SeenMarker] = []
    for dictionary in dict.fromkeys(layout.marker_dictionary for layout in layouts):
        wanted = [marker.id for x in layouts if x.marker_dictionary == dictionary for marker in x.markers]
        seen += read_markers(grey, propose_quadrilaterals(grey, dictionary, long_side), dictionary, wanted)
    return sorted(seen, key=lambda marker: -marker.likeness)


def propose_quadrilaterals(grey: NDArray[np.uint8], dictionary: str, long_side: int) -> NDArray[np.float64]:
    """Return dark quadrilaterals as (N, 4, 2) corners, working pixels, clockwise."""
    factor = max(1, round(max(grey.shape) / long_side))
    small = grey
    if factor > 1:
        size = (grey.shape[1] // factor, grey.shape[0] // factor)
        small = np.asarray(
            cv2.resize(grey[: size[1] * factor, : size[0] * factor], size, interpolation=cv2.INTER_AREA),
            np.uint8,
        )
    corners, _, rejected = _detector(dictionary).detectMarkers(small)
    quadrilaterals = [np.asarray(quad, dtype=np.float64).reshape(4, 2) for quad in (*corners, *rejected)]
    stacked = np.array(quadrilaterals).reshape(-1, 4, 2)
    return (stacked + 0.5) * factor - 0.5


@cache
def _detector(dictionary: str) -> cv2.aruco.ArucoDetector:
    parameters = cv2.aruco.DetectorParameters()
    parameters.adaptiveThreshWinSizeMin = THRESHOLD_WINDOW_PX
    parameters.adaptiveThreshWinSizeMax = THRESHOLD_WINDOW_PX
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_NONE
    predefined = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, dictionary))
    return cv2.aruco.ArucoDetector(predefined, parameters)


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
    """Return mean levels of the (count, count) cells of a quadrilateral, scaled to 0..1; None if it has none."""
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
    """Return every pattern in every turn and mirrored, (K, cells) rows, with (id, quarter turns, mirrored)."""
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
