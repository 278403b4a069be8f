"""What the prior holds likely before any piece was pressed, against what shops do.

The pressings of glass are common practice, no published source; those of fabric are published. None of them
was given to the prior as a target alone: its centres have the reasons in its data file.
"""

import numpy as np
import pytest

from dyecast_calibration.press.press_chances import PressChances, press_chances
from dyecast_calibration.press.press_model import ExpectedPressing, expected_pressing
from dyecast_calibration.press.press_priors import drawn_parameters
from dyecast_calibration.press.press_stack import PressStack
from dyecast_shared.units import celsius_to_kelvin, fahrenheit_to_kelvin
from stacks import USUAL

LIKELY = 0.5
PRIOR = drawn_parameters(4000, np.random.default_rng(20))


def chances(stack: PressStack, platen: float, seconds: float) -> PressChances:
    return press_chances(expected_pressing(stack, platen, seconds, PRIOR))


def test_a_glass_magnet_of_4_mm_at_380_fahrenheit_is_pale_after_60_s_and_good_after_90() -> None:
    """Common practice, no published source."""
    platen = fahrenheit_to_kelvin(380.0)
    assert chances(USUAL["glass"], platen, 60.0).pale[0] > LIKELY
    assert chances(USUAL["glass"], platen, 90.0).good[0] > LIKELY


@pytest.mark.parametrize("name", ["glass", "glass, heated through"])
def test_a_glass_cutting_board_at_365_fahrenheit_is_good_after_360_s(name: str) -> None:
    """Common practice, no published source; the board lies with its coating towards the platen or away."""
    assert chances(USUAL[name], fahrenheit_to_kelvin(365.0), 360.0).good[0] > 0.9


@pytest.mark.parametrize(("celsius", "seconds"), [(190.0, 120.0), (210.0, 60.0), (200.0, 30.0)])
def test_fabric_is_good_where_it_was_published_to_be(celsius: float, seconds: float) -> None:
    """190 °C for 120 s and 210 °C for 60 s: Toshikj and Prangoski 2023, doi 10.5755/j02.ms.32465. 200 °C for
    30 s: textile handbook and lecture pages, secondary."""
    assert chances(USUAL["fabric"], celsius_to_kelvin(celsius), seconds).good[0] > LIKELY


@pytest.mark.parametrize("name", ["fabric", "thin metal"])
def test_what_leaves_glass_pale_is_enough_for_fabric_and_thin_metal(name: str) -> None:
    """Common practice, no published source."""
    platen = fahrenheit_to_kelvin(380.0)
    assert chances(USUAL[name], platen, 60.0).good[0] > LIKELY > chances(USUAL["glass"], platen, 60.0).good[0]


def test_half_an_hour_ruins_everything_and_ten_seconds_nothing() -> None:
    platen = fahrenheit_to_kelvin(380.0)
    assert chances(USUAL["thin metal"], platen, 1800.0).over[0] > 0.95
    assert chances(USUAL["glass"], platen, 10.0).pale[0] > 0.99


def test_chances_make_one_together() -> None:
    expected = expected_pressing(USUAL["glass"], 466.0, [30.0, 90.0, 400.0, 2000.0], PRIOR)
    shares = press_chances(expected)
    assert shares.pale + shares.good + shares.over == pytest.approx(1.0)


def test_each_member_counts_once_and_over_pressed_goes_before_pale() -> None:
    transferred = np.array([[0.5], [0.888], [0.89], [0.95], [0.95], [0.5]])
    damage = np.array([[0.0], [0.2], [0.2], [1.0], [1.01], [3.0]])
    shares = press_chances(ExpectedPressing(transferred, damage, np.full((6, 1), 460.0)))
    assert (shares.pale[0], shares.good[0], shares.over[0]) == pytest.approx((2 / 6, 2 / 6, 2 / 6))
