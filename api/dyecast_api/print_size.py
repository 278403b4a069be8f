"""The print size as it is written on the command line: `100x80`, `100x80mm`, `4x3in`."""

import re
from typing import Final

import typer

from dyecast_shared.units import inches_to_millimetres

WRITTEN: Final = re.compile(r"\s*([\d.]+)\s*[x×*]\s*([\d.]+)\s*(mm|cm|in|inch|inches|\")?\s*", re.IGNORECASE)
"""Width, height, and perhaps a unit."""

RANGE_MM: Final = (10.0, 2000.0)
"""Sides a pressed picture may have: from a button to a wall panel."""

MOST_ASPECT_ERROR: Final = 0.02
"""Relative difference of aspect between the print size and the artwork from which one of them must be wrong:
as much as the size itself may be off."""


def print_size_mm(text: str) -> tuple[float, float]:
    """Return width and height in mm; raise typer.BadParameter for what is no size or no sensible one."""
    written = WRITTEN.fullmatch(text)
    try:
        sides = (float(written[1]), float(written[2])) if written else (0.0, 0.0)
    except ValueError:
        sides = (0.0, 0.0)
    unit = (written[3] or "mm").lower() if written else "mm"
    factor = {"mm": 1.0, "cm": 10.0}.get(unit, inches_to_millimetres(1.0))
    width, height = sides[0] * factor, sides[1] * factor
    low, high = RANGE_MM
    if not (low <= width <= high and low <= height <= high):
        raise typer.BadParameter(
            "give width and height of the print, from 10 mm to 2 m, as 100x80 (mm) or 4x3in.",
            param_hint="--print-size",
        )
    return width, height


def check_aspect(size_mm: tuple[float, float], artwork_px: tuple[int, int]) -> None:
    """Raise typer.BadParameter when a print size cannot be the artwork's, (height, width) in pixels."""
    height, width = artwork_px
    if abs((size_mm[0] / size_mm[1]) / (width / height) - 1.0) > MOST_ASPECT_ERROR:
        raise typer.BadParameter(
            f"the artwork has {width} × {height} pixels: a print of {size_mm[0]:g} × {size_mm[1]:g} mm would "
            "be stretched. Give the artwork's own width and height on the blank.",
            param_hint="--print-size",
        )
