"""What is known of a press, a dye and a coating before the first piece: distributions from one data file."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dyecast_calibration.press.press_parameters import PressParameters

UNKNOWNS: Final = (
    "platen_offset",
    "contact_scale",
    "dye_mobility",
    "dye_activation_energy",
    "damage_rate",
    "damage_activation_energy",
    "dye_loss",
)
"""Names of the parameters, in the order of the scores."""


@dataclass(frozen=True, slots=True)
class Prior:
    """A normal or lognormal distribution of one parameter.

    Attributes
    ----------
    centre
        Mean, or median of a lognormal, in the parameter's unit.
    spread
        Standard deviation in the parameter's unit, or of the natural logarithm of a lognormal; above zero.
    lognormal
        Which of the two.
    """

    centre: float
    spread: float
    lognormal: bool

    def value(self, score: ArrayLike) -> NDArray[np.float64]:
        """Return the parameter that lies `score` standard deviations from the centre; any shape."""
        shift = self.spread * np.asarray(score, np.float64)
        return np.asarray(self.centre * np.exp(shift) if self.lognormal else self.centre + shift)


@cache
def press_priors() -> Mapping[str, Prior]:
    """Return the priors that ship with dyecast by name; the data file gives unit, reason and source."""
    text = files("dyecast_calibration.press").joinpath("press_priors.json").read_text(encoding="utf-8")
    written = json.loads(text)["priors"]
    return MappingProxyType({name: _prior(written[name]) for name in UNKNOWNS})


def parameters_at(scores: ArrayLike) -> PressParameters:
    """Return the parameters that lie some standard deviations from the centres of the priors.

    Parameters
    ----------
    scores
        (7,) or (members, 7), in the order of `UNKNOWNS`. Under the prior they are independent standard
        normal, which is what a grid, a Laplace approximation or an ensemble works with.
    """
    values = np.asarray(scores, np.float64)
    if values.shape[-1] != len(UNKNOWNS):
        raise ValueError(f"the press has {len(UNKNOWNS)} unknowns, got scores of {values.shape[-1]}")
    priors = press_priors()
    return PressParameters(*(priors[name].value(values[..., place]) for place, name in enumerate(UNKNOWNS)))


def typical_parameters() -> PressParameters:
    """Return the centres of the priors."""
    return parameters_at(np.zeros(len(UNKNOWNS)))


def drawn_parameters(members: int, generator: np.random.Generator) -> PressParameters:
    """Draw members from the priors."""
    return parameters_at(generator.standard_normal((members, len(UNKNOWNS))))


def _prior(written: dict[str, float | str]) -> Prior:
    return Prior(float(written["centre"]), float(written["spread"]), written["distribution"] == "lognormal")
