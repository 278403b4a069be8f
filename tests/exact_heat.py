"""Exact solutions of the heat equation, from Carslaw and Jaeger 1959 as Incropera et al. write them."""

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq
from scipy.special import erfc, erfcx


def plane_wall(biot: float, fourier: ArrayLike, place: float, terms: int = 60) -> NDArray[np.float64]:
    """Return the rise, 0 to 1, of a wall warmed by convection on one face and insulated on the other.

    `place` is the distance from the insulated face as a share of the thickness. Carslaw and Jaeger 1959,
    section 3.11, equation (12); Incropera et al., equation 5.42.
    """
    time = np.asarray(fourier, np.float64)
    rest = np.zeros_like(time)
    for n in range(terms):
        low, high = n * math.pi + 1e-12, n * math.pi + math.pi / 2 - 1e-12
        root = brentq(lambda zeta: zeta * math.sin(zeta) - biot * math.cos(zeta), low, high)
        weight = 4 * math.sin(root) / (2 * root + math.sin(2 * root))
        rest += weight * np.exp(-(root**2) * time) * math.cos(root * place)
    return np.asarray(1.0 - rest)


def half_space(depths: ArrayLike, time: float, diffusivity: float) -> NDArray[np.float64]:
    """Return the rise of a half-space whose face is held at 1; Carslaw and Jaeger, section 2.5."""
    return np.asarray(erfc(np.asarray(depths, np.float64) / (2 * math.sqrt(diffusivity * time))))


def half_space_with_contact(
    depths: ArrayLike, time: float, diffusivity: float, contact: float, conductivity: float
) -> NDArray[np.float64]:
    """Return the rise of a half-space behind a contact; Carslaw and Jaeger, section 2.7, equation (1).

    The product of exponential and erfc is written with the scaled function, which does not overflow.
    """
    root, ratio = math.sqrt(diffusivity * time), contact / conductivity
    near = np.asarray(depths, np.float64) / (2 * root)
    return np.asarray(erfc(near) - np.exp(-(near**2)) * erfcx(near + ratio * root))
