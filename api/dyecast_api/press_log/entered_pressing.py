"""A pressing as somebody entered it, by a recipe and what differed from it."""

from dataclasses import dataclass
from datetime import datetime

from dyecast_api.press_log.entered_values import entered_pressure, entered_temperature, entered_time
from dyecast_api.press_log.log_values import MACHINE, Pressing, Recipe
from dyecast_shared.errors import PressLogInvalid


@dataclass(frozen=True, slots=True)
class PressingEntry:
    """What was written; settings are None where they are the recipe's, the moment None for now."""

    temperature: str | None = None
    time: str | None = None
    pressure: str | None = None
    pressed_at: datetime | None = None
    lost: bool = False
    note: str = ""


def entered_pressing(
    entry: PressingEntry, recipe: Recipe, now: datetime, *, as_written: bool = False
) -> Pressing:
    """Read an entry, not yet graded; raises PressEntryUnclear for what cannot be read."""
    return Pressing(
        recipe_id=recipe.number,
        temperature_k=recipe.temperature_k
        if entry.temperature is None
        else entered_temperature(entry.temperature, as_written=as_written),
        time_s=recipe.time_s if entry.time is None else entered_time(entry.time),
        pressed_at=entry.pressed_at or now,
        logged_at=now,
        pressure_kpa=recipe.pressure_kpa if entry.pressure is None else entered_pressure(entry.pressure),
        lost=entry.lost,
        note=entry.note,
    )


def entered_person(name: str, field: str = "judged_by") -> str:
    """Return who judges or decides; raises PressLogInvalid for nobody, and for dyecast itself."""
    person = name.strip()
    if person.lower() in {"", MACHINE}:
        raise PressLogInvalid(
            "It is not said which person it is.", advice="Give the person's name.", field=field
        )
    return person
