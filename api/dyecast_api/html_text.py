"""Text on its way into a page: escaped, and with figures kept beside their units."""

import re
from html import escape
from typing import Final

NO_BREAK_SPACE: Final = "\u00a0"

_BEFORE_UNIT: Final = re.compile(r"(?<=\d) (?=(?:%|mm|px|s|min|°C|±)(?!\w))|(?<=±) (?=\d)|(?<=ΔE00) (?=\d)")
"""The spaces at which a line must not end: between a figure and its unit, around ±, and after ΔE00."""


def html_text(text: str) -> str:
    """Escape text for HTML, inside or outside an attribute; no line will end between figure and unit."""
    return escape(_BEFORE_UNIT.sub(NO_BREAK_SPACE, text), quote=True)
