"""Lengths on paper and on a pixel grid, and temperatures."""

import math
from typing import Final

MILLIMETRES_PER_INCH: Final = 25.4
"""Exact. Source: international yard and pound agreement, 1959."""

POINTS_PER_INCH: Final = 72.0
"""PDF user space units per inch. Source: ISO 32000-1, 8.3.2.3."""

ABSOLUTE_ZERO_CELSIUS: Final = -273.15
"""Degrees Celsius at 0 K. Source: the SI Brochure's definition of the Celsius scale."""


def millimetres_to_inches(millimetres: float) -> float:
    """Convert a length in millimetres to inches."""
    return millimetres / MILLIMETRES_PER_INCH


def inches_to_millimetres(inches: float) -> float:
    """Convert a length in inches to millimetres."""
    return inches * MILLIMETRES_PER_INCH


def millimetres_to_points(millimetres: float) -> float:
    """Convert a length in millimetres to PDF points of 1/72 inch.

    >>> millimetres_to_points(25.4)
    72.0
    """
    return millimetres * POINTS_PER_INCH / MILLIMETRES_PER_INCH


def points_to_millimetres(points: float) -> float:
    """Convert a length in PDF points of 1/72 inch to millimetres."""
    return points * MILLIMETRES_PER_INCH / POINTS_PER_INCH


def inches_to_points(inches: float) -> float:
    """Convert a length in inches to PDF points of 1/72 inch."""
    return inches * POINTS_PER_INCH


def points_to_inches(points: float) -> float:
    """Convert a length in PDF points of 1/72 inch to inches."""
    return points / POINTS_PER_INCH


def millimetres_to_pixels(millimetres: float, pixels_per_inch: float) -> float:
    """Convert a length in millimetres to fractional pixels; ValueError unless the resolution is positive.

    >>> millimetres_to_pixels(25.4, 600)
    600.0
    """
    return millimetres * _checked_resolution(pixels_per_inch) / MILLIMETRES_PER_INCH


def pixels_to_millimetres(pixels: float, pixels_per_inch: float) -> float:
    """Convert a length in pixels to millimetres; ValueError unless the resolution is positive."""
    return pixels * MILLIMETRES_PER_INCH / _checked_resolution(pixels_per_inch)


def points_to_pixels(points: float, pixels_per_inch: float) -> float:
    """Convert a length in PDF points to fractional pixels; ValueError unless the resolution is positive."""
    return points * _checked_resolution(pixels_per_inch) / POINTS_PER_INCH


def pixels_to_points(pixels: float, pixels_per_inch: float) -> float:
    """Convert a length in pixels to PDF points; ValueError unless the resolution is positive."""
    return pixels * POINTS_PER_INCH / _checked_resolution(pixels_per_inch)


def celsius_to_fahrenheit(celsius: float) -> float:
    """Convert degrees Celsius to degrees Fahrenheit; ValueError below absolute zero.

    >>> celsius_to_fahrenheit(200.0)
    392.0
    """
    return _checked_celsius(celsius) * 9.0 / 5.0 + 32.0


def fahrenheit_to_celsius(fahrenheit: float) -> float:
    """Convert degrees Fahrenheit to degrees Celsius; ValueError below absolute zero."""
    # Rounded to 1e-9 degrees so that absolute zero, -459.67 °F, is not refused for its last bit.
    return _checked_celsius(round((fahrenheit - 32.0) * 5.0 / 9.0, 9))


def celsius_to_kelvin(celsius: float) -> float:
    """Convert degrees Celsius to kelvin; ValueError below absolute zero.

    >>> celsius_to_kelvin(0.0)
    273.15
    """
    return _checked_celsius(celsius) - ABSOLUTE_ZERO_CELSIUS


def kelvin_to_celsius(kelvin: float) -> float:
    """Convert kelvin to degrees Celsius; ValueError below absolute zero."""
    return _checked_celsius(kelvin + ABSOLUTE_ZERO_CELSIUS)


def fahrenheit_to_kelvin(fahrenheit: float) -> float:
    """Convert degrees Fahrenheit to kelvin; ValueError below absolute zero."""
    return celsius_to_kelvin(fahrenheit_to_celsius(fahrenheit))


def kelvin_to_fahrenheit(kelvin: float) -> float:
    """Convert kelvin to degrees Fahrenheit; ValueError below absolute zero."""
    return celsius_to_fahrenheit(kelvin_to_celsius(kelvin))


def _checked_resolution(pixels_per_inch: float) -> float:
    """Return the resolution, or raise ValueError when it is not a positive number."""
    if not (math.isfinite(pixels_per_inch) and pixels_per_inch > 0.0):
        raise ValueError(f"a resolution must be a positive number of pixels per inch, got {pixels_per_inch}")
    return pixels_per_inch


def _checked_celsius(celsius: float) -> float:
    """Return the temperature, or raise ValueError when no body can have it."""
    if not (math.isfinite(celsius) and celsius >= ABSOLUTE_ZERO_CELSIUS):
        raise ValueError(f"no temperature lies below {ABSOLUTE_ZERO_CELSIUS} °C, got {celsius} °C")
    return celsius
