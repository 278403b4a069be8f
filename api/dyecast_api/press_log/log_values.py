"""What the press log holds: values as the tables keep them.

Temperatures in kelvin, times in seconds, lengths in millimetres, pressures in kilopascal, moments with a time
zone. `number` is the row's number in the shop's database, 0 until it is kept.
"""

from dataclasses import dataclass
from datetime import datetime
from typing import Final

GRADES: Final = ("under-pressed", "good", "over-pressed")
"""The grades a piece can have."""

MACHINE: Final = "dyecast"
"""Who judged, when dyecast did so from a photo."""


@dataclass(frozen=True, slots=True)
class Press:
    """A press; `highest_temperature_k` is what it must not be set above, None without such a limit."""

    name: str
    created_at: datetime
    notes: str = ""
    highest_temperature_k: float | None = None
    number: int = 0


@dataclass(frozen=True, slots=True)
class Blank:
    """A kind of blank.

    Attributes
    ----------
    material
        A name of `dyecast_calibration.press.materials`.
    coating_side
        ``front``, towards the eye, or ``back``, seen through the blank.
    supplier_temperature_k, supplier_time_s
        What its supplier recommends.
    lowest_temperature_k, highest_temperature_k, shortest_time_s, longest_time_s
        Limits that no advice may pass.
    cost, currency
        Of one blank.
    """

    name: str
    material: str
    thickness_mm: float
    coating_side: str
    created_at: datetime
    supplier_temperature_k: float | None = None
    supplier_time_s: float | None = None
    lowest_temperature_k: float | None = None
    highest_temperature_k: float | None = None
    shortest_time_s: float | None = None
    longest_time_s: float | None = None
    cost: float | None = None
    currency: str | None = None
    number: int = 0


@dataclass(frozen=True, slots=True)
class Recipe:
    """How a blank is pressed on a press; `through_blank` tells that the blank lies towards the platen."""

    name: str
    press_id: int
    blank_id: int
    temperature_k: float
    time_s: float
    created_at: datetime
    ink: str = ""
    paper: str = ""
    protective_sheet: str = ""
    pad: str = ""
    pressure_kpa: float | None = None
    through_blank: bool = False
    retired_at: datetime | None = None
    number: int = 0


@dataclass(frozen=True, slots=True)
class Pressing:
    """One piece pressed.

    Attributes
    ----------
    recipe_id, batch_id, piece_number, inspection_id, photo_sha256
        What it belongs to; a piece's number counts within its batch, from 1.
    pressed_at, logged_at
        When. The order of the log is that of the row numbers, whatever the clock says.
    temperature_k, time_s, pressure_kpa
        As it was pressed, which may differ from the recipe.
    grade, confidence, judged_by
        One of `GRADES`, None until judged; how sure, 0 to 1; who said so.
    transferred_fraction, transferred_fraction_uncertainty
        As measured on the photo, with its standard uncertainty.
    delta_e_2000, delta_e_2000_first
        Median CIEDE2000 against the artwork, and against the batch's first piece.
    veil
        Share of white that the surface mirrored into the camera.
    lost
        Whether the blank was thrown away.
    taken_back_at
        When the entry was taken back; such a row counts for nothing but stays.
    """

    recipe_id: int
    temperature_k: float
    time_s: float
    pressed_at: datetime
    logged_at: datetime
    pressure_kpa: float | None = None
    grade: str | None = None
    confidence: float | None = None
    judged_by: str = MACHINE
    transferred_fraction: float | None = None
    transferred_fraction_uncertainty: float | None = None
    delta_e_2000: float | None = None
    delta_e_2000_first: float | None = None
    veil: float | None = None
    lost: bool = False
    note: str = ""
    batch_id: int | None = None
    piece_number: int | None = None
    inspection_id: int | None = None
    photo_sha256: str | None = None
    taken_back_at: datetime | None = None
    number: int = 0


@dataclass(frozen=True, slots=True)
class GivenGrade:
    """One grade that somebody gave to a pressing."""

    pressing_id: int
    grade: str
    judged_by: str
    judged_at: datetime
