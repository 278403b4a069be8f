"""A recipe as somebody entered it, made into one that can be kept."""

from dataclasses import dataclass
from datetime import datetime

from dyecast_api.press_log.entered_name import entered_name
from dyecast_api.press_log.entered_values import entered_pressure, entered_temperature, entered_time
from dyecast_api.press_log.log_limits import beyond_limits
from dyecast_api.press_log.log_values import Blank, Press, Recipe
from dyecast_shared.errors import PressLogInvalid


@dataclass(frozen=True, slots=True)
class RecipeEntry:
    """What was written."""

    name: str
    temperature: str
    time: str
    pressure: str | None = None
    ink: str = ""
    paper: str = ""
    protective_sheet: str = ""
    pad: str = ""
    through_blank: bool = False


def entered_recipe(
    entry: RecipeEntry, press: Press, blank: Blank, now: datetime, *, as_written: bool = False
) -> Recipe:
    """Read an entry for a blank on a press.

    Raises PressEntryUnclear for what cannot be read, PressLogInvalid for a name that cannot be and for a
    setting beyond a limit of blank or press.
    """
    kelvin, seconds = entered_temperature(entry.temperature, as_written=as_written), entered_time(entry.time)
    if beyond := beyond_limits(blank, press, kelvin, seconds):
        raise PressLogInvalid(f"{beyond}.", advice="Nothing was added.")
    return Recipe(
        name=entered_name(entry.name),
        press_id=press.number,
        blank_id=blank.number,
        temperature_k=kelvin,
        time_s=seconds,
        created_at=now,
        ink=entry.ink,
        paper=entry.paper,
        protective_sheet=entry.protective_sheet,
        pad=entry.pad,
        pressure_kpa=None if entry.pressure is None else entered_pressure(entry.pressure),
        through_blank=entry.through_blank,
    )
