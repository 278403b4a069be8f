"""What to expect of a pressing: from platen temperature and time to dye transferred and damage done.

The heat equation is linear, so one integration serves all platen temperatures: the coating's warming, as a
share of the platen's step, depends on the contact only. Along it the dye's diffusion and the damage are
integrated by Arrhenius' law; one run gives all times.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dyecast_calibration.press.arrhenius import arrhenius_factor
from dyecast_calibration.press.conduction_grid import conduction_grid
from dyecast_calibration.press.dye_uptake import dye_uptake
from dyecast_calibration.press.heat_conduction import FIRST_STEP, conduct, step_lengths
from dyecast_calibration.press.press_parameters import PressParameters, columns
from dyecast_calibration.press.press_stack import PressStack

ROOM_TEMPERATURE: Final = 296.15
"""K, 23 °C, of everything before the pressing and of bed and air. Source: ISO 291 standard atmosphere."""

INTERPOLATED_CONTACTS: Final = 16
"""Above so many different contacts, warming is computed for this many and interpolated by a cubic spline in
the contact's logarithm; over a factor of 12 that is within 1e-5 of the step (measured in the tests)."""


@dataclass(frozen=True, slots=True, eq=False)
class Warming:
    """How a stack warms on a press, for one or many contacts.

    Attributes
    ----------
    times
        (steps,) s, from 0.
    shares
        (1 or members, steps): rise of the coating's temperature as a share of the platen's above the room.
    """

    times: NDArray[np.float64]
    shares: NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class ExpectedPressing:
    """What pressings of (members, times) come to.

    Attributes
    ----------
    transferred
        Share of the dye that a good piece of this kind holds: 1 = saturation.
    damage
        0 = none, 1 = the coating has yellowed as far as `grading_limits().most_yellowing`.
    coating_temperature
        K at the end.
    """

    transferred: NDArray[np.float64]
    damage: NDArray[np.float64]
    coating_temperature: NDArray[np.float64]


def expected_pressing(
    stack: PressStack, platen_temperatures: ArrayLike, times: ArrayLike, parameters: PressParameters
) -> ExpectedPressing:
    """Tell what to expect of pressings.

    Parameters
    ----------
    stack
        What lies in the press.
    platen_temperatures
        (members,) or one, K, as the press shows it. Members broadcast with those of the parameters.
    times
        (times,) s, zero or more; ValueError otherwise.
    parameters
        Of press, dye and coating.
    """
    moments = np.atleast_1d(np.asarray(times, np.float64))
    warming = warming_of(stack, parameters.contact_scale, float(np.max(moments)))
    return pressing_along(warming, platen_temperatures, moments, parameters)


def warming_of(stack: PressStack, contact_scale: ArrayLike, duration: float) -> Warming:
    """Compute how a stack warms in `duration` seconds, for the contact scales (members,) or one.

    It serves every platen temperature, dye and coating: for maps, compute it once.
    """
    scales = np.atleast_1d(np.asarray(contact_scale, np.float64))
    different, member = np.unique(scales, return_inverse=True)
    if len(different) <= INTERPOLATED_CONTACTS:
        warming = _integrated_warming(stack, different, duration)
        return Warming(warming.times, warming.shares[member] if len(scales) > 1 else warming.shares)
    from scipy.interpolate import CubicSpline

    lowest, highest = np.log(different[[0, -1]])
    nodes = np.linspace(lowest, highest, INTERPOLATED_CONTACTS)
    warming = _integrated_warming(stack, np.exp(nodes), duration)
    return Warming(warming.times, CubicSpline(nodes, warming.shares)(np.log(scales)))


def pressing_along(
    warming: Warming, platen_temperatures: ArrayLike, times: ArrayLike, parameters: PressParameters
) -> ExpectedPressing:
    """Tell what to expect of pressings whose warming is known; see `expected_pressing`.

    Members of warming, temperatures and parameters broadcast.
    """
    step = columns(platen_temperatures) + columns(parameters.platen_offset) - ROOM_TEMPERATURE
    temperatures = ROOM_TEMPERATURE + step * warming.shares
    moments = np.atleast_1d(np.asarray(times, np.float64))
    exposure, damage = exposures(warming.times, temperatures, moments, parameters)
    transferred = transferred_fraction(exposure, damage, parameters)
    return ExpectedPressing(transferred, damage, _at(warming.times, temperatures, moments))


def exposures(
    times: NDArray[np.float64],
    temperatures: NDArray[np.float64],
    moments: NDArray[np.float64],
    parameters: PressParameters,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return what dye and coating have gone through at some moments.

    Parameters
    ----------
    times
        (steps,) s.
    temperatures
        (members, steps) of the coating, K.
    moments
        (moments,) s within the times.
    parameters
        Of dye and coating.

    Returns
    -------
    (members, moments) dye exposure (see `dye_uptake`) and damage, from the first of the times on.
    """
    mobility, rate = columns(parameters.dye_mobility), columns(parameters.damage_rate)
    diffusion = mobility * arrhenius_factor(temperatures, columns(parameters.dye_activation_energy))
    yellowing = rate * arrhenius_factor(temperatures, columns(parameters.damage_activation_energy))
    return _gathered(times, diffusion, moments), _gathered(times, yellowing, moments)


def transferred_fraction(
    exposure: NDArray[np.float64], damage: NDArray[np.float64], parameters: PressParameters
) -> NDArray[np.float64]:
    """Tell the share of saturation a coating holds, (members, moments): what it took up, less what it lost.

    Loss is of first order, with the activation energy of the damage.
    """
    return np.asarray(dye_uptake(exposure) * np.exp(-columns(parameters.dye_loss) * damage))


def _integrated_warming(stack: PressStack, scales: NDArray[np.float64], duration: float) -> Warming:
    grid = conduction_grid(stack, scales)
    cold, platen = np.zeros_like(grid.to_platen), np.ones(len(scales))
    history = conduct(grid, cold, platen, 0.0, step_lengths(max(duration, FIRST_STEP)))
    return Warming(history.times, history.coating)


def _gathered(
    times: NDArray[np.float64], rates: NDArray[np.float64], moments: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Integrate rates (members, steps), straight between the times, from the first time to the moments."""
    pieces = np.diff(times) * (rates[:, 1:] + rates[:, :-1]) / 2.0
    sums = np.concatenate([np.zeros((len(rates), 1)), np.cumsum(pieces, axis=1)], axis=1)
    step, share = _place(times, moments)
    width = moments - times[step]
    slope = rates[:, step + 1] - rates[:, step]
    return np.asarray(sums[:, step] + width * (rates[:, step] + slope * share / 2.0))


def _at(
    times: NDArray[np.float64], values: NDArray[np.float64], moments: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Interpolate values (members, steps) at the moments."""
    step, share = _place(times, moments)
    return np.asarray(values[:, step] + share * (values[:, step + 1] - values[:, step]))


def _place(
    times: NDArray[np.float64], moments: NDArray[np.float64]
) -> tuple[NDArray[np.intp], NDArray[np.float64]]:
    """Return the step each moment falls into, and how far into it, 0 to 1."""
    if np.min(moments) < 0.0 or np.max(moments) > times[-1] + 1e-6:
        raise ValueError(f"a time of pressing must lie between 0 and {times[-1]:g} s")
    step = np.clip(np.searchsorted(times, moments, side="right") - 1, 0, len(times) - 2)
    return step, (moments - times[step]) / (times[step + 1] - times[step])
