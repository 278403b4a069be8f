"""Texts in tables that a spreadsheet opens."""

from typing import Final

FORMULA_STARTS: Final = ("=", "+", "-", "@", "\t", "\r")
"""What a spreadsheet would take for a formula at the beginning of a text (OWASP, CSV injection)."""


def harmless(value: object) -> object:
    """Keep a spreadsheet from taking a name for a formula; what is no text stays as it is."""
    return f"'{value}" if isinstance(value, str) and value.startswith(FORMULA_STARTS) else value
