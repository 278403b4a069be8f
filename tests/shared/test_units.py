"""Lengths at a resolution and temperatures on a press."""

import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dyecast_shared import units

lengths = st.floats(-1e6, 1e6)
resolutions = st.floats(1, 10_000)


class TestLengths:
    def test_a4_is_595_by_842_points(self) -> None:
        """ISO 216: 210 mm × 297 mm; in points 595.28 × 841.89, as PDF files give it."""
        assert units.millimetres_to_points(210) == pytest.approx(595.28, abs=0.005)
        assert units.millimetres_to_points(297) == pytest.approx(841.89, abs=0.005)

    def test_an_inch_is_25_4_millimetres_and_72_points(self) -> None:
        assert units.inches_to_millimetres(1) == 25.4
        assert units.millimetres_to_inches(25.4) == 1.0
        assert units.inches_to_points(1) == 72.0
        assert units.points_to_inches(36) == 0.5
        assert units.points_to_millimetres(72) == pytest.approx(25.4)

    def test_a_printer_at_300_pixels_per_inch_has_nearly_12_on_a_millimetre(self) -> None:
        assert units.millimetres_to_pixels(1, 300) == pytest.approx(11.811, abs=5e-4)
        assert units.millimetres_to_pixels(25.4, 300) == pytest.approx(300)
        assert units.points_to_pixels(72, 300) == pytest.approx(300)

    def test_pixels_are_not_rounded(self) -> None:
        assert units.pixels_to_millimetres(0.5, 254) == pytest.approx(0.05)

    @given(lengths, resolutions)
    def test_there_and_back_is_the_same_length(self, length: float, resolution: float) -> None:
        there_and_back = [
            units.inches_to_millimetres(units.millimetres_to_inches(length)),
            units.points_to_millimetres(units.millimetres_to_points(length)),
            units.points_to_inches(units.inches_to_points(length)),
            units.pixels_to_millimetres(units.millimetres_to_pixels(length, resolution), resolution),
            units.pixels_to_points(units.points_to_pixels(length, resolution), resolution),
        ]
        assert there_and_back == pytest.approx([length] * 5, rel=1e-12)

    @pytest.mark.parametrize("resolution", [0.0, -300.0, math.nan, math.inf])
    @pytest.mark.parametrize(
        "convert",
        [
            units.millimetres_to_pixels,
            units.pixels_to_millimetres,
            units.points_to_pixels,
            units.pixels_to_points,
        ],
    )
    def test_a_resolution_is_a_positive_number(
        self, convert: Callable[[float, float], float], resolution: float
    ) -> None:
        with pytest.raises(ValueError, match="resolution"):
            convert(10.0, resolution)


class TestTemperatures:
    @pytest.mark.parametrize(
        ("celsius", "fahrenheit"), [(0, 32), (100, 212), (-40, -40), (200, 392), (204.444, 400)]
    )
    def test_celsius_and_fahrenheit(self, celsius: float, fahrenheit: float) -> None:
        assert units.celsius_to_fahrenheit(celsius) == pytest.approx(fahrenheit, abs=1e-3)
        assert units.fahrenheit_to_celsius(fahrenheit) == pytest.approx(celsius, abs=1e-3)

    def test_celsius_and_kelvin(self) -> None:
        assert units.celsius_to_kelvin(0) == 273.15
        assert units.kelvin_to_celsius(473.15) == pytest.approx(200)

    @pytest.mark.parametrize(
        ("fahrenheit", "kelvin"), [(365, 458.15), (32, 273.15), (212, 373.15), (-459.67, 0.0)]
    )
    def test_fahrenheit_and_kelvin_are_exact(self, fahrenheit: float, kelvin: float) -> None:
        """365 °F is 185 °C: a press's usual figures come without rounding error."""
        assert units.fahrenheit_to_kelvin(fahrenheit) == kelvin
        assert units.kelvin_to_fahrenheit(kelvin) == pytest.approx(fahrenheit, abs=1e-12)

    def test_absolute_zero_is_possible_on_every_scale(self) -> None:
        assert units.celsius_to_kelvin(-273.15) == 0.0
        assert units.celsius_to_fahrenheit(-273.15) == pytest.approx(-459.67)
        assert units.fahrenheit_to_celsius(-459.67) == pytest.approx(-273.15)
        assert units.kelvin_to_celsius(0.0) == -273.15

    @given(st.floats(-273.0, 5000.0))
    def test_there_and_back_is_the_same_temperature(self, celsius: float) -> None:
        assert units.fahrenheit_to_celsius(units.celsius_to_fahrenheit(celsius)) == pytest.approx(
            celsius, abs=1e-8
        )
        assert units.kelvin_to_celsius(units.celsius_to_kelvin(celsius)) == pytest.approx(celsius, abs=1e-9)

    @pytest.mark.parametrize(
        ("convert", "impossible"),
        [
            (units.celsius_to_fahrenheit, -273.16),
            (units.celsius_to_kelvin, -300.0),
            (units.fahrenheit_to_celsius, -459.68),
            (units.kelvin_to_celsius, -0.01),
            (units.celsius_to_kelvin, math.nan),
            (units.celsius_to_kelvin, math.inf),
        ],
    )
    def test_nothing_is_colder_than_absolute_zero(
        self, convert: Callable[[float], float], impossible: float
    ) -> None:
        with pytest.raises(ValueError, match="temperature"):
            convert(impossible)
