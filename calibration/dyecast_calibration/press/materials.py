"""What press, paper and blanks are made of: thermal properties from handbooks, one data file."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from types import MappingProxyType


@dataclass(frozen=True, slots=True)
class Material:
    """Thermal properties, constant over the range of a pressing (about 20 to 200 °C).

    Attributes
    ----------
    name
        Its key in the data file.
    conductivity
        W/(m K), above zero.
    density
        kg/m³, above zero.
    heat_capacity
        J/(kg K), above zero.
    relative_uncertainty
        Standard uncertainty of density times heat capacity, as a share of it; a normal distribution.
    """

    name: str
    conductivity: float
    density: float
    heat_capacity: float
    relative_uncertainty: float = 0.0

    def __post_init__(self) -> None:
        """Raise ValueError for a property that no body has."""
        if min(self.conductivity, self.density, self.heat_capacity) <= 0.0:
            raise ValueError(f"the thermal properties of {self.name} must lie above zero")


@cache
def materials() -> Mapping[str, Material]:
    """Return the materials that ship with dyecast by name; the data file gives the source of each."""
    text = files("dyecast_calibration.press").joinpath("materials.json").read_text(encoding="utf-8")
    written = json.loads(text)["materials"]
    return MappingProxyType({name: _material(name, fields) for name, fields in written.items()})


def _material(name: str, fields: dict[str, float]) -> Material:
    numbers = ("conductivity", "density", "heat_capacity", "relative_uncertainty")
    return Material(name, *(float(fields[number]) for number in numbers))
