"""A stack cut into cells: heat capacities, and the conductances between them, for many members at once."""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dyecast_calibration.press.press_stack import BONDED, PressStack, cells_in

AIR_FILM: Final = 12.0
"""W/(m² K) from a warm face to still air: natural convection 5 to 8 and radiation 5 to 8. From memory."""

BOARD_CONTACT: Final = 50.0
"""W/(m² K) from a piece lying loosely on a board or bench: two or three thin air gaps. From memory."""


@dataclass(frozen=True, slots=True, eq=False)
class ConductionGrid:
    """Finite volumes of the heat equation; a member is one value of the contact.

    Attributes
    ----------
    capacities
        (cells,) heat capacities, J/(m² K).
    couplings
        (members, cells - 1) conductances between neighbours, W/(m² K).
    to_platen, to_ambient
        (members, cells) conductances of each cell to the platen and to the surroundings, W/(m² K).
    coating
        Index of the cell, in the middle of the coating, whose temperature the dye feels.
    half_resistances
        (cells,) from a cell's middle to its face, m² K/W.
    piece
        Indices of the first and the last cell that leave the press together.
    """

    capacities: NDArray[np.float64]
    couplings: NDArray[np.float64]
    to_platen: NDArray[np.float64]
    to_ambient: NDArray[np.float64]
    coating: int
    half_resistances: NDArray[np.float64]
    piece: tuple[int, int]


def conduction_grid(stack: PressStack, contact_scales: ArrayLike = 1.0) -> ConductionGrid:
    """Cut a stack into cells.

    Parameters
    ----------
    stack
        Layers and contacts.
    contact_scales
        (members,) or one number above zero, else ValueError: every contact of the stack times this.

    Source: finite volumes with the exact series resistance between cell middles (Patankar 1980, 4.2).
    """
    scales = np.atleast_1d(np.asarray(contact_scales, np.float64))
    if not np.all(scales > 0.0):
        raise ValueError("a contact scale must lie above zero")
    counts = np.array([cells_in(layer) for layer in stack.layers])
    ends = np.cumsum(counts)
    capacities, halves = _cells(stack, counts)
    contacts = np.full((len(scales), len(halves) - 1), BONDED)
    contacts[:, ends[:-1] - 1] = np.outer(scales, stack.contacts[1:-1])
    to_platen, to_ambient = np.zeros((2, len(scales), len(halves)))
    to_platen[:, 0] = _through(stack.contacts[0] * scales, halves[0])
    to_ambient[:, -1] = _through(stack.contacts[-1] * scales, halves[-1])
    starts = ends - counts
    coating = int(starts[stack.coating] + counts[stack.coating] // 2)
    piece = (int(starts[stack.piece[0]]), int(ends[stack.piece[1]] - 1))
    couplings = _through(contacts, halves[:-1] + halves[1:])
    return ConductionGrid(capacities, couplings, to_platen, to_ambient, coating, halves, piece)


def opened_press(grid: ConductionGrid) -> ConductionGrid:
    """Return the grid of a press that is open, the piece still on the pad: air in the platen's place."""
    to_ambient = grid.to_ambient.copy()
    to_ambient[:, 0] += _through(np.full(len(to_ambient), AIR_FILM), grid.half_resistances[0])
    return replace(grid, to_platen=np.zeros_like(grid.to_platen), to_ambient=to_ambient)


def taken_off(grid: ConductionGrid) -> ConductionGrid:
    """Return the grid of a piece taken off the press: air above it, a board below it.

    The pad stays behind and cools by itself.
    """
    first, last = grid.piece
    couplings, to_ambient = grid.couplings.copy(), grid.to_ambient.copy()
    couplings[:, [end for end in (first - 1, last) if 0 <= end < couplings.shape[1]]] = 0.0
    cut = ((0, AIR_FILM), (first, AIR_FILM), (last, BOARD_CONTACT), (last + 1, AIR_FILM))
    for cell, film in dict(cut).items():
        if cell < to_ambient.shape[1]:
            to_ambient[:, cell] += _through(np.full(len(to_ambient), film), grid.half_resistances[cell])
    nothing = np.zeros_like(grid.to_platen)
    return replace(grid, couplings=couplings, to_platen=nothing, to_ambient=to_ambient)


def _cells(stack: PressStack, counts: NDArray[np.int_]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the heat capacity and half the resistance of every cell."""
    capacities, halves = [], []
    for layer, count in zip(stack.layers, counts, strict=True):
        widths, material = layer.thickness * _shares(int(count)), layer.material
        capacities.append(widths * material.density * material.heat_capacity)
        halves.append(widths / material.conductivity / 2.0)
    return np.concatenate(capacities), np.concatenate(halves)


def _shares(count: int) -> NDArray[np.float64]:
    """Cut 1 into cells that are narrow at both ends, where temperature changes first: equal angles."""
    return np.asarray(-np.diff(np.cos(np.linspace(0.0, np.pi, count + 1))) / 2.0)


def _through(contacts: NDArray[np.float64], resistances: ArrayLike) -> NDArray[np.float64]:
    """Return the conductance of contacts (0 to infinity) and the resistances of half cells in series."""
    with np.errstate(divide="ignore"):
        return np.asarray(1.0 / (1.0 / contacts + np.asarray(resistances, np.float64)))
