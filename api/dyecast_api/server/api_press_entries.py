"""What the HTTP interface takes for the press log; temperatures in °C, kept in kelvin.

Numbers are handed on with their units as a person would write them, so that the same checks hold for all.
"""

from datetime import UTC
from decimal import Decimal
from typing import Annotated, Literal

from pydantic import AwareDatetime, Field

from dyecast_api.press_log.entered_blank import BlankEntry
from dyecast_api.press_log.entered_press import PressEntry
from dyecast_api.press_log.entered_pressing import PressingEntry
from dyecast_api.press_log.entered_recipe import RecipeEntry
from dyecast_api.server.api_inspections import EARLIEST, LATEST
from dyecast_api.server.api_models import Body, PieceVerdict, RowNumber
from dyecast_api.server.press_requests import PressingOrder

Celsius = Annotated[
    float,
    Field(
        allow_inf_nan=False,
        description="°C as the press shows it; questioned when presses do not usually work there.",
        examples=[193.0],
    ),
]
Seconds = Annotated[float, Field(allow_inf_nan=False, description="Seconds.", examples=[90.0])]
Kilopascal = Annotated[float, Field(allow_inf_nan=False, description="On the piece.", examples=[300.0])]
ThingName = Annotated[str, Field(min_length=1, max_length=200)]
ShortWords = Annotated[str, Field(max_length=200)]
Note = Annotated[str, Field(max_length=2000)]
AsWritten = Annotated[
    bool,
    Field(
        description="Confirms temperatures at which presses do not usually work; without it they are refused "
        "with the code `press-entry-unclear` and the field `as_written`."
    ),
]


class NewPress(Body):
    """A press to be added."""

    name: ThingName = Field(examples=["Swing-away by the window"])
    highest_temperature_celsius: Celsius | None = None
    notes: Note = ""
    as_written: AsWritten = False

    def entry(self) -> PressEntry:
        """Return it as whoever enters presses writes it."""
        return PressEntry(self.name, written(self.highest_temperature_celsius, "C"), self.notes)


class NewBlank(Body):
    """A kind of blank to be added: what it is made of, what its supplier says, what must not be exceeded."""

    name: ThingName = Field(examples=["Magnet 50 x 70"])
    material: str = Field(
        max_length=40, description="An unknown one is refused, with those that are known.", examples=["glass"]
    )
    thickness_mm: float = Field(allow_inf_nan=False, examples=[4.0])
    coating_side: Literal["front", "back"] = Field(
        "front", description="Coated towards the eye, or seen through."
    )
    supplier_temperature_celsius: Celsius | None = None
    supplier_time_seconds: Seconds | None = None
    lowest_temperature_celsius: Celsius | None = None
    highest_temperature_celsius: Celsius | None = None
    shortest_time_seconds: Seconds | None = None
    longest_time_seconds: Seconds | None = None
    cost: float | None = Field(None, ge=0, le=1e9, description="Of one blank.", examples=[1.2])
    currency: str | None = Field(None, max_length=10, examples=["EUR"])
    as_written: AsWritten = False

    def entry(self) -> BlankEntry:
        """Return it as whoever enters blanks writes it."""
        return BlankEntry(
            name=self.name,
            material=self.material,
            coating_side=self.coating_side,
            thickness=written(self.thickness_mm, "mm"),
            supplier=(
                written(self.supplier_temperature_celsius, "C"),
                written(self.supplier_time_seconds, "s"),
            ),
            temperatures=(
                written(self.lowest_temperature_celsius, "C"),
                written(self.highest_temperature_celsius, "C"),
            ),
            times=(written(self.shortest_time_seconds, "s"), written(self.longest_time_seconds, "s")),
            cost=self.cost,
            currency=self.currency,
        )


class NewRecipe(Body):
    """A recipe to be added: how a blank is pressed on a press."""

    name: ThingName = Field(examples=["Magnets, spring"])
    press: RowNumber
    blank: RowNumber
    temperature_celsius: Celsius
    time_seconds: Seconds
    pressure_kilopascal: Kilopascal | None = None
    ink: ShortWords = ""
    paper: ShortWords = ""
    protective_sheet: ShortWords = ""
    pad: ShortWords = ""
    through_blank: bool = Field(False, description="The blank lies towards the platen, the paper below it.")
    as_written: AsWritten = False

    def entry(self) -> RecipeEntry:
        """Return it as whoever enters recipes writes it."""
        return RecipeEntry(
            name=self.name,
            temperature=written(self.temperature_celsius, "C") or "",
            time=written(self.time_seconds, "s") or "",
            pressure=written(self.pressure_kilopascal, "kPa"),
            ink=self.ink,
            paper=self.paper,
            protective_sheet=self.protective_sheet,
            pad=self.pad,
            through_blank=self.through_blank,
        )


class NewPressing(Body):
    """A piece to be logged: by an inspection, by a person's grade, or by both; the person's grade counts."""

    recipe: RowNumber
    temperature_celsius: Celsius | None = Field(None, description="If other than the recipe's.")
    time_seconds: Seconds | None = Field(None, description="If other than the recipe's.")
    pressure_kilopascal: Kilopascal | None = Field(None, description="If other than the recipe's.")
    pressed_at: Annotated[AwareDatetime, Field(ge=EARLIEST, le=LATEST)] | None = Field(
        None, description="Now, when nothing is said."
    )
    grade: PieceVerdict | None = None
    judged_by: ShortWords = Field("", description="Who gives the grade.", examples=["Kim"])
    inspection: str | None = Field(None, max_length=64, description="Of the piece's photo, finished.")
    lost: bool = Field(False, description="The blank was thrown away.")
    note: Note = ""
    as_written: AsWritten = False

    def order(self) -> PressingOrder:
        """Return it as whoever logs pressings takes it."""
        entry = PressingEntry(
            temperature=written(self.temperature_celsius, "C"),
            time=written(self.time_seconds, "s"),
            pressure=written(self.pressure_kilopascal, "kPa"),
            pressed_at=None if self.pressed_at is None else self.pressed_at.astimezone(UTC),
            lost=self.lost,
            note=self.note,
        )
        return PressingOrder(
            self.recipe, entry, self.grade, self.judged_by, self.inspection, as_written=self.as_written
        )


def written(value: float | None, unit: str) -> str | None:
    """Return a number with its unit as a person would write it, without exponent; None stays None."""
    return None if value is None else f"{Decimal(repr(value)):f}{unit}"
