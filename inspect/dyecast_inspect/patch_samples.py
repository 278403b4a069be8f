"""Robust samples of the card's patches, white areas and bare paper, in the camera's linear light.

Every region is sampled on a regular lattice of points in card millimetres, moved into the photo, and read
at the nearest pixel. Within a region, points far from the median (dust, text, a speck of glare) are left
out before the mean is taken; the mean is taken in linear light, where noise has no bias.
"""

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.card_layout import CardLayout
from dyecast_shared.photo import FloatArray, Photo

Array = NDArray[np.float64]

PATCH_LATTICE = 20
"""Sample points along each side of a patch: 400 points hold the mean's noise below 1/20 of a pixel's."""

PATCH_INSET = 0.19
"""Share of a patch left out at each side, so that blur and sharpening at its edge do not count."""

PAPER_INSET_MM = 1.5
"""Bare paper keeps this far from anything printed, mm: ink spread, blur and sharpening halos."""

CARD_EDGE_INSET_MM = 3.0
"""Bare paper keeps this far from the card's edge, mm: edges lift, and their shadow falls outside."""

PAPER_CELLS = 13
"""Cells of bare paper along the card's longer side."""

PAPER_POINTS = 64
"""Sample points in each cell of bare paper."""

PAPER_LEAST_FILL = 0.25
"""A cell counts as bare paper when at least this share of it is unprinted."""

RULER_BAND_MM = (2.0, 9.0)
"""The ruler's ticks and lettering reach this far above and below its line, mm."""

RULER_TEXT = 1.3
"""The ruler with its lettering is at most this many times its own length."""

WHITE_CELL_MM = 15.0
"""White areas are cut into cells about this long, mm: a few each."""

OUTLIER_SPREADS = 3.5
"""Points further than this many robust standard deviations from the median are left out."""

CODE_STEP = 2.4 / 255.0
"""One 8-bit step in linear light is about this times the light to the power 1 - 1/2.4 (slope of a 2.4 power
law); the spread is never taken below it, as quantised flat patches have none."""

CLIPPED_CODE = 0.99
"""A code value from this share of the highest on counts as clipped (common practice of chart software)."""

MEDIAN_TO_SIGMA = 1.4826
"""Median absolute deviation to standard deviation, for a normal distribution."""


@dataclass(frozen=True, slots=True, eq=False)
class RegionSamples:
    """Samples of N regions of the card; all colours are the photo's own linear R, G, B in 0..1.

    Attributes
    ----------
    ids
        N names.
    centres_px, centres_mm
        (N, 2) float64: middle of the sampled points in the working photo and on the card.
    mean, median, spread
        (N, 3) float64: mean without outliers, median, and robust standard deviation within the region.
        NaN where less than half of the region is in the photo.
    clipped_share
        (N,) float64: share of points with any channel at 99 % of the highest code value or above.
    outlier_share
        (N,) float64: share of points left out of the mean.
    """

    ids: tuple[str, ...]
    centres_px: Array
    centres_mm: Array
    mean: Array
    median: Array
    spread: Array
    clipped_share: Array
    outlier_share: Array


@dataclass(frozen=True, slots=True, eq=False)
class PatchSamples:
    """What the photo shows of the card: its patches, its white areas in cells, and its bare paper in cells.

    `paper` covers the white areas too; cells that hold something unexpected are still in it.
    """

    patches: RegionSamples
    white_areas: RegionSamples
    paper: RegionSamples


def sample_patches(photo: Photo, card_to_photo: FloatArray, layout: CardLayout) -> PatchSamples:
    """Sample the card in the photo.

    Parameters
    ----------
    photo
        At working resolution.
    card_to_photo
        (3, 3) float64 homography from card mm to working pixels, centres at whole numbers.
    layout
        The card's design.
    """
    homography = np.asarray(card_to_photo, dtype=np.float64)
    patch_ids = tuple(patch.id for patch in layout.patches)
    white_ids, white_points = white_area_points(layout)
    paper_points = bare_paper_points(layout)
    paper_ids = tuple(f"paper {number}" for number in range(1, len(paper_points) + 1))
    return PatchSamples(
        patches=_sample(photo, homography, patch_ids, patch_points(layout)),
        white_areas=_sample(photo, homography, white_ids, white_points),
        paper=_sample(photo, homography, paper_ids, paper_points),
    )


@lru_cache(maxsize=8)
def patch_points(layout: CardLayout) -> Array:
    """Return the sample points of every patch, (N, 400, 2) float64, card mm."""
    rectangles = np.array([(p.x, p.y, p.width, p.height) for p in layout.patches])
    return _lattice(rectangles, PATCH_LATTICE, PATCH_INSET)


