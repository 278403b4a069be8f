"""Temperatures, times, pressures and thicknesses as people write them, and back into words.

Nothing is guessed: a number that could be read in two ways is refused with both readings.
"""

import math
import re
from typing import Final

from dyecast_shared.errors import PressEntryUnclear
from dyecast_shared.units import (
    celsius_to_kelvin,
    fahrenheit_to_celsius,
    inches_to_millimetres,
    kelvin_to_celsius,
    kelvin_to_fahrenheit,
)

COOLEST_PRESS: Final = celsius_to_kelvin(120.0)
HOTTEST_PRESS: Final = celsius_to_kelvin(235.0)
"""K, between which a press works when dyes are sublimed: the published 170 to 220 °C (textile handbook pages)
with room for what is tried at the edges. Anything else is questioned."""

COOLEST_BODY: Final = celsius_to_kelvin(20.0)
HOTTEST_BODY: Final = celsius_to_kelvin(300.0)
"""K, beyond which nobody's word is taken: a press is not colder than its room, and coatings char."""

LONGEST_TIME: Final = 3600.0
"""s, above which a time is a slip: half an hour ruins every coating."""

LARGEST_NUMBER: Final = 1e5
"""Degrees, above which what was written is no temperature at all and no question helps. Our choice."""

PRESSURE_UNITS: Final = {"kpa": 1.0, "bar": 100.0, "psi": 6.894757, "n/cm2": 10.0, "n/cm²": 10.0}
"""kPa in one of each. Source of the pound per square inch: NIST SP 811, B.8."""

_NUMBER: Final = r"([+-]?\d+(?:[.,]\d+)?)"
_TEMPERATURE: Final = re.compile(
    rf"{_NUMBER}\s*(?:°|º|deg(?:rees)?)?\s*([cf]|celsius|fahrenheit)?", re.IGNORECASE
)
_CLOCK: Final = re.compile(r"(\d{1,4}):([0-5]\d)")
_TIME: Final = re.compile(
    rf"(?:{_NUMBER}\s*m(?:in(?:utes?)?)?)?\s*(?:{_NUMBER}\s*(?:s(?:ec(?:onds?)?)?)?)?", re.IGNORECASE
)
_LENGTH: Final = re.compile(rf"{_NUMBER}\s*(mm|in|inch)?", re.IGNORECASE)
_PRESSURE: Final = re.compile(rf"{_NUMBER}\s*(\S+)?", re.IGNORECASE)


def entered_temperature(text: str, *, as_written: bool = False) -> float:
    """Read a temperature such as ``365F``, ``185C`` or ``185 °C``; return kelvin.

    Parameters
    ----------
    text
        A number with its unit.
    as_written
        Take a temperature at which presses do not usually work all the same.

    Raises PressEntryUnclear for anything else, for a number without a unit (both readings are shown), and
    for a temperature that is likely a slip, with the question whether the other unit was meant.
    """
    found = _TEMPERATURE.fullmatch(text.strip())
    if found is None or abs(_number(found[1])) > LARGEST_NUMBER:
        raise PressEntryUnclear(f"'{text}' is no temperature.", advice="Write it like 365F or 185C.")
    number, unit = _number(found[1]), (found[2] or "").upper()[:1]
    if not unit:
        raise PressEntryUnclear(
            f"'{text}' has no unit.",
            advice=f"Write {_plain(number)}C for {_both(number, 'C')}, or "
            f"{_plain(number)}F for {_both(number, 'F')}.",
        )
    kelvin = _kelvin(number, unit)
    if COOLEST_PRESS <= kelvin <= HOTTEST_PRESS:
        return kelvin
    if as_written and _is_possible(kelvin):
        return kelvin
    raise PressEntryUnclear(
        f"{_both(number, unit)} is no usual temperature of a press.",
        advice=_question(number, unit, kelvin),
        field="as_written" if _is_possible(kelvin) else "",
    )


def entered_time(text: str) -> float:
    """Read a time such as ``90``, ``90s``, ``6min``, ``1 min 30 s`` or ``6:00``; return seconds.

    Raises PressEntryUnclear for anything else, and unless it lies above zero and within an hour.
    """
    clock, written = _CLOCK.fullmatch(text.strip()), _TIME.fullmatch(text.strip())
    if clock:
        seconds = 60.0 * int(clock[1]) + int(clock[2])
    elif written and text.strip():
        seconds = 60.0 * _number(written[1] or "0") + _number(written[2] or "0")
    else:
        raise PressEntryUnclear(f"'{text}' is no time.", advice="Write it like 90s, 6min or 6:00.")
    if not 0.0 < seconds <= LONGEST_TIME:
        raise PressEntryUnclear(
            f"A pressing of {_plain(seconds)} s cannot be.",
            advice="Write a time above zero and within an hour.",
        )
    return seconds


