"""Stacks for the tests of the press model: single layers with exact solutions, and usual blanks."""

import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.press.conduction_grid import ConductionGrid, conduction_grid
from dyecast_calibration.press.heat_conduction import HeatHistory, conduct
from dyecast_calibration.press.materials import Material, materials
from dyecast_calibration.press.press_stack import Layer, PressStack, pressed_stack

GLASS = materials()["glass"]

USUAL = {
    "glass": pressed_stack("glass", 4e-3),
    "glass, heated through": pressed_stack("glass", 4e-3, through_blank=True),
    "thin metal": pressed_stack("aluminium", 1e-3),
    "tile": pressed_stack("ceramic", 8e-3),
    "hardboard": pressed_stack("hardboard", 3e-3),
    "plastic": pressed_stack("polymer", 2e-3),
    "fabric": pressed_stack("polyester-fabric", 0.4e-3),
}


def diffusivity(material: Material) -> float:
    """Return the thermal diffusivity, m²/s."""
    return material.conductivity / (material.density * material.heat_capacity)


def wall(material: Material, thickness: float, contact: float, cells: int) -> PressStack:
    """Build a wall of one material behind a contact, its far face insulated."""
    return PressStack((Layer(material, thickness, cells),), (contact, 0.0), 0, (0, 0))


def warmed(stack: PressStack, steps: NDArray[np.float64]) -> tuple[ConductionGrid, HeatHistory]:
    """Warm a stack from 0 by a platen at 1, surroundings at 0."""
    grid = conduction_grid(stack)
    return grid, conduct(grid, np.zeros_like(grid.to_platen), np.ones(1), 0.0, steps)


def middles(grid: ConductionGrid, material: Material) -> NDArray[np.float64]:
    """Return how deep the middle of each cell of a one-layer stack lies, m."""
    widths = 2.0 * grid.half_resistances * material.conductivity
    return np.asarray(np.cumsum(widths) - widths / 2.0)
