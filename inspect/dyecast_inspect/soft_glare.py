"""Tell a piece that is pale from one half covered by a soft mirrored light, which makes it look pale.

The fitted veil is a constant and two slopes, as a mirrored room gives. A bright panel or window mirrored over
half a piece adds far more light to that half, and the fit makes of it what it can: less ink (a veil flattens
contrast, as missing ink does) and a light that falls off steeply. Either shows:

- light left over: in small tiles, measured light is a straight line through the light the fit predicts; where
  a veil lies, the line is lifted, and the lift runs over the piece from one side to the other;
- a fall-off of the light, over and above the one the card tells, that no lamp has.

Only a piece that looks pale is questioned: soft glare makes no piece look better inked than it is.
"""

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from dyecast_inspect.explain_surface import ExplainedPiece
from dyecast_inspect.fit_pressing import GAIN
from dyecast_inspect.hidden_place import place_words
from dyecast_inspect.measure_piece import MeasuredPiece
from dyecast_shared.errors import PieceHidden

TILES: Final = 6
"""Tiles a side: small against half a piece, large enough to hold darks and lights of most artworks."""

LEAST_PIXELS: Final = 15
"""Judged pixels of the fit that a tile needs: an eighth of it."""

SLOPE_SPREAD: Final = 0.1
"""How far a tile's line may depart from the slope 1, standard deviation: local gain, twice the prior's
curvature of the light."""

NOISE: Final = 0.03
"""Noise of one pixel of the fit, light as a share of white; a tile's own scatter counts as a third of it or
more."""

TOGETHER: Final = 4.0
"""Neighbouring pixels share their errors: so many count as one."""

MOST_LIFT: Final = 0.05
"""Lift from the middle of the piece to its edge, share of white, from which it is a mirrored light. Our
choice: pale scenes without soft glare reached 0.044 with a step, while 0.2 of white over half a piece gives
0.06 and more."""

LEAST_STEP: Final = 0.08
"""Difference between the tiles with much and with little lift, share of white, that must go with it: a few
odd tiles make a slope, but no step. Two faces of glass that mirror 4 % of white each; pale rendered pieces
without soft glare reached 0.073."""

MOST_FALL_OFF: Final = 0.5
"""Fitted log gain from the middle of the piece to its edge, beyond the card's gradient, that no lamp
explains: 2.7 times the light from edge to edge. The prior's standard deviation is 0.15; pale scenes without
soft glare reached 0.22."""

OUTER_SHARE: Final = 0.15
"""Share of the weight left out at each end when tiles with much and little lift are compared."""

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class SoftGlare:
    """Signs of a soft mirrored light over part of a piece.

    Attributes
    ----------
    lift
        Light left over by the fit, from the middle of the piece to its edge, share of white.
    step
        Light left over where there is much of it minus where there is little, share of white.
    fall_off
        Fitted log gain from the middle of the piece to its edge.
    toward
        Direction in which it gets lighter, (u, v), right and down in the artwork as it is held.
    """

    lift: float
    step: float
    fall_off: float
    toward: tuple[float, float]

    @property
    def seen(self) -> bool:
        """Whether the signs are those of a mirrored light rather than of a lamp and a pale piece."""
        return (self.lift > MOST_LIFT and self.step > LEAST_STEP) or self.fall_off > MOST_FALL_OFF


def check_soft_glare(piece: MeasuredPiece, explained: ExplainedPiece, least_fraction: float) -> None:
    """Refuse a piece that looks pale under signs of a soft mirrored light; raises PieceHidden.

    `least_fraction` is the share of the intended ink below which a piece is called pale.
    """
    pressing = explained.fit.pressing()
    if (pressing.cyan + pressing.magenta + pressing.yellow) / 3.0 >= least_fraction:
        return
    glare = soft_glare(piece, explained)
    if glare.seen:
        raise PieceHidden(
            f"The piece looks pale, but a soft light seems to be mirrored {place_words(*glare.toward)}, "
            "which would make a good piece look so.",
            advice="Hold a dark card where the glass mirrors the light, or turn the piece. If it looks the "
            "same then, the ink itself arrived unevenly.",
        )


def soft_glare(piece: MeasuredPiece, explained: ExplainedPiece) -> SoftGlare:
    """Measure the signs on a fitted piece."""
    tiles = tile_lifts(piece, explained)
    lift, (across, down) = _slope(tiles)
    gain = explained.fit.parameters[GAIN]
    fall_off = float(np.hypot(gain[1], gain[2]))
    toward = (across, down) if lift > MOST_LIFT else (float(gain[1]), float(gain[2]))
    return SoftGlare(lift, _step(tiles), fall_off, toward)


def tile_lifts(piece: MeasuredPiece, explained: ExplainedPiece) -> Array:
    """Return u, v (-1..1, right and down), lift and its standard uncertainty of every usable tile, (n, 4)."""
    expected, seen, judged = (_tiled(picture) for picture in _pictures(piece, explained))
    usable = judged.sum(axis=1) >= LEAST_PIXELS
    row, column = np.divmod(np.flatnonzero(usable), TILES)
    lift, uncertainty = line_lifts(expected[usable], seen[usable], judged[usable])
    return np.stack([_along(column), _along(row), lift, uncertainty], axis=1)


