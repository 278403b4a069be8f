"""Heat through the stack, against solutions that are known exactly."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dyecast_calibration.press.conduction_grid import (
    ConductionGrid,
    conduction_grid,
    opened_press,
    taken_off,
)
from dyecast_calibration.press.heat_conduction import conduct, step_lengths
from dyecast_calibration.press.materials import Material
from dyecast_calibration.press.press_stack import BONDED, Layer, PressStack, cells_in, pressed_stack
from exact_heat import half_space, half_space_with_contact, plane_wall
from stacks import GLASS, USUAL, diffusivity, middles, wall, warmed

TOLERATED = 0.005
"""Of the platen's step above the start."""

THICKNESS = 4e-3

each_usual_stack = pytest.mark.parametrize("stack", USUAL.values(), ids=USUAL.keys())


class TestExactSolutions:
    @pytest.mark.parametrize("biot", [0.1, 0.3, 1.0, 3.0, 10.0, 100.0])
    def test_a_plane_wall_behind_a_contact_follows_its_series(self, biot: float) -> None:
        """Carslaw and Jaeger 1959, 3.11 (12); Incropera et al., 5.42. Biot 0.3 to 2 is glass in a press."""
        contact = biot * GLASS.conductivity / THICKNESS
        _, history = warmed(wall(GLASS, THICKNESS, contact, 17), step_lengths(600.0))
        fourier = diffusivity(GLASS) * history.times[1:] / THICKNESS**2
        assert history.coating[0, 1:] == pytest.approx(plane_wall(biot, fourier, 0.5), abs=TOLERATED)

    def test_the_wall_of_a_pipeline_that_warms_from_inside(self) -> None:
        """Incropera et al., example 5.5 (5.4 in some editions), figures from memory: a steel wall of 40 mm,
        hot oil at 60 °C behind 500 W/(m² K), from -20 °C. After 8 min the insulated face has 42.9 °C and
        the inner 45.2 °C; the book uses the first term of the series and reads three digits.
        """
        steel = Material("steel of the example", conductivity=63.9, density=7832.0, heat_capacity=434.0)
        _, history = warmed(wall(steel, 0.04, 500.0, 40), step_lengths(480.0))
        inner, insulated = -20.0 + 80.0 * history.temperatures[0, [0, -1]]
        assert insulated == pytest.approx(42.9, abs=80.0 * TOLERATED)
        assert inner == pytest.approx(45.2, abs=80.0 * TOLERATED)

    def test_a_half_space_whose_face_is_held_follows_the_error_function(self) -> None:
        """Carslaw and Jaeger 1959, 2.5: silicone foam so deep that 60 s do not reach its end."""
        foam = USUAL["glass"].layers[-1].material
        grid, history = warmed(wall(foam, 0.05, BONDED, 120), np.full(600, 0.1))
        exact = half_space(middles(grid, foam), 60.0, diffusivity(foam))
        assert history.temperatures[0] == pytest.approx(exact, abs=TOLERATED)

    def test_a_half_space_behind_a_contact_follows_its_solution(self) -> None:
        """Carslaw and Jaeger 1959, 2.7 (1); Incropera et al., 5.63."""
        grid, history = warmed(wall(GLASS, 0.1, 900.0, 120), np.full(900, 0.1))
        depths = middles(grid, GLASS)
        exact = half_space_with_contact(depths, 90.0, diffusivity(GLASS), 900.0, GLASS.conductivity)
        assert history.temperatures[0] == pytest.approx(exact, abs=TOLERATED)

    def test_soil_freezes_as_deep_as_a_water_main_must_lie(self) -> None:
        """Incropera et al., example on a water main, figures from memory: soil at 20 °C, its face at -15 °C
        for 60 days, freezes to 0.68 m."""
        soil = Material("soil", conductivity=0.52, density=2050.0, heat_capacity=1840.0)
        grid, history = warmed(wall(soil, 6.0, BONDED, 150), step_lengths(60 * 86400.0))
        celsius = 20.0 - 35.0 * history.temperatures[0]
        assert np.interp(0.0, celsius, middles(grid, soil)) == pytest.approx(0.68, abs=0.01)

    @each_usual_stack
    def test_in_the_end_the_temperature_divides_as_the_resistances(self, stack: PressStack) -> None:
        """Steady heat flow in series; Incropera et al., 3.1.2."""
        resistances = [1.0 / contact for contact in stack.contacts]
        layers = [layer.thickness / layer.material.conductivity for layer in stack.layers]
        above = sum(resistances[: stack.coating + 1]) + sum(layers[: stack.coating])
        expected = 1.0 - (above + layers[stack.coating] / 2.0) / (sum(resistances) + sum(layers))
        _, history = warmed(stack, step_lengths(50_000.0))
        assert history.coating[0, -1] == pytest.approx(expected, abs=1e-6)