@lru_cache(maxsize=8)
def white_area_points(layout: CardLayout) -> tuple[tuple[str, ...], Array]:
    """Return names and sample points, (M, 100, 2) float64 card mm, of the cells of the white areas."""
    ids: list[str] = []
    rectangles: list[tuple[float, float, float, float]] = []
    for area in layout.white_areas:
        columns = max(1, round(area.width / WHITE_CELL_MM))
        rows = max(1, round(area.height / WHITE_CELL_MM))
        width, height = area.width / columns, area.height / rows
        for index in range(columns * rows):
            row, column = divmod(index, columns)
            ids.append(f"{area.id} {index + 1}")
            rectangles.append((area.x + column * width, area.y + row * height, width, height))
    return tuple(ids), _lattice(np.array(rectangles).reshape(-1, 4), PATCH_LATTICE // 2, PATCH_INSET / 2)


@lru_cache(maxsize=8)
def bare_paper_points(layout: CardLayout) -> Array:
    """Return sample points, (M, 64, 2) float64 card mm, of cells of paper that should carry no print.

    The card is cut into square cells; in each, the points clear of markers, patches, ruler and edge are
    kept, and a cell counts when enough of it is clear.
    """
    cell = max(layout.width, layout.height) / PAPER_CELLS
    step = cell / 12.0
    cells = []
    for top in np.arange(0.0, layout.height, cell):
        for left in np.arange(0.0, layout.width, cell):
            x, y = np.meshgrid(left + (np.arange(12) + 0.5) * step, top + (np.arange(12) + 0.5) * step)
            points = np.column_stack([x.ravel(), y.ravel()])
            clear = points[_is_bare(points, layout)]
            if len(clear) >= PAPER_LEAST_FILL * len(points):
                chosen = np.linspace(0, len(clear) - 1, PAPER_POINTS).round().astype(int)
                cells.append(clear[chosen])
    return np.array(cells).reshape(-1, PAPER_POINTS, 2)


def _is_bare(points: Array, layout: CardLayout) -> NDArray[np.bool_]:
    x, y = points[:, 0], points[:, 1]
    edge = CARD_EDGE_INSET_MM
    bare = (x > edge) & (x < layout.width - edge) & (y > edge) & (y < layout.height - edge)
    printed = [(m.x, m.y, m.size, m.size) for m in layout.markers]
    printed += [(p.x, p.y, p.width, p.height) for p in layout.patches]
    if layout.ruler is not None:
        above, below = RULER_BAND_MM
        ruler = layout.ruler
        printed.append((ruler.x, ruler.y - above, ruler.length * RULER_TEXT, above + below))
    margin = PAPER_INSET_MM
    for left, top, width, height in printed:
        inside_x = (x > left - margin) & (x < left + width + margin)
        bare &= ~(inside_x & (y > top - margin) & (y < top + height + margin))
    return bare


def _lattice(rectangles: Array, count: int, inset: float) -> Array:
    share = inset + (1.0 - 2.0 * inset) * (np.arange(count) + 0.5) / count
    grid_x, grid_y = np.meshgrid(share, share)
    unit = np.column_stack([grid_x.ravel(), grid_y.ravel()])
    return np.asarray(rectangles[:, None, :2] + unit[None] * rectangles[:, None, 2:], dtype=np.float64)


def _sample(photo: Photo, homography: Array, ids: tuple[str, ...], points_mm: Array) -> RegionSamples:
    points_px = move_points(homography, points_mm)
    height, width = photo.pixels.shape[:2]
    column, row = np.rint(points_px[..., 0]), np.rint(points_px[..., 1])
    inside = (column >= 0) & (column < width) & (row >= 0) & (row < height)
    codes = photo.pixels[
        np.where(inside, row, 0).astype(np.intp), np.where(inside, column, 0).astype(np.intp)
    ]
    limit = CLIPPED_CODE * float(np.iinfo(codes.dtype).max)
    linear = photo.linear(codes).astype(np.float64)
    median, spread, mean, outliers = _robust(linear, inside)
    return RegionSamples(
        ids=ids,
        centres_px=points_px.mean(axis=1),
        centres_mm=points_mm.mean(axis=1),
        mean=mean,
        median=median,
        spread=spread,
        clipped_share=((codes >= limit).any(axis=-1) & inside).mean(axis=1),
        outlier_share=outliers,
    )


def _robust(linear: Array, inside: NDArray[np.bool_]) -> tuple[Array, Array, Array, Array]:
    """Median, robust spread and trimmed mean over axis 1 of (N, K, 3), and the share left out, (N,)."""
    if len(linear) == 0:
        return np.zeros((0, 3)), np.zeros((0, 3)), np.zeros((0, 3)), np.zeros(0)
    median = _middle(linear)
    deviation = np.abs(linear - median[:, None])
    spread = MEDIAN_TO_SIGMA * _middle(deviation)
    step = CODE_STEP * np.maximum(median, 1e-3) ** (1.0 - 1.0 / 2.4)
    reach = OUTLIER_SPREADS * np.maximum(spread, step)
    kept = (deviation <= reach[:, None]).all(axis=-1) & inside
    count = kept.sum(axis=1)
    mean = (linear * kept[..., None]).sum(axis=1) / np.maximum(count, 1)[:, None]
    hidden = inside.mean(axis=1) < 0.5
    for values in (median, spread, mean):
        values[hidden] = np.nan
    return median, spread, np.where(count[:, None] > 0, mean, median), 1.0 - count / linear.shape[1]


def _middle(values: Array) -> Array:
    middle = values.shape[1] // 2
    ordered: NDArray[Any] = np.partition(values, middle, axis=1)
    return np.asarray(ordered[:, middle], dtype=np.float64)


def move_points(homography: Array, points: FloatArray) -> Array:
    """Move points, shape (..., 2), through a (3, 3) homography."""
    flat = np.asarray(points, dtype=np.float64)
    homogeneous = flat @ homography[:, :2].T + homography[:, 2]
    return np.asarray(homogeneous[..., :2] / homogeneous[..., 2:], dtype=np.float64)
