"""The map of time and temperature: how likely a piece comes out pale, good or over-pressed, within limits."""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.grading_limits import grading_limits
from dyecast_calibration.press.learning import LearnedBlank, SupplierClaim, thinned_warming
from dyecast_calibration.press.press_chances import MOST_DAMAGE
from dyecast_calibration.press.press_model import pressing_along
from dyecast_calibration.press.press_stack import PressStack
from dyecast_shared.units import (
    celsius_to_kelvin,
    fahrenheit_to_kelvin,
    kelvin_to_celsius,
    kelvin_to_fahrenheit,
)

USUAL_COOLER: Final = 10.0
"""K below the supplier's temperature that are planned in when nobody set a limit, what presses read wrong;
nothing above it, since coatings, inks and pads are sold for that temperature. Our choice."""

USUAL_SHORTER: Final = 0.5
USUAL_LONGER: Final = 3.0
"""Times the supplier's time, likewise. A weak contact asks for more time, hardly anything for less."""

MOST_TEMPERATURES: Final = 11
TIMES: Final = 28
"""How finely the map is cut. 28 times over a factor of six lie 7 % apart, a few seconds."""


@dataclass(frozen=True, slots=True)
class PressLimits:
    """What must not be passed: temperatures in K as the press shows them, times in s."""

    lowest_temperature: float
    highest_temperature: float
    shortest_time: float
    longest_time: float

    def __post_init__(self) -> None:
        """Raise ValueError when nothing lies between the limits."""
        if self.lowest_temperature > self.highest_temperature or self.shortest_time > self.longest_time:
            raise ValueError("no pressing lies between these limits")

    def allow(self, temperature: float, time: float) -> bool:
        """Tell whether a pressing lies within the limits."""
        warm = self.lowest_temperature <= temperature <= self.highest_temperature
        return warm and self.shortest_time <= time <= self.longest_time


@dataclass(frozen=True, slots=True, eq=False)
class PressWindow:
    """Every pressing that is considered, and what the members expect of it.

    Attributes
    ----------
    temperatures, times
        (n,) K and (m,) s.
    transferred, damage
        (members, n, m), see `ExpectedPressing`.
    """

    temperatures: NDArray[np.float64]
    times: NDArray[np.float64]
    transferred: NDArray[np.float64]
    damage: NDArray[np.float64]

    @property
    def is_good(self) -> NDArray[np.bool_]:
        """(members, n, m): whether the piece has its ink and is not over-pressed."""
        enough = self.transferred >= grading_limits().least_transferred_fraction
        return np.asarray(enough & (self.damage <= MOST_DAMAGE))

    @property
    def good(self) -> NDArray[np.float64]:
        """(n, m) chance of a good piece."""
        return np.asarray(self.is_good.mean(axis=0))

    @property
    def over(self) -> NDArray[np.float64]:
        """(n, m) chance of an over-pressed piece."""
        return np.asarray((self.damage > MOST_DAMAGE).mean(axis=0))

    @property
    def pale(self) -> NDArray[np.float64]:
        """(n, m) chance of a pale piece."""
        return np.asarray(1.0 - self.good - self.over)


def usual_limits(supplier: SupplierClaim) -> PressLimits:
    """Return the limits that are kept when nobody set any: never hotter than the supplier recommends."""
    warmest, time = supplier.platen_temperature, supplier.time
    return PressLimits(warmest - USUAL_COOLER, warmest, USUAL_SHORTER * time, USUAL_LONGER * time)


def press_window(
    learned: LearnedBlank, stack: PressStack, supplier: SupplierClaim, limits: PressLimits
) -> PressWindow:
    """Compute the map of a blank on a press, never beyond the limits."""
    parameters, times = learned.parameters, considered_times(supplier.time, limits)
    temperatures = considered_temperatures(supplier.platen_temperature, limits)
    warming = thinned_warming(stack, np.asarray(parameters.contact_scale), float(times[-1]))
    rows = [pressing_along(warming, kelvin, times, parameters) for kelvin in temperatures]
    transferred = np.stack([row.transferred for row in rows], axis=1)
    return PressWindow(temperatures, times, transferred, np.stack([row.damage for row in rows], axis=1))


def considered_temperatures(supplier: float, limits: PressLimits) -> NDArray[np.float64]:
    """Return temperatures a press can be set to, K: whole degrees of the supplier's unit, within the limits.

    The supplier's own and the limits are among them as far as they lie within.
    """
    celsius, fahrenheit = kelvin_to_celsius(supplier), kelvin_to_fahrenheit(supplier)
    by_celsius = abs(celsius - round(celsius)) <= abs(fahrenheit - round(fahrenheit))
    step = 3.0 if by_celsius else 5.0 / 1.8
    step *= max(
        1.0, math.ceil((limits.highest_temperature - limits.lowest_temperature) / step / MOST_TEMPERATURES)
    )
    first = math.ceil((limits.lowest_temperature - supplier) / step - 1e-9)
    last = math.floor((limits.highest_temperature - supplier) / step + 1e-9)
    found = [_displayed(supplier + step * k, by_celsius=by_celsius) for k in range(first, last + 1)]
    found += [limits.lowest_temperature, limits.highest_temperature] if len(found) < 3 else []
    return np.unique([kelvin for kelvin in found if limits.allow(kelvin, limits.shortest_time)])


def considered_times(supplier: float, limits: PressLimits) -> NDArray[np.float64]:
    """Return times a timer can be set to, s: whole ones, the supplier's and both limits, none beyond them."""
    spread = np.geomspace(limits.shortest_time, limits.longest_time, TIMES)
    step = np.where(spread < 60.0, 1.0, np.where(spread < 300.0, 5.0, 10.0))
    rounded = np.round(spread / step) * step
    found = np.unique([*rounded, limits.shortest_time, limits.longest_time, supplier])
    return np.asarray(found[(found >= limits.shortest_time) & (found <= limits.longest_time)])


def _displayed(kelvin: float, *, by_celsius: bool) -> float:
    """Return the nearest whole degree of one unit, K."""
    if by_celsius:
        return celsius_to_kelvin(round(kelvin_to_celsius(kelvin)))
    return fahrenheit_to_kelvin(round(kelvin_to_fahrenheit(kelvin)))
