"""The forms of the press log's page: what was filled in, handed to the same checks as everywhere."""

from datetime import datetime
from typing import ClassVar

from dyecast_api.press_log.entered_blank import BlankEntry
from dyecast_api.press_log.entered_moment import entered_moment
from dyecast_api.press_log.entered_press import PressEntry
from dyecast_api.press_log.entered_pressing import PressingEntry
from dyecast_api.press_log.entered_recipe import RecipeEntry
from dyecast_api.press_log.entered_values import entered_cost
from dyecast_api.server.pages.form_fields import FilledIn, chosen, given
from dyecast_api.server.press_requests import PressingOrder
from dyecast_shared.request_errors import RequestInvalid


class PressForm(FilledIn):
    """The form that adds a press."""

    kind: ClassVar[str] = "press"

    hottest: str = ""
    notes: str = ""
    as_written: str = ""

    def entry(self) -> PressEntry:
        """Return what was written."""
        return PressEntry(self.name, given(self.hottest), self.notes.strip())


class BlankForm(FilledIn):
    """The form that adds a kind of blank."""

    kind: ClassVar[str] = "blank"

    material: str = ""
    coating_side: str = "front"
    thickness: str = ""
    supplier_temperature: str = ""
    supplier_time: str = ""
    coolest: str = ""
    hottest: str = ""
    shortest: str = ""
    longest: str = ""
    cost: str = ""
    currency: str = ""
    as_written: str = ""

    def entry(self) -> BlankEntry:
        """Return what was written; raises PressEntryUnclear for a cost that is none."""
        if self.coating_side not in {"front", "back"}:
            raise RequestInvalid("A blank is coated on the front or the back.", field="coating_side")
        cost = given(self.cost)
        return BlankEntry(
            name=self.name,
            material=self.material,
            coating_side=self.coating_side,
            thickness=given(self.thickness),
            supplier=(given(self.supplier_temperature), given(self.supplier_time)),
            temperatures=(given(self.coolest), given(self.hottest)),
            times=(given(self.shortest), given(self.longest)),
            cost=None if cost is None else entered_cost(cost),
            currency=given(self.currency),
        )


class RecipeForm(FilledIn):
    """The form that adds a recipe."""

    kind: ClassVar[str] = "recipe"

    press: str = ""
    blank: str = ""
    temperature: str = ""
    time: str = ""
    pressure: str = ""
    ink: str = ""
    paper: str = ""
    protective_sheet: str = ""
    pad: str = ""
    through_blank: str = ""
    as_written: str = ""

    def place(self) -> tuple[int, int]:
        """Return the numbers of press and blank; raises RequestInvalid when none was chosen."""
        return chosen(self.press, "press"), chosen(self.blank, "blank")

    def entry(self) -> RecipeEntry:
        """Return what was written."""
        return RecipeEntry(
            name=self.name,
            temperature=self.temperature,
            time=self.time,
            pressure=given(self.pressure),
            ink=self.ink.strip(),
            paper=self.paper.strip(),
            protective_sheet=self.protective_sheet.strip(),
            pad=self.pad.strip(),
            through_blank=self.through_blank == "yes",
        )


class PressingForm(FilledIn):
    """The form that logs a pressing."""

    kind: ClassVar[str] = "pressing"

    recipe: str = ""
    inspection: str = ""
    grade: str = ""
    judged_by: str = ""
    temperature: str = ""
    time: str = ""
    pressure: str = ""
    pressed_on: str = ""
    pressed_at: str = ""
    lost: str = ""
    note: str = ""
    as_written: str = ""

    def order(self) -> PressingOrder:
        """Return what is wanted; raises PressLogInvalid for a moment that is none."""
        entry = PressingEntry(
            temperature=given(self.temperature),
            time=given(self.time),
            pressure=given(self.pressure),
            pressed_at=self.moment(),
            lost=self.lost == "yes",
            note=self.note.strip(),
        )
        return PressingOrder(
            chosen(self.recipe, "recipe"),
            entry,
            given(self.grade),
            self.judged_by,
            given(self.inspection),
            as_written=self.as_written == "yes",
        )

    def moment(self) -> datetime | None:
        """Return when it was pressed, None for now; a day alone stands for its noon.

        Raises PressLogInvalid for a moment that is none, RequestInvalid for a time without its day.
        """
        day, time = given(self.pressed_on), given(self.pressed_at)
        if day is not None:
            return entered_moment(f"{day}T{time or '12:00'}")
        if time is not None:
            raise RequestInvalid("A time of day needs its day.", advice="Give the day.", field="pressed_on")
        return None
