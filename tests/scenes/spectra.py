"""The wavelength grid and the spectra of what lies in a scene: dyes, coating, paper, glass, table tops.

All spectra are float64 of shape (31,): 400 to 700 nm in steps of 10 nm, the coarsest sampling that
ISO 13655 allows. Dye spectra are optical density per unit amount, highest value 1.
The shapes are sums of Gaussians set by eye after typical spectra of such dyes: assumptions, no measurement.
"""

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

Spectrum = NDArray[np.float64]

WAVELENGTHS_NM: Spectrum = np.arange(400.0, 701.0, 10.0)
"""Band centres, nm."""

Bump = tuple[float, float, float]
"""Centre in nm, standard deviation in nm, height."""


def gaussian_sum(*bumps: Bump) -> Spectrum:
    """Sum of Gaussian bumps on the grid, shape (31,)."""
    total = np.zeros_like(WAVELENGTHS_NM)
    for centre, deviation, height in bumps:
        total += height * np.exp(-0.5 * ((WAVELENGTHS_NM - centre) / deviation) ** 2)
    return total


def unit_peak(spectrum: Spectrum) -> Spectrum:
    """Scale a spectrum so that its highest band is 1."""
    scaled: Spectrum = spectrum / spectrum.max()
    return scaled


def transmittance(optical_density: NDArray[np.floating]) -> NDArray[np.float64]:
    """Share of light that passes a decadic optical density: 10 ** -D.

    Source: Beer-Lambert law in decadic form (IUPAC Gold Book, "Beer-Lambert law").
    """
    passed: NDArray[np.float64] = np.power(10.0, -np.asarray(optical_density, dtype=np.float64))
    return passed


@dataclass(frozen=True, slots=True, eq=False)
class DyeSpectra:
    """Four dyes on a white base.

    `density` is (4, 31), optical density per unit amount of cyan, magenta, yellow, black as seen in
    reflection (light passes the layer twice); `base` is (31,), the reflectance of the unprinted base.
    """

    name: str
    density: NDArray[np.float64]
    base: Spectrum


INK_SETS: dict[str, tuple[float, float, float]] = {
    "sublimation": (0.0, 0.0, 0.0),
    "sublimation B": (-9.0, 6.0, 4.0),
    "sublimation C": (8.0, -7.0, -5.0),
}
"""Names of ink sets and by how many nm their cyan, magenta and yellow differ from the first: an assumption
about how much the dyes of different makers differ."""


@cache
def sublimation_dyes(ink_set: str = "sublimation") -> DyeSpectra:
    """Disperse dyes of one of `INK_SETS` in a white polyester coating of about L* 97."""
    c, m, y = INK_SETS[ink_set]
    cyan = gaussian_sum((668 + c, 30, 0.80), (622 + c, 32, 1.0), (575 + c, 30, 0.28), (420, 30, 0.08))
    magenta = gaussian_sum((520 + m, 25, 0.85), (558 + m, 20, 0.90), (485 + m, 26, 0.32), (400, 30, 0.14))
    yellow = gaussian_sum((442 + y, 24, 1.0), (415 + y, 26, 0.75), (474 + y, 15, 0.30))
    black = gaussian_sum((445, 48, 0.85), (535, 45, 0.90), (612, 45, 0.95), (680, 40, 0.55))
    density = np.stack([unit_peak(dye) for dye in (cyan, magenta, yellow, black)])
    return DyeSpectra(ink_set, density, coating_reflectance())


@cache
def inkjet_dyes() -> DyeSpectra:
    """Water-based printer inks on the paper of the reference card; other shapes, so metamerism exists."""
    cyan = gaussian_sum((615, 40, 0.85), (672, 36, 0.95), (540, 30, 0.06), (400, 22, 0.12))
    magenta = gaussian_sum((545, 30, 0.95), (508, 30, 0.70), (440, 40, 0.16))
    yellow = gaussian_sum((428, 36, 1.0), (400, 30, 0.30), (470, 14, 0.12))
    black = gaussian_sum((480, 160, 1.0), (660, 90, 0.30))
    density = np.stack([unit_peak(dye) for dye in (cyan, magenta, yellow, black)])
    return DyeSpectra("inkjet", density, paper_reflectance())


def coating_reflectance() -> Spectrum:
    """Bare sublimation coating: 0.93 with a slight fall in the blue."""
    reflectance: Spectrum = 0.93 - gaussian_sum((395, 22, 0.05))
    return reflectance


def paper_reflectance() -> Spectrum:
    """The card's paper: the white its nominal values ask for, a perfect diffuser."""
    return np.ones_like(WAVELENGTHS_NM)


def yellowing_density(decay_nm: float = 55.0) -> Spectrum:
    """Optical density per unit of a heat-yellowed coating: 1 at 450 nm, falling to 1/e every `decay_nm`.

    Assumption after the general look of heat-aged polymers; no published source.
    """
    density: Spectrum = np.exp(-(WAVELENGTHS_NM - 450.0) / decay_nm)
    return density


def glass_transmittance(tint: float) -> Spectrum:
    """Float glass, both passes: 1 for `tint` 0; `tint` 1 is a green slab about 10 mm thick.

    The iron bands (Fe3+ near 400 nm, Fe2+ rising beyond 600 nm) are drawn by eye.
    """
    return transmittance(tint * gaussian_sum((390, 25, 0.05), (760, 110, 0.09)))
