"""Pressing an under-pressed piece again: whether it may be, for how long, and what may come of it."""

import math
from dataclasses import dataclass

from dyecast_api.press_log.entered_values import temperature_words, time_words
from dyecast_api.press_log.log_values import Pressing
from dyecast_api.press_plan.logged_blank import LoggedBlank, limits_of
from dyecast_api.press_plan.plan_words import SAFETY, advised_words, percent
from dyecast_calibration.press.extra_time import ExtraTime, OpenedPress, extra_time
from dyecast_calibration.press.learning import learned_blank, learned_press
from dyecast_calibration.press.press_again import CoolingPlace
from dyecast_shared.errors import PressAgainRefused


@dataclass(frozen=True, slots=True)
class Again:
    """A piece to be pressed again: its pressing, how long it lay open and where, whether its paper is on."""

    pressing: Pressing
    cooling_s: float
    place: CoolingPlace
    paper_taped: bool


def check_again(again: Again) -> None:
    """Refuse what cannot be pressed again, in words; raises PressAgainRefused."""
    number, grade = again.pressing.number, again.pressing.grade
    if not again.paper_taped:
        raise PressAgainRefused(
            "The paper is off: it cannot be laid back so that the print lines up, and a second pressing "
            "would print a ghost beside the first (common practice, no published source)."
        )
    if again.pressing.taken_back_at is not None:
        raise PressAgainRefused(f"Pressing {number} was taken back.", advice="Log it again first.")
    if grade is None:
        raise PressAgainRefused(f"Pressing {number} was not graded.", advice="Grade it first.", field="grade")
    if grade != "under-pressed":
        because = "more heat would only take away" if grade == "good" else "more heat makes it worse"
        raise PressAgainRefused(f"Pressing {number} is {grade}: {because}.", advice="Take the paper off.")


def planned_again(known: LoggedBlank, again: Again) -> ExtraTime:
    """Compute the second pressing; raises PressAgainRefused when it must not be, or the limits forbid it."""
    check_again(again)
    limits, one = limits_of(known.blank, known.press), again.pressing
    if not limits.lowest_temperature <= one.temperature_k <= limits.highest_temperature:
        raise PressAgainRefused(
            f"It was pressed at {temperature_words(one.temperature_k)}, which your limits no longer allow."
        )
    learned = learned_blank(known.tried, learned_press(known.others))
    opened = OpenedPress(one.temperature_k, one.time_s, again.cooling_s, again.place)
    return extra_time(learned, known.tried.stack, opened, limits.longest_time)


def again_sentences(again: Again, extra: ExtraTime, longest_s: float) -> list[str]:
    """Return the advice in words: how long, what of it is warming up, the chances, and the risk."""
    chances = {way: float(getattr(extra.chances, way)[0]) for way in ("pale", "good", "over")}
    told = (
        [] if chances["good"] >= 0.5 else ["It is more likely lost than saved; a new blank may be cheaper."]
    )
    told += [
        f"Press piece {again.pressing.number} again at "
        f"{advised_words(again.pressing.temperature_k, extra.seconds)}, counted from closing the press.",
        f"Chance of a good piece {percent(chances['good'])}, pale {percent(chances['pale'])}, "
        f"over-pressed {percent(chances['over'])}.",
        _range(extra),
        f"After {again.cooling_s:.0f} s {again.place.value} the coating is at about "
        f"{temperature_words(extra.coating_temperature)}; "
        f"{_reheating(extra)} are warming up, in which hardly any dye moves.",
        f"Each pressing by itself stays within your limit of {time_words(longest_s)}.",
        "The paper must not have moved: lay the lifted corner back exactly and tape it. If it moved, a faint "
        "second print shows beside the first.",
    ]
    return [*told, *SAFETY]


def _range(extra: ExtraTime) -> str:
    """Say how sure the time is."""
    if math.isinf(extra.earliest):
        return "Hardly any piece of this kind gets its ink within the time your limits allow."
    latest = "more than your limits allow" if math.isinf(extra.latest) else f"{extra.latest:.0f} s"
    earliest = "at once" if extra.earliest == 0.0 else f"after {extra.earliest:.0f} s"
    return f"The least that is needed lies between {earliest} and {latest}, two times in three."


def _reheating(extra: ExtraTime) -> str:
    return "all of these seconds" if math.isinf(extra.reheating) else f"the first {extra.reheating:.0f} s"
