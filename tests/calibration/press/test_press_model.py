"""From platen temperature and time to dye transferred and damage done."""

from dataclasses import fields, replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dyecast_calibration.press.arrhenius import arrhenius_factor
from dyecast_calibration.press.dye_uptake import dye_uptake
from dyecast_calibration.press.materials import materials
from dyecast_calibration.press.press_model import (
    ROOM_TEMPERATURE,
    expected_pressing,
    exposures,
    pressing_along,
    warming_of,
)
from dyecast_calibration.press.press_parameters import PressParameters
from dyecast_calibration.press.press_priors import drawn_parameters, parameters_at, typical_parameters
from dyecast_calibration.press.press_stack import Layer, PressStack
from dyecast_shared.units import celsius_to_kelvin
from stacks import USUAL

TYPICAL = typical_parameters()
PLATEN = celsius_to_kelvin(190.0)

scores = st.lists(st.floats(-3.0, 3.0), min_size=7, max_size=7)


def window(stack: PressStack, platen: float, parameters: PressParameters) -> tuple[float, float]:
    """Return the times, s, at which a piece is no longer pale and at which it is over-pressed."""
    times = np.geomspace(5.0, 20_000.0, 800)
    expected = expected_pressing(stack, platen, times, parameters)
    enough, too_much = expected.transferred[0] >= 0.89, expected.damage[0] > 1.0
    return times[int(np.argmax(enough))], times[int(np.argmax(too_much))]


class TestOneRun:
    def test_one_run_gives_all_times(self) -> None:
        times = np.array([0.0, 30.0, 60.0, 90.0])
        together = expected_pressing(USUAL["glass"], PLATEN, times, TYPICAL)
        alone = [expected_pressing(USUAL["glass"], PLATEN, time, TYPICAL) for time in times]
        assert together.transferred.shape == together.damage.shape == (1, 4)
        for what in ("transferred", "damage", "coating_temperature"):
            each = np.array([getattr(one, what)[0, 0] for one in alone])
            assert getattr(together, what)[0] == pytest.approx(each, abs=2e-4 * max(each))

    def test_before_it_begins_nothing_has_happened(self) -> None:
        start = expected_pressing(USUAL["glass"], PLATEN, 0.0, TYPICAL)
        assert start.transferred.item() == start.damage.item() == 0.0
        assert start.coating_temperature.item() == ROOM_TEMPERATURE

    @given(scores, st.floats(440.0, 490.0))
    def test_longer_means_more_damage_and_more_dye_until_loss_sets_in(
        self, at: list[float], platen: float
    ) -> None:
        times = np.linspace(0.0, 300.0, 31)
        expected = expected_pressing(USUAL["thin metal"], platen, times, parameters_at(at))
        assert np.all(np.diff(expected.damage) > 0.0)
        rising = expected.transferred[0, : int(np.argmax(expected.transferred)) + 1]
        assert np.all(np.diff(rising) >= 0.0)
        assert np.all((expected.transferred >= 0.0) & (expected.transferred <= 1.0))

    @given(scores, st.floats(440.0, 480.0))
    def test_hotter_means_more_damage(self, at: list[float], platen: float) -> None:
        expected = expected_pressing(USUAL["glass"], [platen, platen + 5.0], 120.0, parameters_at(at))
        assert expected.damage[1, 0] > expected.damage[0, 0]

    def test_a_contact_lies_above_zero(self) -> None:
        with pytest.raises(ValueError, match="contact"):
            expected_pressing(USUAL["glass"], PLATEN, 60.0, replace(TYPICAL, contact_scale=0.0))

    @pytest.mark.parametrize("time", [-1.0, [10.0, -1.0], np.nan, np.inf])
    def test_a_time_is_zero_or_more_seconds(self, time: float | list[float]) -> None:
        with pytest.raises(ValueError, match="time"):
            expected_pressing(USUAL["glass"], PLATEN, time, TYPICAL)


class TestWindow:
    @pytest.mark.parametrize("stack", USUAL.values(), ids=USUAL.keys())
    def test_the_window_of_good_narrows_as_it_gets_hotter(self, stack: PressStack) -> None:
        platens = [celsius_to_kelvin(celsius) for celsius in (175.0, 185.0, 195.0, 205.0, 215.0)]
        windows = np.array([window(stack, platen, TYPICAL) for platen in platens])
        assert np.all(np.diff(windows[:, 0]) < 0.0)
        assert np.all(np.diff(windows[:, 1] - windows[:, 0]) < 0.0)
        assert np.all(np.diff(windows[:, 1] / windows[:, 0]) < 0.0)

    def test_it_narrows_for_nearly_every_press_dye_and_coating_of_the_prior(self) -> None:
        drawn, times = drawn_parameters(400, np.random.default_rng(6)), np.geomspace(3.0, 30_000.0, 400)
        widths = []
        for celsius in (180.0, 210.0):
            expected = expected_pressing(USUAL["glass"], celsius_to_kelvin(celsius), times, drawn)
            enough = times[np.argmax(expected.transferred >= 0.89, axis=1)]
            widths.append(times[np.argmax(expected.damage > 1.0, axis=1)] - enough)
        assert np.mean(widths[1] < widths[0]) > 0.95

    def test_thin_metal_and_fabric_are_far_quicker_than_glass(self) -> None:
        """Common practice, no published source."""
        needed = {name: window(stack, PLATEN, TYPICAL)[0] for name, stack in USUAL.items()}
        assert needed["fabric"] < needed["thin metal"] < 0.6 * needed["glass"]
        assert needed["fabric"] < 0.4 * needed["glass"]

    def test_a_piece_pressed_far_too_long_loses_dye(self) -> None:
        expected = expected_pressing(USUAL["thin metal"], PLATEN, [180.0, 3600.0], TYPICAL)
        assert expected.transferred[0, 1] < expected.transferred[0, 0] - 0.2


