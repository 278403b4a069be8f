"""What the HTTP interface sends of the press log; temperatures in °C, kept in kelvin."""

from datetime import datetime
from typing import Any, Final, Literal, Self

from pydantic import Field

from dyecast_api.press_log.log_values import Blank, GivenGrade, Press, Recipe
from dyecast_api.press_log.pressings import LoggedPressing
from dyecast_api.server.api_models import Body, PieceVerdict
from dyecast_api.server.press_requests import KeptPressing
from dyecast_shared.units import kelvin_to_celsius

DECIMALS: Final = 3
"""Of a temperature in °C that is sent: no press shows as many."""


class PressBody(Body):
    """A press; the limit is what it must not be set above."""

    id: int
    name: str
    highest_temperature_celsius: float | None
    notes: str
    created_at: datetime

    @classmethod
    def of(cls, press: Press) -> Self:
        """Return a press as a body."""
        return cls(
            id=press.number,
            name=press.name,
            highest_temperature_celsius=celsius(press.highest_temperature_k),
            notes=press.notes,
            created_at=press.created_at,
        )


class BlankBody(Body):
    """A kind of blank."""

    id: int
    name: str
    material: str
    thickness_mm: float
    coating_side: Literal["front", "back"]
    supplier_temperature_celsius: float | None
    supplier_time_seconds: float | None
    lowest_temperature_celsius: float | None
    highest_temperature_celsius: float | None
    shortest_time_seconds: float | None
    longest_time_seconds: float | None
    cost: float | None
    currency: str | None
    created_at: datetime

    @classmethod
    def of(cls, blank: Blank) -> Self:
        """Return a blank as a body."""
        return cls(
            id=blank.number,
            name=blank.name,
            material=blank.material,
            thickness_mm=blank.thickness_mm,
            coating_side="back" if blank.coating_side == "back" else "front",
            supplier_temperature_celsius=celsius(blank.supplier_temperature_k),
            supplier_time_seconds=blank.supplier_time_s,
            lowest_temperature_celsius=celsius(blank.lowest_temperature_k),
            highest_temperature_celsius=celsius(blank.highest_temperature_k),
            shortest_time_seconds=blank.shortest_time_s,
            longest_time_seconds=blank.longest_time_s,
            cost=blank.cost,
            currency=blank.currency,
            created_at=blank.created_at,
        )


class RecipeBody(Body):
    """A recipe; `press` and `blank` are their identifiers."""

    id: int
    name: str
    press: int
    blank: int
    temperature_celsius: float
    time_seconds: float
    pressure_kilopascal: float | None
    ink: str
    paper: str
    protective_sheet: str
    pad: str
    through_blank: bool
    created_at: datetime
    retired_at: datetime | None

    @classmethod
    def of(cls, recipe: Recipe) -> Self:
        """Return a recipe as a body."""
        return cls(
            id=recipe.number,
            name=recipe.name,
            press=recipe.press_id,
            blank=recipe.blank_id,
            temperature_celsius=known_celsius(recipe.temperature_k),
            time_seconds=recipe.time_s,
            pressure_kilopascal=recipe.pressure_kpa,
            ink=recipe.ink,
            paper=recipe.paper,
            protective_sheet=recipe.protective_sheet,
            pad=recipe.pad,
            through_blank=recipe.through_blank,
            created_at=recipe.created_at,
            retired_at=recipe.retired_at,
        )


class GradeBody(Body):
    """One grade that was given."""

    grade: PieceVerdict
    judged_by: str
    judged_at: datetime

    @classmethod
    def of(cls, given: GivenGrade) -> Self:
        """Return a grade as a body."""
        return cls.model_validate(given)


class PressingBody(Body):
    """One piece pressed; settings are as it was pressed, which may differ from its recipe."""

    id: int
    recipe: int
    recipe_name: str
    temperature_celsius: float
    time_seconds: float
    pressure_kilopascal: float | None
    pressed_at: datetime
    logged_at: datetime
    grade: PieceVerdict | None
    judged_by: str
    confidence: float | None = Field(description="0 to 1; null where a person graded.")
    grades: list[GradeBody] = Field(description="Every grade that was given, the oldest first.")
    transferred_fraction: float | None
    transferred_fraction_uncertainty: float | None = Field(description="Standard uncertainty.")
    delta_e_2000_median: float | None = Field(description="Against the artwork.")
    lost: bool
    note: str
    batch: int | None
    piece: int | None = Field(description="Its number within the batch.")
    taken_back_at: datetime | None = Field(description="When it was taken back; such a row counts no more.")

    @classmethod
    def of(cls, logged: LoggedPressing) -> Self:
        """Return a pressing as a body."""
        return cls(**_members(logged))


class KeptPressingBody(PressingBody):
    """A pressing as it was logged."""

    notes: list[str] = Field(description="What it passes or contradicts, in sentences.")

    @classmethod
    def of_kept(cls, kept: KeptPressing) -> Self:
        """Return a pressing with what is odd about it as a body."""
        return cls(**_members(kept.logged), notes=list(kept.notes))


class PressPage(Body):
    """A page of a list, the newest first."""

    items: list[PressBody]
    next: str | None = Field(description="Ask again with this as `cursor`; null at the end.")


class BlankPage(Body):
    """A page of a list, the newest first."""

    items: list[BlankBody]
    next: str | None = Field(description="Ask again with this as `cursor`; null at the end.")


class RecipePage(Body):
    """A page of a list, the newest first."""

    items: list[RecipeBody]
    next: str | None = Field(description="Ask again with this as `cursor`; null at the end.")


class PressingPage(Body):
    """A page of a list, the newest first."""

    items: list[PressingBody]
    next: str | None = Field(description="Ask again with this as `cursor`; null at the end.")


def celsius(kelvin: float | None) -> float | None:
    """Return a temperature in °C, None where there is none."""
    return None if kelvin is None else known_celsius(kelvin)


def known_celsius(kelvin: float) -> float:
    """Return a temperature in °C, rounded so that what was sent comes back."""
    return round(kelvin_to_celsius(kelvin), DECIMALS)


def _members(logged: LoggedPressing) -> dict[str, Any]:
    one = logged.pressing
    return {
        "id": one.number,
        "recipe": one.recipe_id,
        "recipe_name": logged.recipe.name,
        "temperature_celsius": known_celsius(one.temperature_k),
        "time_seconds": one.time_s,
        "pressure_kilopascal": one.pressure_kpa,
        "pressed_at": one.pressed_at,
        "logged_at": one.logged_at,
        "grade": one.grade,
        "judged_by": one.judged_by,
        "confidence": one.confidence,
        "grades": [GradeBody.of(given) for given in logged.grades],
        "transferred_fraction": one.transferred_fraction,
        "transferred_fraction_uncertainty": one.transferred_fraction_uncertainty,
        "delta_e_2000_median": one.delta_e_2000,
        "lost": one.lost,
        "note": one.note,
        "batch": one.batch_id,
        "piece": one.piece_number,
        "taken_back_at": one.taken_back_at,
    }
