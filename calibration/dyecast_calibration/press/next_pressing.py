"""The next pressing that serves the goal best: a good piece with the fewest blanks, then the window's centre.

Looks one pressing ahead: for every setting, how likely the piece is good, and if it is not, how well its
grade and measured ink would tell where good lies. Source: one-step look-ahead of Bayesian experimental
design, here over the members and the confusion of the grader.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.press.grader_confusion import grade_chances
from dyecast_calibration.press.learning import SupplierClaim
from dyecast_calibration.press.press_window import PressLimits, PressWindow
from dyecast_calibration.press.tried_pressing import TriedPressing

READ_BANDS: Final = (0.6, 0.75)
"""Transferred fractions that part pale pieces into three outcomes when looking ahead. Our choice."""

READ_BLUR: Final = 0.05
"""Standard deviation of a measured fraction when looking ahead: photo 0.04 and piece 0.03 together."""

WORST_TAIL: Final = 10.0
"""Blanks at most that count as still lost after one outcome, so that one hopeless member decides nothing."""

SAME: Final = 0.02
"""Blanks, or chance, by which two settings count as alike; then the one nearest to what is known is taken."""


SAME_KELVIN, SAME_SECONDS = 0.6, 0.6
"""K and s within which two settings are the same to a press's display."""


class Goal(Enum):
    """What the next pressing is for."""

    FIRST_GOOD = "a good piece with the fewest blanks"
    CENTRE = "the centre of the window"


@dataclass(frozen=True, slots=True)
class StepSize:
    """How far a next pressing may lie from the supplier's figure or a tried one, and how much heat is risked.

    `temperature` in K, `time` a factor, `over` the most chance of over-pressing unless nothing less is left.
    """

    temperature: float
    time: float
    over: float


USUAL_STEPS: Final = StepSize(15.0, 3.0, 0.5)
SMALL_STEPS: Final = StepSize(6.0, 1.3, 0.1)
"""For usual and for dear blanks. A pale piece with its paper on can be pressed again, an over-pressed one is
lost. Our choice."""


@dataclass(frozen=True, slots=True)
class NextPressing:
    """What to press next.

    Attributes
    ----------
    temperature, time
        K as the press shows it, and s.
    pale, good, over
        How likely the piece comes out each way.
    goal
        What it serves.
    expected_lost
        Blanks expected to be lost until the first good piece, or of the next piece when there is one already.
    """

    temperature: float
    time: float
    pale: float
    good: float
    over: float
    goal: Goal
    expected_lost: float


def next_pressing(
    window: PressWindow,
    supplier: SupplierClaim,
    limits: PressLimits,
    tried: Sequence[TriedPressing] = (),
    steps: StepSize = USUAL_STEPS,
) -> NextPressing:
    """Choose the next pressing, among those of the window, within the limits.

    Raises ValueError for a window of which nothing lies within the limits.
    """
    goal = Goal.CENTRE if any(one.grades[-1:] == ("good",) for one in tried) else Goal.FIRST_GOOD
    lost = expected_lost(window) if goal is Goal.FIRST_GOOD else 1.0 - robustly_good(window)
    allowed = _allowed(window, limits)
    cautious = allowed & ~_more_than_too_much(window, tried)
    allowed = cautious if cautious.any() else allowed
    reach = allowed & _within_steps(window, supplier, tried, steps)
    wanted = reach if reach.any() else allowed
    cool = wanted & (window.over <= max(steps.over, window.over[wanted].min()))
    costs = np.where(cool, lost, np.inf)
    alike = costs <= costs.min() + SAME
    place = np.unravel_index(
        np.argmin(np.where(alike, _distance(window, _anchors(supplier, tried, goal)), np.inf)), costs.shape
    )
    return NextPressing(
        temperature=float(window.temperatures[place[0]]),
        time=float(window.times[place[1]]),
        pale=float(window.pale[place]),
        good=float(window.good[place]),
        over=float(window.over[place]),
        goal=goal,
        expected_lost=float(lost[place]),
    )


def expected_lost(window: PressWindow) -> NDArray[np.float64]:
    """Tell how many blanks are lost until the first good piece when each setting (n, m) is tried next.

    Itself, unless it is good and graded so; and after each outcome but a good grade, those lost on average at
    the setting that is then the best: (1 - chance) / chance.
    """
    graded = grade_chances(window.transferred, window.damage)
    shape, sold = window.good.shape, _sold(window, graded).reshape(len(window.transferred), -1)
    lost = 1.0 - sold.mean(axis=0)
    for outcome in _bad_outcomes(window, graded):
        weights = outcome.reshape(sold.shape).astype(np.float32)
        total = weights.sum(axis=0)
        after = sold.T @ (weights / np.maximum(total, 1e-12))
        best = np.maximum(after.max(axis=0), 1.0 / (1.0 + WORST_TAIL))
        lost = lost + total / len(sold) * (1.0 - best) / best
    return np.asarray(lost.reshape(shape), np.float64)