class TestConvergence:
    def test_three_times_as_many_cells_leave_a_ninth_of_the_error(self) -> None:
        contact, steps = GLASS.conductivity / THICKNESS, np.full(2000, 0.02)
        exact = plane_wall(1.0, diffusivity(GLASS) * 40.0 / THICKNESS**2, 0.5)
        errors = [
            abs(warmed(wall(GLASS, THICKNESS, contact, cells), steps)[1].coating[0, -1] - exact)
            for cells in (9, 27, 81)
        ]
        assert np.log(errors[0] / errors[1]) / np.log(3.0) == pytest.approx(2.0, abs=0.1)
        assert np.log(errors[1] / errors[2]) / np.log(3.0) == pytest.approx(2.0, abs=0.1)

    def test_half_as_long_steps_leave_a_quarter_of_the_error(self) -> None:
        stack = wall(GLASS, THICKNESS, GLASS.conductivity / THICKNESS, 9)
        ends = [warmed(stack, np.full(n, 40.0 / n))[1].coating[0, -1] for n in (20, 40, 80, 5120)]
        errors = np.abs(np.array(ends[:3]) - ends[3])
        assert np.log2(errors[:-1] / errors[1:]) == pytest.approx(2.0, abs=0.05)

    @each_usual_stack
    def test_the_usual_grid_is_fine_enough(self, stack: PressStack) -> None:
        steps = step_lengths(360.0)
        layers = tuple(replace(layer, cells=5 * cells_in(layer)) for layer in stack.layers)
        fine = warmed(replace(stack, layers=layers), np.repeat(steps / 4.0, 4))[1].coating[0, ::4]
        assert warmed(stack, steps)[1].coating[0] == pytest.approx(fine, abs=TOLERATED)


class TestEnergy:
    @each_usual_stack
    @pytest.mark.parametrize("seconds", [1.0, 60.0, 360.0])
    def test_the_heat_that_came_in_is_the_heat_that_is_there(self, stack: PressStack, seconds: float) -> None:
        grid, history = warmed(stack, step_lengths(seconds))
        stored = history.temperatures @ grid.capacities
        assert history.heat_in == pytest.approx(stored, rel=1e-6)

    @pytest.mark.parametrize("opened", [opened_press, taken_off])
    def test_what_cools_loses_the_heat_it_had(
        self, opened: Callable[[ConductionGrid], ConductionGrid]
    ) -> None:
        grid = opened(conduction_grid(USUAL["glass"]))
        hot = np.full_like(grid.to_platen, 180.0)
        history = conduct(grid, hot, np.zeros(1), 20.0, step_lengths(300.0))
        stored = (history.temperatures - hot) @ grid.capacities
        assert history.heat_in == pytest.approx(stored, rel=1e-6)
        assert np.all((history.temperatures < 180.0) & (history.temperatures > 20.0))

    @given(
        st.floats(20.0, 5000.0),
        st.floats(1e-4, 2e-2),
        st.sampled_from(["glass", "aluminium", "hardboard"]),
        st.floats(0.5, 400.0),
    )
    def test_nothing_becomes_hotter_than_the_platen_or_cools_while_it_is_heated(
        self, contact: float, thickness: float, blank: str, seconds: float
    ) -> None:
        stack = replace(pressed_stack(blank, thickness), contacts=(contact, contact, BONDED, 200.0, 200.0))
        _, history = warmed(stack, step_lengths(seconds))
        assert np.all(np.diff(history.coating) > -1e-9)
        assert np.all((history.temperatures > -1e-9) & (history.temperatures < 1.0 + 1e-9))


class TestMembers:
    def test_many_contacts_at_once_are_as_one_after_the_other(self) -> None:
        scales = np.array([0.5, 1.0, 2.0, 4.0])
        grid, steps = conduction_grid(USUAL["glass"], scales), step_lengths(90.0)
        together = conduct(grid, np.zeros_like(grid.to_platen), np.ones(4), 0.0, steps).coating
        for scale, row in zip(scales, together, strict=True):
            alone = conduction_grid(USUAL["glass"], scale)
            history = conduct(alone, np.zeros_like(alone.to_platen), np.ones(1), 0.0, steps)
            assert row == pytest.approx(history.coating[0], abs=1e-12)
        assert np.all(np.diff(together[:, 1:], axis=0) > 0.0)

    def test_a_piece_taken_off_exchanges_no_heat_with_the_pad(self) -> None:
        grid = taken_off(conduction_grid(USUAL["glass"]))
        start = np.full_like(grid.to_platen, 20.0)
        start[:, : grid.piece[1] + 1] = 180.0
        after = conduct(grid, start, np.zeros(1), 20.0, step_lengths(30.0)).temperatures
        assert after[0, grid.piece[1] + 1 :] == pytest.approx(20.0)


class TestSteps:
    @given(st.floats(0.0, 1e5))
    def test_steps_lead_to_the_end_and_never_shorten_by_much(self, seconds: float) -> None:
        steps = step_lengths(seconds)
        assert np.sum(steps) == pytest.approx(seconds, abs=1e-8)
        assert np.all(steps > 0.0)
        assert len(steps) < 700

    @pytest.mark.parametrize("seconds", [-1.0, np.nan, np.inf])
    def test_a_time_is_zero_or_more_seconds(self, seconds: float) -> None:
        with pytest.raises(ValueError, match="seconds"):
            step_lengths(seconds)

    @pytest.mark.parametrize("thickness", [0.0, -1e-3, np.nan])
    def test_a_layer_has_a_thickness(self, thickness: float) -> None:
        with pytest.raises(ValueError, match="thickness"):
            Layer(GLASS, thickness)
