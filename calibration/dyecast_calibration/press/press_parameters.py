"""What differs from press to press, from dye to dye and from coating to coating."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray


@dataclass(frozen=True, slots=True, eq=False)
class PressParameters:
    """Unknowns of the press model, each one number or (members,) of them.

    Attributes
    ----------
    platen_offset
        K by which the platen is hotter than the press says.
    contact_scale
        All contact conductances of the stack, times this; above zero.
    dye_mobility
        1/s: diffusion coefficient of the dye in the coating at 200 °C, divided by the coating's thickness
        squared.
    dye_activation_energy
        J/mol, of that coefficient.
    damage_rate
        1/s at 200 °C: one over the time in which the coating yellows to the limit.
    damage_activation_energy
        J/mol, of yellowing and loss.
    dye_loss
        Loss of dye, of first order: when the damage has come to 1, exp(-dye_loss) of the dye is left.
    """

    platen_offset: ArrayLike
    contact_scale: ArrayLike
    dye_mobility: ArrayLike
    dye_activation_energy: ArrayLike
    damage_rate: ArrayLike
    damage_activation_energy: ArrayLike
    dye_loss: ArrayLike


def columns(values: ArrayLike) -> NDArray[np.float64]:
    """Return one number or (members,) of them as (1 or members, 1), to stand beside times."""
    return np.atleast_1d(np.asarray(values, np.float64))[:, None]
