"""A press as somebody entered it, made into one that can be kept."""

from datetime import datetime

from dyecast_api.press_log.entered_name import entered_name
from dyecast_api.press_log.entered_values import entered_temperature
from dyecast_api.press_log.log_values import Press


def entered_press(
    name: str, hottest: str | None, notes: str, now: datetime, *, as_written: bool = False
) -> Press:
    """Read an entry; `hottest` is what it must never be set above, None without such a limit.

    Raises PressLogInvalid for a name that cannot be, PressEntryUnclear for a temperature.
    """
    limit = None if hottest is None else entered_temperature(hottest, as_written=as_written)
    return Press(entered_name(name), now, notes=notes, highest_temperature_k=limit)
