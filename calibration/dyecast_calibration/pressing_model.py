"""How pressing changes a picture: from the artwork's colours to the look of the piece, in optical density.

Physics: dyes in a clear coating over a white ground absorb by Beer and Lambert's law, so the light that
comes back falls as ten to the minus optical density, and densities of several dyes add. Pressing shorter or
cooler leaves a share of every dye in the paper: its density is multiplied by the transferred fraction.
Pressing longer or hotter turns coating and dye yellow: a density in the blue, half of it everywhere, half of
it where there is ink.

Assumption: three broad bands stand for the spectrum. They are the linear light of the BT.2020 primaries
(ITU-R BT.2020-2), adapted to D50, wide enough that printed colours stay positive. What each dye absorbs in
each band is `DYE_ABSORPTION`, from memory of typical disperse dyes and replaceable by measured ones.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dyecast_shared.adaptation import bradford_matrix
from dyecast_shared.cielab import D50_WHITE, D65_WHITE
from dyecast_shared.encodings import rgb_to_xyz_matrix
from dyecast_shared.single_precision import exponential, logarithm, times_matrix

BANDS_TO_XYZ: Final[NDArray[np.float64]] = bradford_matrix(D65_WHITE, D50_WHITE) @ rgb_to_xyz_matrix(
    ((0.708, 0.292), (0.170, 0.797), (0.131, 0.046)), (0.3127, 0.3290)
)
"""(3, 3): linear light in the three bands (long, middle, short wavelengths) to XYZ, D50, 2 degree."""

XYZ_TO_BANDS: Final[NDArray[np.float64]] = np.asarray(np.linalg.inv(BANDS_TO_XYZ), np.float64)
"""(3, 3): XYZ, D50, 2 degree observer, to linear light in the three bands; white is 1, 1, 1."""

DYE_ABSORPTION: Final[NDArray[np.float64]] = np.array(
    [[1.00, 0.12, 0.02], [0.16, 1.00, 0.10], [0.03, 0.22, 1.00]]
)
"""(3, 3): density in each band (row: long, middle, short) of one unit of cyan, magenta, yellow. From memory:
disperse cyans also absorb some green, magentas some blue. Only their ratios matter here."""

YELLOWING_ABSORPTION: Final[NDArray[np.float64]] = np.array([0.25, 0.43, 1.00])
"""(3,): density of a yellowed coating in each band (about 620, 550 and 450 nm), per unit in the short band.
From memory: the absorption of heated polymers has an exponential tail; here it falls to 1/e in 120 nm."""

SCORCHED_INK_SHARE: Final = 0.5
"""Share of the yellowing that comes with the ink; the rest lies in the coating, printed or not. No source was
found that tells which it is: half and half explains rendered pieces of either kind."""

INK_OF_A_PICTURE: Final = 1.2
"""Amount of all dyes together, density units, at which both kinds yellow alike: a full picture's mean."""

COATING_YELLOWING: Final[NDArray[np.float32]] = np.asarray(
    (1.0 - SCORCHED_INK_SHARE) * YELLOWING_ABSORPTION, np.float32
)
"""(3,): density in each band that lies everywhere, per unit of yellowing."""

INK_YELLOWING: Final[NDArray[np.float32]] = np.asarray(
    SCORCHED_INK_SHARE / INK_OF_A_PICTURE * YELLOWING_ABSORPTION, np.float32
)
"""(3,): density in each band per unit of yellowing and of any dye."""

LEAST_LIGHT: Final = 1e-3
"""Light in a band below which an artwork colour is taken as this dark: no print reaches density 3."""


@dataclass(frozen=True, slots=True)
class Pressing:
    """What pressing did to a print.

    Attributes
    ----------
    cyan, magenta, yellow
        Transferred fraction of each dye, 1 = all that the artwork asks for.
    yellowing
        Optical density of the yellowing in the short band where the ink is a picture's mean, 0 = none.
    """

    cyan: float
    magenta: float
    yellow: float
    yellowing: float


def bands_from_xyz(xyz: ArrayLike) -> NDArray[np.float32]:
    """Turn XYZ (..., 3), D50, 2 degree, Y = 1 for white, into light in the three bands, float32."""
    return times_matrix(XYZ_TO_BANDS, np.asarray(xyz, np.float32))


def xyz_from_bands(bands: ArrayLike) -> NDArray[np.float32]:
    """Turn light in the three bands (..., 3) into XYZ, D50, 2 degree, Y = 1 for white, float32."""
    return times_matrix(BANDS_TO_XYZ, np.asarray(bands, np.float32))


def dye_amounts(bands: ArrayLike) -> NDArray[np.float32]:
    """Tell how much of each dye the artwork asks for.

    Parameters
    ----------
    bands
        (..., 3) light in the three bands, 1 = unprinted.

    Returns
    -------
    (..., 3) float32 amounts of cyan, magenta, yellow in density units; slightly negative where a colour is
    purer than the model's dyes can make it.

    Source: Beer and Lambert's law, inverted.

    White asks for no dye:

    >>> print(np.abs(dye_amounts([1.0, 1.0, 1.0])))
    [0. 0. 0.]
    """
    light = np.maximum(np.asarray(bands, np.float32), np.float32(LEAST_LIGHT))
    return times_matrix(np.linalg.inv(DYE_ABSORPTION) / -np.log(10.0), logarithm(light))


def scorched_absorption(yellowing: float) -> NDArray[np.float32]:
    """Return what each dye absorbs in each band when scorched, (3, 3), in the order of `DYE_ABSORPTION`."""
    return (DYE_ABSORPTION + yellowing * INK_YELLOWING[:, np.newaxis]).astype(np.float32)


def pressed_bands(amounts: ArrayLike, pressing: Pressing) -> NDArray[np.float32]:
    """Tell the light that comes back from a pressed print.

    Parameters
    ----------
    amounts
        (..., 3) dye amounts the artwork asks for, from `dye_amounts`.
    pressing
        What pressing did.

    Returns
    -------
    (..., 3) float32 light in the three bands, 1 = the unprinted, unyellowed coating.

    Source: Beer and Lambert's law; ISO 5-3 for optical density.

    A density of 1 lets a tenth of the light back; with half of the dye, its square root:

    >>> grey = dye_amounts([0.1, 0.1, 0.1])
    >>> print(pressed_bands(grey, Pressing(cyan=1.0, magenta=1.0, yellow=1.0, yellowing=0.0)).round(3))
    [0.1 0.1 0.1]
    >>> print(pressed_bands(grey, Pressing(cyan=0.5, magenta=0.5, yellow=0.5, yellowing=0.0)).round(3))
    [0.316 0.316 0.316]
    """
    fractions = np.array([pressing.cyan, pressing.magenta, pressing.yellow], np.float32)
    arrived = np.asarray(amounts, np.float32) * fractions
    absorption = np.column_stack(
        [scorched_absorption(pressing.yellowing), pressing.yellowing * COATING_YELLOWING]
    )
    return exponential(times_matrix(-np.log(10.0) * absorption, arrived))
