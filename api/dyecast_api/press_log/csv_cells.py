"""Single cells of a notebook: grades, yes and no, shares, bare numbers with the column's unit."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from dyecast_shared.errors import PressLogInvalid

GRADE_WORDS: Final = {
    "under": "under-pressed",
    "under-pressed": "under-pressed",
    "pale": "under-pressed",
    "good": "good",
    "ok": "good",
    "over": "over-pressed",
    "over-pressed": "over-pressed",
}
"""Words for grades that need no telling."""

YES: Final = frozenset({"yes", "y", "x", "1", "true", "lost"})
NO: Final = frozenset({"", "no", "n", "0", "false"})

_BARE: Final = re.compile(r"[+-]?\d+(?:[.,]\d+)?")


@dataclass(frozen=True, slots=True)
class CsvCells:
    """One line's cells by our names of their columns."""

    by_name: Mapping[str, str]

    def text(self, name: str) -> str:
        """Return a cell, empty when it is not there."""
        return self.by_name.get(name, "")


def with_unit(text: str, unit: str) -> str:
    """Return a cell with the column's unit behind it when it is a bare number."""
    return f"{text}{unit}" if _BARE.fullmatch(text) else text


def entered_grade(text: str, words: Mapping[str, str]) -> str | None:
    """Read a grade, None for an empty cell; raises PressLogInvalid for a word that is not known."""
    if not text:
        return None
    known = {**GRADE_WORDS, **words}
    if text.lower() not in known:
        raise PressLogInvalid(
            f"'{text}' is no grade.", advice="Say which grade the word stands for.", field="grade_word"
        )
    return known[text.lower()]


def entered_lost(text: str) -> bool:
    """Read whether the blank was thrown away; raises PressLogInvalid for other words than yes and no."""
    if text.lower() in YES | NO:
        return text.lower() in YES
    raise PressLogInvalid(f"'{text}' is neither yes nor no.", advice="Write yes, no, or nothing.")


def entered_share(text: str) -> float | None:
    """Read a share such as 0.95 or 0,95, None for an empty cell; raises PressLogInvalid outside 0 to 2."""
    if not text:
        return None
    try:
        share = float(text.replace(",", "."))
    except ValueError:
        share = -1.0
    if not 0.0 <= share <= 2.0:
        raise PressLogInvalid(f"'{text}' is no share.", advice="Write it like 0.95.")
    return share
