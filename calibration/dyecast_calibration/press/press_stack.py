"""What lies between the platen and the bed of a press, from the platen on."""

import math
from dataclasses import dataclass
from typing import Final

from dyecast_calibration.press.materials import Material, materials

BONDED: Final = math.inf
"""Contact conductance, W/(m² K), of two layers that are one body: no resistance between them."""

REFERENCE_CONTACT: Final = 452.0
"""W/(m² K) between metal and bone-dry paper of 68 g/m² at 300 kPa. Source: the abstract of "Thermal contact
conductance of a bone-dry paper handsheet/metal interface", J. Heat Transfer 114(2), 1992, 326."""

REFERENCE_PRESSURE: Final = 300e3
"""Pa, at which `REFERENCE_CONTACT` was measured; a press closed firmly over a board lies near it."""

PRESSURE_EXPONENT: Final = math.log(452.0 / 200.0) / math.log(300.0 / 2.3)
"""0.17: conductance rises with this power of pressure. Source: the same abstract, 200 W/(m² K) at 2.3 kPa."""

BED_CONTACT: Final = 200.0
"""W/(m² K) between a blank and the pad below it, and of the pad on the bed. Soft, but not pressed into
pores: the order of light paper at low pressure in the same abstract."""

PAPER_THICKNESS: Final = 0.12e-3
"""m, of transfer paper of about 100 g/m². Common practice, no published source."""

COATING_THICKNESS: Final = 15e-6
"""m, of the polyester coating of a blank, 10 to 30 µm. From memory."""

PAD_THICKNESS: Final = 8e-3
"""m, of the foam pad on the lower bed. Common practice, no published source."""

FEWEST_CELLS: Final = 2
MOST_CELLS: Final = 24
"""Cells a layer is cut into when nothing else is asked for; see `cells_in`."""

CELL_RESISTANCE: Final = 2.5e-4
"""m² K/W, a cell's mean thermal resistance so long as `MOST_CELLS` allow it: a tenth of that from the platen
to the coating. Cells and steps together then err by at most 0.4 % of the platen's step (measured)."""


@dataclass(frozen=True, slots=True)
class Layer:
    """One layer of the stack.

    Attributes
    ----------
    material
        What it is made of.
    thickness
        m, above zero; ValueError otherwise.
    cells
        Into how many cells it is cut for the computation; 0 = as many as `cells_in` says.
    """

    material: Material
    thickness: float
    cells: int = 0

    def __post_init__(self) -> None:
        """Raise ValueError for a layer without thickness."""
        if not (math.isfinite(self.thickness) and self.thickness > 0.0):
            raise ValueError(f"a layer of {self.material.name} needs a thickness, got {self.thickness} m")


@dataclass(frozen=True, slots=True)
class PressStack:
    """Layers from the platen to the bed.

    Attributes
    ----------
    layers
        In the order the heat meets them.
    contacts
        Conductances, W/(m² K), platen to first layer, between neighbours, and last layer to bed: one more
        than layers. `BONDED` where two layers are one body, 0 where no heat passes.
    coating
        Index of the layer that takes the dye up.
    piece
        Indices of the first and the last layer that leave the press together: paper, coating, blank.
    """

    layers: tuple[Layer, ...]
    contacts: tuple[float, ...]
    coating: int
    piece: tuple[int, int]

    def __post_init__(self) -> None:
        """Raise ValueError when contacts and layers do not fit together."""
        if len(self.contacts) != len(self.layers) + 1:
            raise ValueError("a stack has one contact more than layers")
        if not 0 <= self.piece[0] <= self.coating <= self.piece[1] < len(self.layers):
            raise ValueError("the coating must be a layer of the piece, and the piece a part of the stack")


def contact_conductance(pressure: float) -> float:
    """Tell the conductance, W/(m² K), between paper and what presses it, at a pressure in Pa above zero.

    Source: power law through two values of bone-dry paper on metal, see `REFERENCE_CONTACT` and
    `PRESSURE_EXPONENT`. Real papers hold moisture and are smoother: the prior of the contact says so.
    """
    if not (math.isfinite(pressure) and pressure > 0.0):
        raise ValueError(f"a pressure must be above zero, got {pressure} Pa")
    return REFERENCE_CONTACT * math.pow(pressure / REFERENCE_PRESSURE, PRESSURE_EXPONENT)


def pressed_stack(
    blank: str,
    blank_thickness: float,
    *,
    pressure: float = REFERENCE_PRESSURE,
    through_blank: bool = False,
    sheet_thickness: float = 0.0,
) -> PressStack:
    """Build the stack of a usual pressing.

    Parameters
    ----------
    blank
        Name of the blank's material in `materials`; KeyError for any other.
    blank_thickness
        m.
    pressure
        Pa on the piece.
    through_blank
        False: the paper lies towards the platen. True: the blank does, and heat reaches the coating
        through it.
    sheet_thickness
        m of a protective paper sheet under the platen; 0 = none.
    """
    contact = contact_conductance(pressure)
    sheet = [(_layer("paper", sheet_thickness), contact)] if sheet_thickness else []
    coating = (_layer("coating", COATING_THICKNESS, cells=1), BONDED if through_blank else contact)
    paper = (_layer("paper", PAPER_THICKNESS), contact)
    body = (_layer(blank, blank_thickness), contact if through_blank else BONDED)
    piece = [body, coating, paper] if through_blank else [paper, coating, body]
    pad = (_layer("silicone-foam", PAD_THICKNESS), BED_CONTACT)
    first = len(sheet)
    layers, contacts = zip(*sheet, *piece, pad, strict=True)
    return PressStack(layers, (*contacts, BED_CONTACT), first + 1, (first, first + 2))


def cells_in(layer: Layer) -> int:
    """Tell into how many cells a layer is cut."""
    if layer.cells:
        return layer.cells
    wanted = math.ceil(layer.thickness / layer.material.conductivity / CELL_RESISTANCE)
    return min(max(wanted, FEWEST_CELLS), MOST_CELLS)


def _layer(material: str, thickness: float, cells: int = 0) -> Layer:
    return Layer(materials()[material], thickness, cells)
