"""Which dyecast this is."""

from typing import Final

VERSION: Final = "0.1.0"
"""The version of the distribution, the same as in pyproject.toml."""

SOFTWARE: Final = f"dyecast {VERSION}"
"""How dyecast signs its documents and reports."""
