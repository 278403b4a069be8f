"""Shops that exist only in the computer: a press, a blank and a grader that a planner knows nothing of.

Stated prior of the truth, drawn fresh for every shop: the platen is off by a uniform -12 to 12 K; contact is
half to twice the usual, even in its logarithm; mobility, damage and loss spread as `press_priors.json` says;
energies too, cut at the published 64 to 164 kJ/mol for the dye. The supplier found the time at which 93 % of
the dye had arrived on a press of its own (off by 3 K, contact by 20 %), missed it by 15 %, and rounded it.
Shops in which no setting within the limits is good are drawn again.
"""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from dyecast_calibration.press.learning import SupplierClaim
from dyecast_calibration.press.press_chances import MOST_DAMAGE
from dyecast_calibration.press.press_model import expected_pressing
from dyecast_calibration.press.press_parameters import PressParameters
from dyecast_calibration.press.press_priors import drawn_parameters, press_priors
from dyecast_calibration.press.press_stack import PressStack, cells_in, pressed_stack
from dyecast_calibration.press.press_window import PressLimits, usual_limits
from dyecast_calibration.press.tried_pressing import GRADES, TriedPressing
from dyecast_shared.units import fahrenheit_to_kelvin

BLANKS: Final = (
    pressed_stack("glass", 4e-3),
    pressed_stack("glass", 4e-3, through_blank=True),
    pressed_stack("aluminium", 1e-3),
    pressed_stack("ceramic", 8e-3),
    pressed_stack("hardboard", 3e-3),
    pressed_stack("polymer", 2e-3),
)
FAHRENHEIT: Final = (365.0, 375.0, 380.0, 385.0, 400.0)

LEAST_INK: Final = 0.89
"""`grading_limits().least_transferred_fraction`."""

PIECE_SCATTER: Final = 0.02
PLATEN_SWING: Final = 1.0
PHOTO_ERROR: Final = 0.05
INK_LIMIT, GRADE_ERROR = 0.87, 0.036
HEAT_ERROR: Final = 0.35
LAPSE: Final = 0.03
"""Between pieces pressed alike; K between pressings; of a measured fraction; of the grade beyond the photo's,
so that both together are the grader's 0.062; of damage's logarithm; of grades that are simply wrong."""


@dataclass(frozen=True, slots=True)
class Truth:
    """What kind of shop is drawn: cells times `finer`, damage times `yellowing`, energies at the edges."""

    name: str
    finer: int = 1
    yellowing: float = 1.0
    edge: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class InventedShop:
    """One shop: `planned_stack` is what a planner is told, `stack` and `parameters` are the truth."""

    planned_stack: PressStack
    stack: PressStack
    parameters: PressParameters
    supplier: SupplierClaim
    limits: PressLimits

    def press(self, kelvin: float, seconds: float, chance: np.random.Generator) -> tuple[TriedPressing, bool]:
        """Press a piece; return what is seen of it, and whether it truly is good."""
        swung = kelvin + PLATEN_SWING * chance.standard_normal()
        expected = expected_pressing(self.stack, swung, [seconds], self.parameters)
        ink = float(expected.transferred[0, 0]) + PIECE_SCATTER * chance.standard_normal()
        damage = float(expected.damage[0, 0])
        read = ink + PHOTO_ERROR * chance.standard_normal()
        heat = np.log(damage) + HEAT_ERROR * chance.standard_normal()
        pale = read + GRADE_ERROR * chance.standard_normal() < INK_LIMIT
        grade = GRADES[2] if heat > 0.0 else GRADES[0] if pale else GRADES[1]
        if chance.random() < LAPSE:
            grade = str(chance.choice(GRADES))
        seen = TriedPressing(kelvin, seconds, (grade,), read, PHOTO_ERROR, graded_by_photo=True)
        return seen, ink >= LEAST_INK and damage <= MOST_DAMAGE


def invented_shop(chance: np.random.Generator, truth: Truth) -> tuple[InventedShop, int]:
    """Draw a shop in which a good piece is possible; return it, and how many were thrown away before."""
    thrown = 0
    while True:
        shop = _drawn(chance, truth)
        if shop is not None and _possible(shop):
            return shop, thrown
        thrown += 1


def _drawn(chance: np.random.Generator, truth: Truth) -> InventedShop | None:
    """Draw a shop; None when its supplier would never have sold the blank."""
    planned = BLANKS[chance.integers(len(BLANKS))]
    layers = tuple(replace(layer, cells=truth.finer * cells_in(layer)) for layer in planned.layers)
    stack = replace(planned, layers=layers) if truth.finer > 1 else planned
    parameters = _parameters(chance, truth)
    supplier = _supplier(stack, parameters, chance)
    if supplier is None:
        return None
    return InventedShop(planned, stack, parameters, supplier, usual_limits(supplier))


def _parameters(chance: np.random.Generator, truth: Truth) -> PressParameters:
    drawn = drawn_parameters(1, chance)
    energies = (64e3, 164e3)
    dye = np.clip(np.asarray(drawn.dye_activation_energy), *energies)
    return replace(
        drawn,
        platen_offset=chance.uniform(-12.0, 12.0),
        contact_scale=press_priors()["contact_scale"].centre
        * np.exp(chance.uniform(-1.0, 1.0) * np.log(2.0)),
        damage_rate=truth.yellowing * np.asarray(drawn.damage_rate),
        dye_activation_energy=chance.choice(energies) if truth.edge else dye,
        damage_activation_energy=chance.choice((100e3, 170e3))
        if truth.edge
        else drawn.damage_activation_energy,
    )


def _supplier(
    stack: PressStack, parameters: PressParameters, chance: np.random.Generator
) -> SupplierClaim | None:
    """Return what the supplier recommends; None when its own pieces would be over-pressed."""
    usual = press_priors()["contact_scale"].centre
    own = replace(
        parameters,
        platen_offset=3.0 * chance.standard_normal(),
        contact_scale=usual * np.exp(0.2 * chance.standard_normal()),
    )
    kelvin = fahrenheit_to_kelvin(float(chance.choice(FAHRENHEIT)))
    times = np.geomspace(10.0, 900.0, 120)
    expected = expected_pressing(stack, kelvin, times, own)
    enough = np.flatnonzero((expected.transferred[0] >= 0.93) & (expected.damage[0] <= MOST_DAMAGE))
    if not len(enough):
        return None
    time = times[enough[0]] * np.exp(0.15 * chance.standard_normal())
    return SupplierClaim(kelvin, max(10.0, 5.0 * round(time / 5.0)))


def _possible(shop: InventedShop) -> bool:
    """Tell whether any setting within the limits is good."""
    limits = shop.limits
    times = np.linspace(limits.shortest_time, limits.longest_time, 60)
    for kelvin in np.linspace(limits.lowest_temperature, limits.highest_temperature, 7):
        expected = expected_pressing(shop.stack, kelvin, times, shop.parameters)
        if np.any((expected.transferred >= LEAST_INK) & (expected.damage <= MOST_DAMAGE)):
            return True
    return False
