"""A press as somebody entered it, made into one that can be kept."""

from dataclasses import dataclass
from datetime import datetime

from dyecast_api.press_log.entered_name import entered_name
from dyecast_api.press_log.entered_values import entered_temperature
from dyecast_api.press_log.log_values import Press


@dataclass(frozen=True, slots=True)
class PressEntry:
    """What was written; `hottest` is what the press must never be set above, None without such a limit."""

    name: str
    hottest: str | None = None
    notes: str = ""


def entered_press(entry: PressEntry, now: datetime, *, as_written: bool = False) -> Press:
    """Read an entry; raises PressLogInvalid for its name, PressEntryUnclear for its temperature."""
    limit = None if entry.hottest is None else entered_temperature(entry.hottest, as_written=as_written)
    return Press(entered_name(entry.name), now, notes=entry.notes, highest_temperature_k=limit)