def robustly_good(window: PressWindow) -> NDArray[np.float64]:
    """Return the chance of a piece that is good and graded so, (n, m), averaged over neighbouring settings.

    A press swings by some kelvin and a hand by some seconds; the middle of the window bears both.
    """
    good = _sold(window, grade_chances(window.transferred, window.damage)).mean(axis=0)
    for axis in (0, 1):
        moved = np.moveaxis(good, axis, 0)
        padded = np.concatenate([moved[:1], moved, moved[-1:]])
        good = np.moveaxis((padded[:-2] + 2.0 * moved + padded[2:]) / 4.0, 0, axis)
    return np.asarray(good)


def _sold(window: PressWindow, graded: NDArray[np.float64]) -> NDArray[np.float32]:
    """Return the chances (members, n, m) of a piece that is good and graded so."""
    return np.asarray(window.is_good * graded[1], np.float32)


def _bad_outcomes(window: PressWindow, graded: NDArray[np.float64]) -> list[NDArray[np.float64]]:
    """Return the chances (members, n, m) of every outcome but a good grade, from those of the grades."""
    from scipy.special import ndtr

    under, _, over = graded
    below = [ndtr((band - window.transferred) / READ_BLUR) for band in READ_BANDS]
    edges = [np.zeros_like(under), *below, np.ones_like(under)]
    return [*(under * (upper - lower) for lower, upper in pairwise(edges)), over]


def _allowed(window: PressWindow, limits: PressLimits) -> NDArray[np.bool_]:
    """Return which settings lie within the limits; ValueError when none does."""
    allowed = np.array(
        [[limits.allow(kelvin, time) for time in window.times] for kelvin in window.temperatures]
    )
    if not allowed.any():
        raise ValueError("no pressing of the window lies within the limits")
    return allowed


def _more_than_too_much(window: PressWindow, tried: Sequence[TriedPressing]) -> NDArray[np.bool_]:
    """Return which settings bring more heat than a piece that was over-pressed, by its newest grade.

    Unless a piece with at least that much heat was not: then the grades contradict each other, and the
    members decide.
    """
    beyond = np.zeros(window.good.shape, bool)
    hot = [one for one in tried if one.grades[-1:] == ("over-pressed",)]
    for one in hot:
        if any(other.grades and other not in hot and _at_least(other, one) for other in tried):
            continue
        warmer = (window.temperatures > one.platen_temperature - SAME_KELVIN)[:, None]
        longer = window.times > one.time - SAME_SECONDS
        warm = np.abs(window.temperatures - one.platen_temperature)[:, None] <= SAME_KELVIN
        alike = warm & (np.abs(window.times - one.time) <= SAME_SECONDS)
        beyond |= warmer & longer & ~alike
    return beyond


def _at_least(other: TriedPressing, one: TriedPressing) -> bool:
    """Tell whether a pressing brought at least as much heat as another, in both temperature and time."""
    warm = other.platen_temperature >= one.platen_temperature - SAME_KELVIN
    return warm and other.time >= one.time - SAME_SECONDS


def _anchors(
    supplier: SupplierClaim, tried: Sequence[TriedPressing], goal: Goal
) -> list[tuple[float, float]]:
    """Return the settings that a choice among alike ones stays near: good pieces, else what is known."""
    if goal is Goal.CENTRE:
        return [(one.platen_temperature, one.time) for one in tried if one.grades[-1:] == ("good",)]
    return [(supplier.platen_temperature, supplier.time)]


def _within_steps(
    window: PressWindow, supplier: SupplierClaim, tried: Sequence[TriedPressing], steps: StepSize
) -> NDArray[np.bool_]:
    """Return which settings lie within one step of the supplier's figure or a tried pressing."""
    known = [(supplier.platen_temperature, supplier.time)]
    known += [(one.platen_temperature, one.time) for one in tried]
    reach = np.zeros(window.good.shape, bool)
    for kelvin, time in known:
        near = np.abs(window.temperatures - kelvin) <= steps.temperature + 1e-6
        quick = np.abs(np.log(window.times / time)) <= np.log(steps.time) + 1e-6
        reach |= near[:, None] & quick
    return reach


def _distance(window: PressWindow, anchors: Sequence[tuple[float, float]]) -> NDArray[np.float64]:
    """Return how far each setting lies from the nearest anchor: 10 K count as much as half the time again."""
    distances = [
        np.hypot(
            (window.temperatures[:, None] - kelvin) / 10.0, np.log(window.times / time)[None] / np.log(1.5)
        )
        for kelvin, time in anchors
    ]
    return np.asarray(np.min(distances, axis=0))
