"""Transient heat conduction through a stack, by implicit finite differences.

Heat equation in one dimension with constant properties, cut into finite volumes (`conduction_grid`). In time
a diagonally implicit Runge-Kutta method of two stages and second order is used, which damps what is stiff
and conserves heat exactly. Source: Alexander 1977, SIAM J. Numer. Anal. 14:1006-1021, the method called
SDIRK2; its stiff accuracy means that the second stage is the new temperature.

All members form one symmetric positive definite tridiagonal matrix, which LAPACK factorises once for each
step length (pttrf) and solves in microseconds (pttrs).
"""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.press.conduction_grid import ConductionGrid

GAMMA: Final = 1.0 - math.sqrt(0.5)
"""The diagonal of the method; with this value it is of second order and L-stable."""

FIRST_STEP: Final = 0.1
"""s. The thinnest stack, a fabric under paper, warms within about a second."""

STEPS_OF_A_LENGTH: Final = 32
"""After so many steps their length doubles: a step is then 3 % of the time passed, as heating slows down."""

SHORTEST_REST: Final = 1e-9
"""s. What remains below this is rounding, and no step."""


@dataclass(frozen=True, slots=True, eq=False)
class HeatHistory:
    """What happened during some seconds.

    Attributes
    ----------
    times
        (steps + 1,) s, from 0.
    coating
        (members, steps + 1) temperature of the coating at those times, K.
    temperatures
        (members, cells) all temperatures at the end, K.
    heat_in
        (members,) heat that entered the stack over its borders, J/m².
    """

    times: NDArray[np.float64]
    coating: NDArray[np.float64]
    temperatures: NDArray[np.float64]
    heat_in: NDArray[np.float64]


def step_lengths(duration: float) -> NDArray[np.float64]:
    """Return the steps, s, that lead to `duration` (s, not negative; ValueError otherwise): short ones first.

    The last few are shortened together, so that the end is met exactly.
    """
    if not (math.isfinite(duration) and duration >= 0.0):
        raise ValueError(f"a time must be zero or more seconds, got {duration}")
    steps: list[float] = []
    length, left = FIRST_STEP, duration
    while left > 0.0:
        count = min(STEPS_OF_A_LENGTH, math.ceil(left / length))
        fitting = min(length, left / count)
        steps += [fitting] * count
        left = left - count * fitting if left > count * fitting + SHORTEST_REST else 0.0
        length *= 2.0
    return np.array(steps)


def conduct(
    grid: ConductionGrid,
    start: NDArray[np.float64],
    platen: NDArray[np.float64],
    ambient: float,
    steps: NDArray[np.float64],
) -> HeatHistory:
    """Follow the temperatures of a stack.

    Parameters
    ----------
    grid
        The stack cut into cells.
    start
        (members, cells) temperatures at the beginning, K.
    platen
        (members,) temperature of the platen, K.
    ambient
        Temperature of bed and air, K.
    steps
        (steps,) lengths of the time steps, s.
    """
    from scipy.linalg.lapack import dpttrf, dpttrs

    capacities, (leaving, between) = np.tile(grid.capacities, len(start)), _conductances(grid)
    source = (grid.to_platen * platen[:, None] + grid.to_ambient * ambient).ravel()
    now, passed, length = start.ravel(), np.zeros(start.size), 0.0
    coating = np.empty((len(steps) + 1, len(start)))
    coating[0] = start[:, grid.coating]
    for number, step in enumerate(steps, start=1):
        if step != length:
            length, weight = step, GAMMA * step
            diagonal, below, _ = dpttrf(capacities + weight * leaving, -weight * between)
            pushed = weight * source
        first = dpttrs(diagonal, below, capacities * now + pushed)[0]
        middle = now + (1.0 - GAMMA) / GAMMA * (first - now)
        now = dpttrs(diagonal, below, capacities * middle + pushed)[0]
        passed += step * ((1.0 - GAMMA) * first + GAMMA * now)
        coating[number] = now[grid.coating :: grid.capacities.size]
    times = np.concatenate([[0.0], np.cumsum(steps)])
    borders = grid.to_platen + grid.to_ambient
    heat = times[-1] * source.reshape(start.shape) - borders * passed.reshape(start.shape)
    return HeatHistory(times, coating.T, now.reshape(start.shape), heat.sum(axis=1))


def _conductances(grid: ConductionGrid) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the conductances out of every cell and between neighbours, members one after another."""
    between, nothing = np.zeros_like(grid.to_platen), np.zeros((len(grid.couplings), 1))
    between[:, :-1] = grid.couplings
    leaving = between + np.hstack([nothing, grid.couplings]) + grid.to_platen + grid.to_ambient
    return leaving.ravel(), between.ravel()[:-1]
