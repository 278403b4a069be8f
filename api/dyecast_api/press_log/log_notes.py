"""What in a press log contradicts itself or looks odd: kept as it is, and said in plain words."""

from collections.abc import Sequence
from itertools import pairwise
from typing import Final

from dyecast_api.press_log.entered_values import temperature_words, time_words
from dyecast_api.press_log.log_values import GRADES
from dyecast_api.press_log.pressings import LoggedPressing

SAME_TEMPERATURE: Final = 1.0
"""K, within which two pressings count as pressed at the same temperature: the step of most displays."""


def log_notes(logged: Sequence[LoggedPressing]) -> tuple[str, ...]:
    """Return a sentence for everything odd about pressings, in the log's order, that count."""
    return (*_graded_twice(logged), *_longer_yet_paler(logged), *_clock_set_back(logged))


def _graded_twice(logged: Sequence[LoggedPressing]) -> list[str]:
    """Find pieces that were given different grades."""
    found = []
    for one in logged:
        if len({given.grade for given in one.grades}) > 1:
            said = ", ".join(f"{given.grade} ({given.judged_by})" for given in one.grades)
            found.append(
                f"Pressing {one.pressing.number} was graded differently: {said}. All are kept and all count; "
                "look at the piece again."
            )
    return found


def _longer_yet_paler(logged: Sequence[LoggedPressing]) -> list[str]:
    """Find pieces that show less heat than a shorter pressing on their press and blank; name the shortest."""
    graded = sorted((one for one in logged if one.pressing.grade), key=lambda one: one.pressing.time_s)
    found = []
    for longer in graded:
        hotter = (one for one in graded if _comparable(one, longer) and _rank(one) > _rank(longer))
        shorter = next(hotter, None)
        if shorter is not None:
            found.append(_contradiction(shorter, longer))
    return found


def _comparable(shorter: LoggedPressing, longer: LoggedPressing) -> bool:
    """Tell whether two pressings differ in their time only."""
    same = (shorter.recipe.press_id, shorter.recipe.blank_id) == (
        longer.recipe.press_id,
        longer.recipe.blank_id,
    )
    apart = abs(shorter.pressing.temperature_k - longer.pressing.temperature_k)
    return same and apart < SAME_TEMPERATURE and shorter.pressing.time_s < longer.pressing.time_s


def _rank(one: LoggedPressing) -> int:
    return GRADES.index(one.pressing.grade or "good")


def _contradiction(shorter: LoggedPressing, longer: LoggedPressing) -> str:
    one, other = (
        f"{piece.pressing.number} ({time_words(piece.pressing.time_s)}) is {piece.pressing.grade}"
        for piece in (shorter, longer)
    )
    return (
        f"At {temperature_words(shorter.pressing.temperature_k)} the shorter pressing {one} and the longer "
        f"pressing {other}. One of the two was graded, timed or logged wrong, or the press was not yet warm; "
        "both are kept and both count."
    )


def _clock_set_back(logged: Sequence[LoggedPressing]) -> list[str]:
    """Find pressings dated before the one logged before them."""
    return [
        f"Pressing {later.pressing.number} is dated before pressing {earlier.pressing.number}, which was "
        "logged first: was the clock set back? The log keeps its own order."
        for earlier, later in pairwise(logged)
        if later.pressing.pressed_at < earlier.pressing.pressed_at
    ]