def _tiled(picture: NDArray[np.floating | np.bool_]) -> Array:
    """Cut a picture (h, w) into tiles, (TILES², pixels), padded with 0 where a tile is smaller."""
    (rows, down), (columns, across) = (_places(side) for side in picture.shape)
    height, width = down.max() + 1, across.max() + 1
    padded = np.zeros((TILES, height, TILES, width))
    padded[rows[:, np.newaxis], down[:, np.newaxis], columns, across] = picture
    return padded.transpose(0, 2, 1, 3).reshape(TILES * TILES, height * width)


def _places(side: int) -> tuple[NDArray[np.integer], NDArray[np.integer]]:
    """Return for each pixel along a side which tile it lies in, and where in it."""
    pixels, begins = np.arange(side), np.arange(TILES) * side // TILES
    tile = np.searchsorted(begins, pixels, side="right") - 1
    return tile, pixels - begins[tile]


def line_lifts(expected: Array, seen: Array, counted: Array) -> tuple[Array, Array]:
    """Return the lift of a robust straight line near slope 1 through seen over expected light, tile by tile.

    All are (n, pixels); `counted` is 1 where a pixel counts and 0 elsewhere. The answers are (n,), the second
    the standard uncertainty. Three rounds of Cauchy weights (Holland and Welsch 1977).
    """
    terms, prior = np.stack([expected, np.ones_like(expected)], axis=-1), np.diag([1 / SLOPE_SPREAD**2, 0.0])
    weights = counted
    for _ in range(3):
        turned = (terms * weights[..., np.newaxis]).transpose(0, 2, 1)
        right = turned @ seen[..., np.newaxis] / NOISE**2 + prior[:, :1]
        line = np.linalg.solve(turned @ terms / NOISE**2 + prior, right)
        missed = seen - (terms @ line)[..., 0]
        weights = counted / (1.0 + (missed / (2 * NOISE)) ** 2)
    spread = np.sqrt((weights * missed**2).sum(axis=1) / weights.sum(axis=1))
    scatter = np.maximum(spread, NOISE / 3)[:, np.newaxis, np.newaxis]
    turned = (terms * weights[..., np.newaxis]).transpose(0, 2, 1)
    normal = turned @ terms / (TOGETHER * scatter**2) + prior
    return np.asarray(line[:, 1, 0]), np.asarray(np.sqrt(np.linalg.inv(normal)[:, 1, 1]))


def _along(index: NDArray[np.integer]) -> Array:
    """Return where the middle of a tile lies, -1..1."""
    return (index + 0.5) / TILES * 2 - 1


def _pictures(piece: MeasuredPiece, explained: ExplainedPiece) -> tuple[Array, Array, NDArray[np.bool_]]:
    """Return light predicted and measured, veil taken off, mean of the bands, and where it was judged."""
    height, width = explained.fit.agreement.shape
    mask = explained.judged.astype(np.float32)
    light = cv2.resize(piece.bands * mask[..., np.newaxis], (width, height), interpolation=cv2.INTER_AREA)
    share = cv2.resize(mask, (width, height), interpolation=cv2.INTER_AREA)
    veil = explained.fit.veil(height, width)[..., np.newaxis]
    seen = light / np.maximum(share, 1e-3)[..., np.newaxis] - veil
    expected = np.maximum(explained.fit.predicted - veil, 0.0)
    return np.asarray(expected.mean(axis=2)), np.asarray(seen.mean(axis=2)), np.asarray(share > 0.7)


def _weights(tiles: Array) -> Array:
    """Return the weight of each tile: its certainty, none being surer than two thirds of the noise."""
    return np.asarray(1.0 / (tiles[:, 3] ** 2 + (2 * NOISE / 3) ** 2))


def _slope(tiles: Array) -> tuple[float, tuple[float, float]]:
    """Return the lift from middle to edge along its steepest direction, and that direction."""
    if len(tiles) < TILES:
        return 0.0, (0.0, 0.0)
    terms, weights = np.column_stack([np.ones(len(tiles)), tiles[:, :2]]), _weights(tiles)
    normal = (terms * weights[:, np.newaxis]).T @ terms + 1e-6 * np.eye(3)
    plane = np.linalg.solve(normal, (terms * weights[:, np.newaxis]).T @ tiles[:, 2])
    return float(np.hypot(plane[1], plane[2])), (float(plane[1]), float(plane[2]))


def _step(tiles: Array) -> float:
    """Return the spread of the lifts between their outer shares."""
    if len(tiles) < TILES:
        return 0.0
    order = np.argsort(tiles[:, 2])
    share = np.cumsum(_weights(tiles)[order]) / _weights(tiles).sum()
    low, high = np.searchsorted(share, [OUTER_SHARE, 1.0 - OUTER_SHARE])
    lifts = tiles[order, 2]
    return float(lifts[min(high, len(lifts) - 1)] - lifts[low])
