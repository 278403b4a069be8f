"""Pressing step by step: press, open, let cool, press again with the paper still in place."""

from dataclasses import dataclass, replace
from enum import Enum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dyecast_calibration.press.conduction_grid import (
    ConductionGrid,
    conduction_grid,
    opened_press,
    taken_off,
)
from dyecast_calibration.press.heat_conduction import FIRST_STEP, HeatHistory, conduct, step_lengths
from dyecast_calibration.press.press_model import (
    ROOM_TEMPERATURE,
    ExpectedPressing,
    exposures,
    transferred_fraction,
)
from dyecast_calibration.press.press_parameters import PressParameters
from dyecast_calibration.press.press_stack import PressStack


class CoolingPlace(Enum):
    """Where a piece lies between two pressings."""

    ON_THE_PAD = "on the pad, under the open press"
    ON_A_BOARD = "on a board beside the press"


@dataclass(frozen=True, slots=True, eq=False)
class PressingState:
    """A stack at one moment, with what dye and coating have gone through so far.

    Attributes
    ----------
    temperatures
        (members, cells) K, cells as `conduction_grid` cuts the stack.
    exposure
        (members,) dye exposure, see `dye_uptake`.
    damage
        (members,) damage, see `ExpectedPressing`.
    """

    temperatures: NDArray[np.float64]
    exposure: NDArray[np.float64]
    damage: NDArray[np.float64]


def before_pressing(stack: PressStack, parameters: PressParameters) -> PressingState:
    """Return the state of a stack at room temperature, without dye; members as in the parameters."""
    members = np.broadcast(*(np.atleast_1d(value) for value in _fields(parameters))).size
    cells = len(conduction_grid(stack).capacities)
    return PressingState(np.full((members, cells), ROOM_TEMPERATURE), np.zeros(members), np.zeros(members))


def pressed(
    state: PressingState,
    stack: PressStack,
    platen_temperature: ArrayLike,
    seconds: float,
    parameters: PressParameters,
) -> PressingState:
    """Return the state after pressing for `seconds`; the platen's temperature in K, one or (members,)."""
    return _later(state, _pressing(state, stack, platen_temperature, seconds, parameters), parameters)


def cooled(
    state: PressingState,
    stack: PressStack,
    seconds: float,
    parameters: PressParameters,
    place: CoolingPlace = CoolingPlace.ON_A_BOARD,
) -> PressingState:
    """Return the state after `seconds` with the press open. While the coating is hot, dye moves on."""
    grid = _grid(state, stack, parameters)
    open_grid = taken_off(grid) if place is CoolingPlace.ON_A_BOARD else opened_press(grid)
    history = _history(open_grid, state, np.zeros(len(state.exposure)), seconds)
    return _later(state, history, parameters)


def continue_pressing(
    state: PressingState,
    stack: PressStack,
    platen_temperature: ArrayLike,
    times: ArrayLike,
    parameters: PressParameters,
) -> ExpectedPressing:
    """Tell what becomes of a piece that is pressed again, from whatever state it is in.

    Parameters
    ----------
    state
        From `pressed` and `cooled`; its heat, dye and damage all count.
    stack
        The same stack as before.
    platen_temperature
        K, one or (members,).
    times
        (times,) s of the second pressing, from 0.
    parameters
        Of press, dye and coating.

    Returns
    -------
    Transferred fraction, damage and coating temperature (members, times) of both pressings together.
    """
    moments = np.atleast_1d(np.asarray(times, np.float64))
    longest = max(float(np.max(moments)), FIRST_STEP)  # so that 0 s can be asked for
    history = _pressing(state, stack, platen_temperature, longest, parameters)
    exposure, damage = exposures(history.times, history.coating, moments, parameters)
    exposure, damage = exposure + state.exposure[:, None], damage + state.damage[:, None]
    temperature = np.array([np.interp(moments, history.times, row) for row in history.coating])
    return ExpectedPressing(transferred_fraction(exposure, damage, parameters), damage, temperature)


def _pressing(
    state: PressingState,
    stack: PressStack,
    platen_temperature: ArrayLike,
    seconds: float,
    parameters: PressParameters,
) -> HeatHistory:
    platen = np.asarray(platen_temperature, np.float64) + np.asarray(parameters.platen_offset, np.float64)
    everyone = np.broadcast_to(platen, state.exposure.shape)
    return _history(_grid(state, stack, parameters), state, everyone, seconds)


def _grid(state: PressingState, stack: PressStack, parameters: PressParameters) -> ConductionGrid:
    scales = np.asarray(parameters.contact_scale, np.float64)
    return conduction_grid(stack, np.broadcast_to(scales, state.exposure.shape))


def _history(
    grid: ConductionGrid, state: PressingState, platen: NDArray[np.float64], seconds: float
) -> HeatHistory:
    return conduct(grid, state.temperatures, platen, ROOM_TEMPERATURE, step_lengths(seconds))


def _later(state: PressingState, history: HeatHistory, parameters: PressParameters) -> PressingState:
    end = history.times[-1:]
    if end[0] == 0.0:
        return state
    exposure, damage = exposures(history.times, history.coating, end, parameters)
    return replace(
        state,
        temperatures=history.temperatures,
        exposure=state.exposure + exposure[:, 0],
        damage=state.damage + damage[:, 0],
    )


def _fields(parameters: PressParameters) -> list[ArrayLike]:
    return [getattr(parameters, name) for name in PressParameters.__dataclass_fields__]
