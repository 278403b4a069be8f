"""A kind of blank as somebody entered it, made into one that can be kept."""

from dataclasses import dataclass
from datetime import datetime

from dyecast_api.press_log.entered_name import entered_name
from dyecast_api.press_log.entered_values import entered_temperature, entered_thickness, entered_time
from dyecast_api.press_log.log_values import Blank
from dyecast_calibration.press.materials import materials
from dyecast_shared.errors import PressLogInvalid

Pair = tuple[str | None, str | None]


@dataclass(frozen=True, slots=True)
class BlankEntry:
    """What was written; pairs are temperature and time, or lowest and highest."""

    name: str
    material: str
    coating_side: str
    thickness: str | None
    supplier: Pair = (None, None)
    temperatures: Pair = (None, None)
    times: Pair = (None, None)
    cost: float | None = None
    currency: str | None = None


def entered_blank(entry: BlankEntry, now: datetime, *, as_written: bool = False) -> Blank:
    """Read an entry.

    Raises PressLogInvalid for an unknown material, a blank without thickness or limits that contradict each
    other or the supplier, PressEntryUnclear for what cannot be read.
    """
    known = blank_materials()
    if entry.material not in known:
        raise PressLogInvalid(
            f"Nothing is known of a blank of '{entry.material}'.",
            advice=f"Known are: {', '.join(known)}.",
            field="material",
        )
    if entry.thickness is None:
        raise PressLogInvalid(
            "A blank needs a thickness: how fast it warms depends on it.",
            advice="Measure it and give it, such as 4mm.",
            field="thickness",
        )
    kelvins = [
        None if text is None else entered_temperature(text, as_written=as_written)
        for text in (entry.supplier[0], *entry.temperatures)
    ]
    seconds = [None if text is None else entered_time(text) for text in (entry.supplier[1], *entry.times)]
    blank = Blank(
        name=entered_name(entry.name),
        material=entry.material,
        thickness_mm=entered_thickness(entry.thickness),
        coating_side=entry.coating_side,
        created_at=now,
        supplier_temperature_k=kelvins[0],
        supplier_time_s=seconds[0],
        lowest_temperature_k=kelvins[1],
        highest_temperature_k=kelvins[2],
        shortest_time_s=seconds[1],
        longest_time_s=seconds[2],
        cost=entry.cost,
        currency=entered_currency(entry.currency),
    )
    check_blank(blank)
    return blank


def check_blank(blank: Blank) -> None:
    """Raise PressLogInvalid for half of a supplier's recommendation, and for limits that contradict."""
    if (blank.supplier_temperature_k is None) != (blank.supplier_time_s is None):
        raise PressLogInvalid(
            "What a supplier recommends is a temperature and a time.",
            advice="Give both together, or neither.",
            field="supplier",
        )
    kelvins = (blank.supplier_temperature_k, blank.lowest_temperature_k, blank.highest_temperature_k)
    _check_order("temperature", *kelvins)
    _check_order("time", blank.supplier_time_s, blank.shortest_time_s, blank.longest_time_s)


def blank_materials() -> tuple[str, ...]:
    """Return the names of what a blank can be made of."""
    return tuple(name for name in materials() if name not in {"coating", "paper"})


def _check_order(what: str, supplier: float | None, lowest: float | None, highest: float | None) -> None:
    """Refuse limits that leave nothing between them, or not what the supplier recommends."""
    if lowest is not None and highest is not None and lowest > highest:
        raise PressLogInvalid(f"The lowest {what} lies above the highest.")
    below = supplier is not None and lowest is not None and supplier < lowest
    above = supplier is not None and highest is not None and supplier > highest
    if below or above:
        raise PressLogInvalid(
            f"The supplier's {what} lies outside your limits.", advice="Look at both numbers and their units."
        )


def entered_currency(code: str | None) -> str | None:
    """Read a currency's three letters; raises PressLogInvalid."""
    if code is not None and not (len(code) == 3 and code.isalpha()):
        raise PressLogInvalid(
            f"'{code}' is no currency.", advice="Use its three letters, such as EUR.", field="currency"
        )
    return None if code is None else code.upper()
