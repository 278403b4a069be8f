"""Arrhenius' law, fitted to published tables.

No table of a dye's diffusion coefficients against temperature could be had in full text; the recovery is
shown on two tables of reaction rates from textbooks and on one published pair of equal pressings.
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from dyecast_calibration.press.arrhenius import (
    GAS_CONSTANT,
    REFERENCE_TEMPERATURE,
    arrhenius_factor,
    fit_arrhenius,
)
from dyecast_calibration.press.press_model import ROOM_TEMPERATURE, exposures, warming_of
from dyecast_calibration.press.press_parameters import PressParameters
from dyecast_shared.units import celsius_to_kelvin
from stacks import USUAL


def test_the_decay_of_ethanal_has_its_published_activation_energy() -> None:
    """Atkins and de Paula, Physical Chemistry, table and example on the second-order decay of ethanal, from
    memory: 188 to 189 kJ/mol, by edition."""
    kelvin = [700, 730, 760, 790, 810, 840, 910, 1000]
    rates = [0.011, 0.035, 0.105, 0.343, 0.789, 2.17, 20.0, 145.0]
    fit = fit_arrhenius(kelvin, rates)
    assert fit.activation_energy == pytest.approx(188.5e3, abs=2 * fit.activation_energy_error)
    assert fit.activation_energy_error < 5e3


def test_the_decay_of_dinitrogen_pentoxide_has_its_published_activation_energy() -> None:
    """Zumdahl and Zumdahl, Chemistry, 9th edition, exercise 12.67 (table read); other textbooks give 103
    kJ/mol for this reaction, from memory."""
    fit = fit_arrhenius([338, 318, 298], [4.9e-3, 5.0e-4, 3.5e-5])
    assert fit.activation_energy == pytest.approx(103e3, abs=2 * fit.activation_energy_error)
    assert fit.activation_energy_error < 3e3


PAIR = ((celsius_to_kelvin(190.0), 120.0), (celsius_to_kelvin(210.0), 60.0))
"""Temperatures and times of equal black on polyester: Toshikj and Prangoski 2023, Materials Science, doi
10.5755/j02.ms.32465."""


def test_two_pressings_of_equal_result_have_an_effective_activation_energy_of_64() -> None:
    kelvin, seconds = zip(*PAIR, strict=True)
    fit = fit_arrhenius(kelvin, 1.0 / np.array(seconds))
    assert fit.activation_energy == pytest.approx(64e3, abs=0.5e3)
    assert fit.activation_energy_error == pytest.approx(0.0, abs=1.0)


def test_with_the_heat_up_taken_off_the_same_pair_asks_for_83() -> None:
    """The figure in the reason of the prior: the hotter, shorter pressing loses more of its time."""

    def difference(energy: float) -> float:
        parameters = PressParameters(0.0, 2.0, 1.0, energy, 1.0, 1.0, 0.0)
        doses = []
        for kelvin, seconds in PAIR:
            warming = warming_of(USUAL["fabric"], 2.0, seconds)
            temperatures = ROOM_TEMPERATURE + (kelvin - ROOM_TEMPERATURE) * warming.shares
            doses.append(exposures(warming.times, temperatures, np.array([seconds]), parameters)[0].item())
        return doses[0] - doses[1]

    assert brentq(difference, 30e3, 200e3) == pytest.approx(83e3, abs=1e3)


def test_ten_kelvin_more_speed_up_as_the_worked_figures_say() -> None:
    """From 190 to 200 °C: 64 kJ/mol × 1.42, 100 × 1.73, 120 × 1.93, 164 × 2.46 (computed from the law)."""
    warmer, cooler = celsius_to_kelvin(200.0), celsius_to_kelvin(190.0)
    energies = np.array([64e3, 100e3, 120e3, 164e3])
    faster = arrhenius_factor(warmer, energies) / arrhenius_factor(cooler, energies)
    assert faster == pytest.approx([1.42, 1.73, 1.93, 2.46], abs=0.01)


@given(st.floats(2e4, 3e5), st.floats(1e-6, 1e3))
def test_a_law_is_found_again(energy: float, rate: float) -> None:
    kelvin = np.array([433.15, 453.15, 473.15, 493.15])
    fit = fit_arrhenius(kelvin, rate * arrhenius_factor(kelvin, energy))
    assert fit.activation_energy == pytest.approx(energy, rel=1e-6)
    assert fit.reference_rate == pytest.approx(rate, rel=1e-6)


def test_the_stated_error_is_that_of_repeated_measurements() -> None:
    generator, kelvin = np.random.default_rng(5), np.linspace(433.15, 493.15, 7)
    true = arrhenius_factor(kelvin, 120e3)
    fits = [fit_arrhenius(kelvin, true * np.exp(0.1 * generator.standard_normal(7))) for _ in range(400)]
    scatter = np.std([fit.activation_energy for fit in fits])
    stated = np.sqrt(np.mean([fit.activation_energy_error**2 for fit in fits]))
    assert stated == pytest.approx(scatter, rel=0.1)


def test_the_reference_is_200_degrees_and_the_gas_constant_that_of_the_si() -> None:
    assert celsius_to_kelvin(200.0) == REFERENCE_TEMPERATURE
    assert arrhenius_factor(REFERENCE_TEMPERATURE, 1e5) == 1.0
    assert pytest.approx(1.380649e-23 * 6.02214076e23) == GAS_CONSTANT


@pytest.mark.parametrize(("kelvin", "rates"), [([450.0], [1.0]), ([450, 450], [1, 2]), ([450, 460], [0, 1])])
def test_one_temperature_or_no_rate_gives_no_activation_energy(
    kelvin: list[float], rates: list[float]
) -> None:
    with pytest.raises(ValueError, match="rates above zero at two temperatures"):
        fit_arrhenius(kelvin, rates)