class TestExposure:
    def test_at_a_steady_temperature_dye_and_damage_follow_arrhenius(self) -> None:
        times, steady = np.linspace(0.0, 40.0, 5), np.full((1, 5), celsius_to_kelvin(180.0))
        exposure, damage = exposures(times, steady, np.array([7.0, 40.0]), TYPICAL)
        rate = 0.14 * arrhenius_factor(celsius_to_kelvin(180.0), 110e3)
        assert exposure[0] == pytest.approx(rate * np.array([7.0, 40.0]))
        assert damage[0, 1] == pytest.approx(40.0 * 0.005 * arrhenius_factor(453.15, 135e3))

    def test_the_usual_steps_are_short_enough_for_the_rates(self) -> None:
        expected = expected_pressing(USUAL["glass"], PLATEN, 90.0, TYPICAL)
        warming = warming_of(USUAL["glass"], 2.0, 90.0)
        fine = np.linspace(0.0, 90.0, 20_001)
        temperature = ROOM_TEMPERATURE + (PLATEN - ROOM_TEMPERATURE) * np.interp(
            fine, warming.times, warming.shares[0]
        )
        exposure, damage = exposures(fine, temperature[None], np.array([90.0]), TYPICAL)
        kept = np.exp(-0.08 * damage[0, 0])
        assert expected.transferred.item() == pytest.approx(dye_uptake(exposure[0, 0]) * kept, abs=1e-3)


class TestMembers:
    def test_members_are_as_one_after_the_other(self) -> None:
        drawn = drawn_parameters(5, np.random.default_rng(3))
        platens = PLATEN + np.arange(5.0)
        together = expected_pressing(USUAL["glass"], platens, [60.0, 90.0], drawn)
        for member in range(5):
            only = replace(drawn, **{f.name: getattr(drawn, f.name)[member] for f in fields(drawn)})
            alone = expected_pressing(USUAL["glass"], platens[member], [60.0, 90.0], only)
            assert together.transferred[member] == pytest.approx(alone.transferred[0], abs=1e-10)
            assert together.damage[member] == pytest.approx(alone.damage[0], abs=1e-10)

    def test_one_warming_serves_all_temperatures(self) -> None:
        warming = warming_of(USUAL["glass"], 2.0, 90.0)
        along = pressing_along(warming, [PLATEN, PLATEN + 10.0], [60.0, 90.0], TYPICAL)
        anew = expected_pressing(USUAL["glass"], [PLATEN, PLATEN + 10.0], [60.0, 90.0], TYPICAL)
        assert np.array_equal(along.transferred, anew.transferred)

    def test_many_contacts_are_interpolated_within_a_hundred_thousandth(self) -> None:
        scales = 2.0 * np.exp(np.linspace(-1.25, 1.25, 101))
        many = warming_of(USUAL["glass"], scales, 360.0)
        few = warming_of(USUAL["glass"], scales[::10], 360.0)
        assert many.shares.shape == (101, len(many.times))
        assert many.shares[::10] == pytest.approx(few.shares, abs=1e-5)

    def test_a_platen_that_reads_wrong_is_as_one_set_otherwise(self) -> None:
        offset = replace(TYPICAL, platen_offset=8.0)
        wrong = expected_pressing(USUAL["glass"], PLATEN, 90.0, offset)
        right = expected_pressing(USUAL["glass"], PLATEN + 8.0, 90.0, TYPICAL)
        assert wrong.transferred.item() == right.transferred.item()

    def test_handbook_values_matter_less_than_the_contact(self) -> None:
        """Why the heat capacity of the blank is no unknown of its own: a standard deviation of glass moves
        the coating's temperature less than a third as far as one of the contact does."""
        stack = USUAL["glass"]
        glass = materials()["glass"]
        heavier = replace(glass, density=glass.density * (1.0 + glass.relative_uncertainty))
        other = replace(stack, layers=(*stack.layers[:2], Layer(heavier, 4e-3), stack.layers[3]))
        usual, slower, looser = (
            warming_of(which, scale, 60.0).shares[0, -1]
            for which, scale in ((stack, 2.0), (other, 2.0), (stack, 2.0 * np.exp(-0.35)))
        )
        assert 0.0 < usual - slower < (usual - looser) / 3.0