def entered_pressure(text: str) -> float:
    """Read a pressure such as ``300kPa``, ``3 bar`` or ``40psi``; return kPa.

    Raises PressEntryUnclear for anything else.
    """
    found = _PRESSURE.fullmatch(text.strip())
    scale = PRESSURE_UNITS.get((found[2] or "").lower()) if found else None
    kilopascal = 0.0 if scale is None or found is None else _number(found[1]) * scale
    if not 1.0 <= kilopascal <= 2000.0:
        raise PressEntryUnclear(
            f"'{text}' is no pressure on a piece.",
            advice="Write it like 300kPa, 3bar or 40psi, or leave it out.",
        )
    return kilopascal


def entered_thickness(text: str) -> float:
    """Read a thickness such as ``4``, ``4mm`` or ``0.16in``; return mm, else raise PressEntryUnclear."""
    found = _LENGTH.fullmatch(text.strip())
    millimetres = _number(found[1]) if found else 0.0
    if found and (found[2] or "mm").lower() != "mm":
        millimetres = inches_to_millimetres(millimetres)
    if not 0.05 <= millimetres <= 60.0:
        raise PressEntryUnclear(f"'{text}' is no thickness of a blank.", advice="Write it in mm, like 4mm.")
    return millimetres


def entered_cost(text: str) -> float:
    """Read what one blank costs, such as ``3.20`` or ``3,20``; raises PressEntryUnclear for anything else."""
    try:
        cost = float(text.strip().replace(",", "."))
    except ValueError:
        cost = math.nan
    if not 0.0 <= cost < math.inf:
        raise PressEntryUnclear(f"'{text}' is no cost.", advice="Write it like 3.20.", field="cost")
    return cost


def temperature_words(kelvin: float) -> str:
    """Return a temperature in both units.

    >>> temperature_words(458.15)
    '185 °C (365 °F)'
    """
    return f"{kelvin_to_celsius(kelvin):.0f} °C ({kelvin_to_fahrenheit(kelvin):.0f} °F)"


def time_words(seconds: float) -> str:
    """Return a time as a press's timer shows it.

    >>> time_words(95.0), time_words(360.0), time_words(370.0)
    ('95 s', '6 min', '6 min 10 s')
    """
    whole = round(seconds)
    if whole < 120:
        return f"{whole} s"
    minutes, rest = divmod(whole, 60)
    return f"{minutes} min" if rest == 0 else f"{minutes} min {rest} s"


def settings_words(kelvin: float, seconds: float) -> str:
    """Return temperature and time together."""
    return f"{temperature_words(kelvin)} for {time_words(seconds)}"


def _number(text: str) -> float:
    return float(text.replace(",", "."))


def _plain(number: float) -> str:
    return f"{number:g}"


def _kelvin(number: float, unit: str) -> float:
    """Return kelvin; what lies below absolute zero becomes 0."""
    celsius = number if unit == "C" else (number - 32.0) / 1.8
    if celsius < -273.0:
        return 0.0
    return celsius_to_kelvin(celsius if unit == "C" else fahrenheit_to_celsius(number))


def _both(number: float, unit: str) -> str:
    """Return a reading in its own unit with the other one behind it."""
    other = number * 1.8 + 32.0 if unit == "C" else (number - 32.0) / 1.8
    return f"{_plain(number)} °{unit} ({other:.0f} °{'F' if unit == 'C' else 'C'})"


def _question(number: float, unit: str, kelvin: float) -> str:
    """Return what to do about an unusual temperature."""
    other = "F" if unit == "C" else "C"
    asked = ""
    if COOLEST_PRESS <= _kelvin(number, other) <= HOTTEST_PRESS:
        meant = temperature_words(_kelvin(number, other))
        asked = f"Did you mean {_plain(number)} °{other}? Then write {_plain(number)}{other}: {meant}. "
    if not _is_possible(kelvin):
        return asked.rstrip() or "Look at the number again."
    return f"{asked}If it is right, say that it is meant as written."


def _is_possible(kelvin: float) -> bool:
    """Tell whether somebody's word is taken for a temperature."""
    return math.isfinite(kelvin) and COOLEST_BODY <= kelvin <= HOTTEST_BODY
