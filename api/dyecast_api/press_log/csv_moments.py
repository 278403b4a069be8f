"""Dates of a notebook: year first, or day first when that was said."""

import re
from datetime import UTC, datetime
from typing import Final

from dyecast_shared.errors import PressLogInvalid

_DAY_FIRST: Final = re.compile(
    r"(\d{1,2})[./-](\d{1,2})[./-](\d{4})(?:[ T,]+(\d{1,2}):(\d{2})(?::(\d{2}))?)?"
)
_DATE: Final = re.compile(r"\d{4}-\d{2}-\d{2}")

NOON: Final = 12
"""Hour, UTC, of a piece of which only the date is known: the date is then the same in most time zones."""


def csv_moment(text: str, *, day_first: bool) -> datetime:
    """Read a date with or without its time; without a time zone the time is this computer's.

    Raises PressLogInvalid for anything else.
    """
    try:
        moment = _day_first(text) if day_first else _year_first(text)
    except (ValueError, OverflowError):
        moment = None
    if moment is None:
        usual = "4.5.2026 or 04/05/2026 14:30" if day_first else "2026-05-04 or 2026-05-04T14:30"
        other = "" if day_first else " If the day comes first, say so."
        raise PressLogInvalid(
            f"'{text}' is no date.",
            advice=f"Write it like {usual}.{other}",
            field="" if day_first else "day_first",
        )
    return moment


def _year_first(text: str) -> datetime:
    if _DATE.fullmatch(text):
        return datetime.fromisoformat(text).replace(hour=NOON, tzinfo=UTC)
    return datetime.fromisoformat(text).astimezone(UTC)


def _day_first(text: str) -> datetime | None:
    found = _DAY_FIRST.fullmatch(text)
    if found is None:
        return None
    day, month, year = (int(found[place]) for place in (1, 2, 3))
    if found[4] is None:
        return datetime(year, month, day, NOON, tzinfo=UTC)
    hour, minute, second = (int(found[place] or 0) for place in (4, 5, 6))
    return datetime(year, month, day, hour, minute, second).astimezone(UTC)
