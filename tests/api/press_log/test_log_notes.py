"""What in a press log contradicts itself is said once, however long the log."""

from dataclasses import replace
from datetime import timedelta

from api.press_log.logs import NOON, pressing
from dyecast_api.press_log.log_notes import log_notes
from dyecast_api.press_log.log_values import GivenGrade, Recipe
from dyecast_api.press_log.pressings import LoggedPressing

RECIPE = Recipe("magnets", 1, 1, temperature_k=466.5, time_s=70.0, created_at=NOON, number=1)


def logged(
    number: int, seconds: float, grade: str, recipe: Recipe = RECIPE, hours: float = 0.0
) -> LoggedPressing:
    at = NOON + timedelta(hours=number + hours)
    piece = replace(pressing(recipe, time_s=seconds, grade=grade, pressed_at=at), number=number)
    return LoggedPressing(piece, recipe, (GivenGrade(number, grade, "Kim", NOON),))


def test_a_log_in_order_gives_no_note() -> None:
    grades = ((60.0, "under-pressed"), (90.0, "good"), (300.0, "over-pressed"))
    assert log_notes([logged(number, *seen) for number, seen in enumerate(grades)]) == ()


def test_each_paler_piece_is_named_once_beside_the_shortest_that_contradicts_it() -> None:
    good = [logged(number, 60.0 + number, "good") for number in range(20)]
    (note,) = log_notes([*good, logged(20, 120.0, "under-pressed")])
    assert "the shorter pressing 0 (60 s) is good and the longer pressing 20 (2 min) is under-pressed" in note


def test_other_blanks_and_other_temperatures_contradict_nothing() -> None:
    over = logged(1, 60.0, "over-pressed")
    other = replace(RECIPE, blank_id=2, number=2)
    cooler = replace(RECIPE, temperature_k=460.0)
    assert log_notes([over, logged(2, 90.0, "under-pressed", other)]) == ()
    assert log_notes([over, logged(2, 90.0, "under-pressed", cooler)]) == ()


def test_a_moment_before_the_last_one_is_noted() -> None:
    (note,) = log_notes([logged(1, 70.0, "good"), logged(2, 70.0, "good", hours=-30.0)])
    assert "Pressing 2 is dated before pressing 1" in note
