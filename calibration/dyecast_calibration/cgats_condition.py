"""Which illuminant and observer the colours in a measurement file were computed for."""

import re
from collections.abc import Iterable

from dyecast_calibration.cgats_text import MeasurementTable
from dyecast_shared.errors import MeasurementsInvalid

NOT_STATED = frozenset({"", "UNKNOWN", "NONE", "NA", "N/A"})
"""What instruments write when they do not know."""


def check_condition(table: MeasurementTable, file: str) -> str:
    """Refuse colours that were not made for D50, 2 degree observer.

    Returns the note to keep with the values: what was not stated and is taken for granted, or nothing.
    ISO 13655 prescribes D50, 2 degree for prints, so a file that is silent is taken to follow it.

    Raises MeasurementsInvalid, naming what the file states instead.
    """
    illuminants, observers = stated_illuminants(table), stated_observers(table)
    wrong = sorted(illuminants - {"D50"}) + [f"{angle} degree observer" for angle in sorted(observers - {2})]
    if wrong:
        raise MeasurementsInvalid(f"The values were made for {', '.join(wrong)}.", file=file)
    unstated = [
        text
        for text, stated in (("illuminant D50", illuminants), ("2 degree observer", observers))
        if not stated
    ]
    return f"{' and '.join(unstated)} not stated, taken for granted" if unstated else ""


def stated_illuminants(table: MeasurementTable) -> frozenset[str]:
    """Return the illuminants the colours were computed for, as far as the file says, e.g. {"D50"}.

    The keywords made for it come first. Only when they are silent do the lamp and the instrument's
    description count, and of those only the D illuminants: a tungsten lamp (A) lights prints whose colours
    are then computed for D50 (ISO 13655, M0).
    """
    stated = [*table.values_of("ILLUMINATION_NAME"), *table.values_of("ILLUMINANT")]
    stated += _after(r"ILLUMINANT\W+(\w+)", table.values_of("WEIGHTING_FUNCTION"))
    stated += _after(r"ILLUMINATION\s*=\s*(\w+)", table.values_of("MEASUREMENT_SOURCE"))
    known = {_illuminant_name(value) for value in stated} - NOT_STATED
    described = [*table.values_of("INSTRUMENTATION"), *table.values_of("MEASUREMENT_SOURCE")]
    return frozenset(known or {name.upper() for name in _after(r"\b(D\d\d)\b", described)})


def stated_observers(table: MeasurementTable) -> frozenset[int]:
    """Return the observer angles the colours were computed for, in degrees, as far as the file says."""
    stated = [*table.values_of("OBSERVER_ANGLE"), *table.values_of("OBSERVER")]
    stated += _after(r"OBSERVER\W+(.+)", table.values_of("WEIGHTING_FUNCTION"))
    stated += _after(r"OBSERVERANGLE\s*=\s*(\w+)", table.values_of("MEASUREMENT_SOURCE"))
    angles = _after(r"(?<![\d.])(1931|1964|10|2)(?!\d|\.[1-9])", stated)
    described = [*table.values_of("INSTRUMENTATION"), *table.values_of("MEASUREMENT_SOURCE")]
    angles = angles or _after(r"(?<![\d.])(10|2)\s*(?:°|\ufffd|deg)", described)
    return frozenset({"1931": 2, "1964": 10}.get(angle, 0) or int(angle) for angle in angles)


def _after(pattern: str, values: Iterable[str]) -> list[str]:
    return [found for value in values for found in re.findall(pattern, value, re.IGNORECASE)]


def _illuminant_name(value: str) -> str:
    bare = re.sub(r"^(CIE\s+)?((STANDARD\s+)?ILLUMINANT\s+)?", "", value.strip().upper())
    return "D50" if re.match(r"D[ _-]?50(00)?\b", bare) else bare
