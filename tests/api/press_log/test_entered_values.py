"""Temperatures, times, pressures and thicknesses as people write them."""

import pytest
from hypothesis import given
from hypothesis import strategies as some

from dyecast_api.press_log.entered_values import (
    entered_pressure,
    entered_temperature,
    entered_thickness,
    entered_time,
    temperature_words,
    time_words,
)
from dyecast_shared.errors import PressEntryUnclear


@pytest.mark.parametrize(
    "text", ["365F", "365 °F", "365f", "185C", "185 °C", "185,0 C", "185 degrees celsius"]
)
def test_a_temperature_is_read_in_either_unit(text: str) -> None:
    assert entered_temperature(text) == pytest.approx(458.15, abs=0.01)


def test_a_bare_number_is_refused_with_both_readings() -> None:
    with pytest.raises(PressEntryUnclear) as refusal:
        entered_temperature("190")
    assert "190C for 190 °C (374 °F)" in str(refusal.value)
    assert "190F for 190 °F (88 °C)" in str(refusal.value)


@pytest.mark.parametrize(("slip", "meant"), [("380C", "380 °F"), ("380 °C", "380 °F"), ("190F", "190 °C")])
def test_a_slip_of_the_unit_is_asked_about(slip: str, meant: str) -> None:
    with pytest.raises(PressEntryUnclear, match=f"Did you mean {meant}"):
        entered_temperature(slip)


def test_an_unusual_temperature_is_taken_when_it_is_confirmed_but_not_an_impossible_one() -> None:
    with pytest.raises(PressEntryUnclear, match="meant as written") as refusal:
        entered_temperature("240C")
    assert refusal.value.field == "as_written"
    assert entered_temperature("240C", as_written=True) == pytest.approx(513.15)
    for impossible in ("380C", "-400C", "9999F", f"{'9' * 400}F"):
        with pytest.raises(PressEntryUnclear):
            entered_temperature(impossible, as_written=True)


@pytest.mark.parametrize("text", ["380F/193C", "hot", "", "90s", "185 K", "1e3C"])
def test_what_is_no_temperature_or_mixes_units_is_refused(text: str) -> None:
    with pytest.raises(PressEntryUnclear):
        entered_temperature(text)


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("90", 90),
        ("90s", 90),
        ("90 sec", 90),
        ("6min", 360),
        ("6:00", 360),
        ("1 min 30 s", 90),
        ("1.5min", 90),
    ],
)
def test_a_time_is_read_in_seconds_and_minutes(text: str, seconds: float) -> None:
    assert entered_time(text) == seconds


@pytest.mark.parametrize("text", ["-90", "0", "90C", "1:75", "", "6h", "2000min", "soon", f"{'9' * 400}:00"])
def test_what_is_no_time_is_refused(text: str) -> None:
    with pytest.raises(PressEntryUnclear):
        entered_time(text)


@pytest.mark.parametrize(("text", "kilopascal"), [("300kPa", 300.0), ("3 bar", 300.0), ("40psi", 275.79)])
def test_a_pressure_needs_its_unit(text: str, kilopascal: float) -> None:
    assert entered_pressure(text) == pytest.approx(kilopascal, abs=0.01)
    with pytest.raises(PressEntryUnclear):
        entered_pressure(text.rstrip("kPabrsi "))


def test_a_thickness_is_in_millimetres_unless_it_says_inches() -> None:
    assert entered_thickness("4") == entered_thickness("4mm") == 4.0
    assert entered_thickness("0.16in") == pytest.approx(4.064)
    for wrong in ("0", "-4", "thick", "4 m"):
        with pytest.raises(PressEntryUnclear):
            entered_thickness(wrong)


@given(some.integers(121, 234))
def test_what_is_said_of_a_temperature_can_be_entered_again_in_both_units(celsius: int) -> None:
    kelvin = entered_temperature(f"{celsius}C")
    first, second = temperature_words(kelvin).rstrip(")").split(" (")
    assert entered_temperature(first) == pytest.approx(kelvin)
    assert entered_temperature(second) == pytest.approx(kelvin, abs=0.28)  # half a degree Fahrenheit


@given(some.integers(1, 3600))
def test_what_is_said_of_a_time_can_be_entered_again(seconds: int) -> None:
    assert entered_time(time_words(seconds)) == seconds
