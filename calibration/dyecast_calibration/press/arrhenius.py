"""Rates that rise with temperature by Arrhenius' law, and the law's fit to measured rates."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

GAS_CONSTANT: Final = 8.31446261815324
"""J/(mol K), exact. Source: the SI Brochure, 9th edition, as the product of its two defining constants."""

REFERENCE_TEMPERATURE: Final = 473.15
"""K, 200 °C, at which rates are stated: inside the range of pressing, so that a rate and its activation
energy are told apart by different data."""


@dataclass(frozen=True, slots=True)
class ArrheniusFit:
    """A straight line through the logarithms of measured rates.

    Attributes
    ----------
    activation_energy
        J/mol.
    reference_rate
        Rate at `REFERENCE_TEMPERATURE`, in the unit of the rates.
    activation_energy_error
        Standard error of the activation energy, J/mol; 0 for two rates, which any line meets.
    """

    activation_energy: float
    reference_rate: float
    activation_energy_error: float


def arrhenius_factor(temperature: ArrayLike, activation_energy: ArrayLike) -> NDArray[np.float64]:
    """Tell how many times faster than at `REFERENCE_TEMPERATURE` something goes.

    Parameters
    ----------
    temperature
        K, above zero; any shape that broadcasts with the other.
    activation_energy
        J/mol.

    Source: Arrhenius 1889.
    """
    inverse = 1.0 / REFERENCE_TEMPERATURE - 1.0 / np.asarray(temperature, np.float64)
    return np.asarray(np.exp(np.asarray(activation_energy, np.float64) / GAS_CONSTANT * inverse))


def fit_arrhenius(temperatures: ArrayLike, rates: ArrayLike) -> ArrheniusFit:
    """Fit Arrhenius' law to rates by least squares on their logarithms.

    Parameters
    ----------
    temperatures
        (n,) K, at least two different ones.
    rates
        (n,) above zero, any unit.

    Raises
    ------
    ValueError
        Fewer than two temperatures, or a rate that is not above zero.
    """
    kelvin, values = np.asarray(temperatures, np.float64), np.asarray(rates, np.float64)
    if len(np.unique(kelvin)) < 2 or np.min(values) <= 0.0:
        raise ValueError("an activation energy needs rates above zero at two temperatures or more")
    slope = (1.0 / REFERENCE_TEMPERATURE - 1.0 / kelvin) / GAS_CONSTANT
    design = np.column_stack([slope, np.ones_like(slope)])
    (energy, intercept), *_ = np.linalg.lstsq(design, np.log(values), rcond=None)
    residuals = np.log(values) - design @ np.array([energy, intercept])
    scatter = np.sum(residuals**2) / max(len(values) - 2, 1)
    error = np.sqrt(scatter / np.sum((slope - slope.mean()) ** 2))
    return ArrheniusFit(float(energy), float(np.exp(intercept)), float(error))
