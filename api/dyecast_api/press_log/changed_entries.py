"""A press or a kind of blank corrected: what is told replaces what was kept, the rest stays as it is."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from typing import Final

from dyecast_api.press_log.entered_blank import check_blank, entered_currency
from dyecast_api.press_log.entered_values import entered_temperature, entered_thickness, entered_time
from dyecast_api.press_log.log_values import Blank, Press

NONE: Final = "none"
"""What is written to take a value away."""


@dataclass(frozen=True, slots=True)
class BlankChange:
    """What was written anew, None for what stays; pairs are temperature and time, or lowest and highest."""

    thickness: str | None = None
    supplier: tuple[str | None, str | None] = (None, None)
    temperatures: tuple[str | None, str | None] = (None, None)
    times: tuple[str | None, str | None] = (None, None)
    cost: float | None = None
    currency: str | None = None


def changed_blank(blank: Blank, change: BlankChange, *, as_written: bool = False) -> Blank:
    """Return a blank with a change; raises what `entered_blank` raises."""
    temperature = partial(entered_temperature, as_written=as_written)
    coolest, hottest = change.temperatures
    shortest, longest = change.times
    changed = replace(
        blank,
        thickness_mm=blank.thickness_mm if change.thickness is None else entered_thickness(change.thickness),
        supplier_temperature_k=_anew(change.supplier[0], blank.supplier_temperature_k, temperature),
        supplier_time_s=_anew(change.supplier[1], blank.supplier_time_s, entered_time),
        lowest_temperature_k=_anew(coolest, blank.lowest_temperature_k, temperature),
        highest_temperature_k=_anew(hottest, blank.highest_temperature_k, temperature),
        shortest_time_s=_anew(shortest, blank.shortest_time_s, entered_time),
        longest_time_s=_anew(longest, blank.longest_time_s, entered_time),
        cost=blank.cost if change.cost is None else change.cost,
        currency=blank.currency if change.currency is None else entered_currency(change.currency),
    )
    check_blank(changed)
    return changed


def changed_press(press: Press, hottest: str | None, notes: str | None, *, as_written: bool = False) -> Press:
    """Return a press with another limit or other notes; raises PressEntryUnclear for its temperature."""
    temperature = partial(entered_temperature, as_written=as_written)
    return replace(
        press,
        highest_temperature_k=_anew(hottest, press.highest_temperature_k, temperature),
        notes=press.notes if notes is None else notes,
    )


def _anew(text: str | None, kept: float | None, entered: Callable[[str], float]) -> float | None:
    if text is None:
        return kept
    return None if text.strip().lower() == NONE else entered(text)
