"""CIEDE2000 as published, at the tie of opposite hues, and against two independent implementations."""

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from dyecast_shared.delta_e import OPPOSITE_HUES_TOLERANCE, delta_e_2000, hue_chroma_differences
from dyecast_shared.photo import FloatArray

SHARMA = np.loadtxt(Path(__file__).parent / "data" / "ciede2000_sharma_2005.txt")
"""Sharma, Wu, Dalal 2005, table 1: pair number, two colours in CIELAB, published difference."""

PUBLISHED_DIGITS = 1e-4

lab_colours = st.tuples(st.floats(0, 100), st.floats(-128, 128), st.floats(-128, 128))


def random_lab(seed: int, count: int = 2000) -> FloatArray:
    return np.random.default_rng(seed).uniform([0, -100, -100], [100, 100, 100], (count, 3))


def pair(number: int) -> tuple[NDArray[np.float64], NDArray[np.float64], float]:
    row = SHARMA[number - 1]
    return row[1:4], row[4:7], float(row[7])


class TestPublishedPairs:
    def test_the_file_holds_all_34_pairs(self) -> None:
        assert SHARMA[:, 0].tolist() == list(range(1, 35))

    @pytest.mark.parametrize("number", range(1, 35))
    @pytest.mark.parametrize("dtype", [np.float64, np.float32])
    def test_every_pair_agrees_to_four_decimals_in_both_orders(self, number: int, dtype: type) -> None:
        first, second, published = pair(number)
        for one, other in [(first, second), (second, first)]:
            measured = delta_e_2000(one.astype(dtype), other.astype(dtype))
            assert float(measured) == pytest.approx(published, abs=PUBLISHED_DIGITS)

    def test_all_pairs_at_once_give_what_each_gives_alone(self) -> None:
        together = delta_e_2000(SHARMA[:, 1:4], SHARMA[:, 4:7])
        alone = [float(delta_e_2000(*pair(number)[:2])) for number in range(1, 35)]
        assert together.tolist() == alone


class TestOppositeHues:
    def test_exactly_opposite_hues_take_the_published_side(self) -> None:
        first, second, published = pair(14)
        assert published == 4.8045
        assert float(delta_e_2000(first, second)) == pytest.approx(4.8045, abs=PUBLISHED_DIGITS)

    def test_two_thousandths_of_a_degree_further_is_no_tie(self) -> None:
        first, second, published = pair(15)
        assert published == 4.7461
        assert float(delta_e_2000(first, second)) == pytest.approx(4.7461, abs=PUBLISHED_DIGITS)

    @pytest.mark.parametrize("towards", [-math.inf, math.inf])
    @pytest.mark.parametrize("channel", [1, 2])
    @pytest.mark.parametrize("dtype", [np.float64, np.float32])
    def test_the_last_bit_does_not_choose_the_side(self, towards: float, channel: int, dtype: type) -> None:
        colours: FloatArray = np.stack(pair(14)[:2]).astype(dtype)
        first, second = colours
        second[channel] = np.nextafter(second[channel], dtype(towards))
        assert float(delta_e_2000(first, second)) == pytest.approx(4.8045, abs=PUBLISHED_DIGITS)

    def test_the_tolerance_lies_between_float32_rounding_and_pair_15(self) -> None:
        first, second, _ = pair(15)
        # In CIEDE2000 a* of such pale colours is stretched by half, so the hues are further apart than here.
        angle = math.atan2(first[2], first[1]) - math.atan2(second[2], second[1])
        from_opposite = abs(math.pi - angle)
        assert np.finfo(np.float32).eps < OPPOSITE_HUES_TOLERANCE < from_opposite / 10

    @given(
        hue=st.floats(0, 359.9),
        chroma=st.floats(1, 100),
        ratio=st.floats(0.05, 1),
        lightness=st.floats(0, 100),
    )
    def test_opposite_colours_differ_equally_in_both_orders_and_precisions(
        self, hue: float, chroma: float, ratio: float, lightness: float
    ) -> None:
        a, b = chroma * math.cos(math.radians(hue)), chroma * math.sin(math.radians(hue))
        # Equal chroma stretches a* equally, so that only then the primed hues stay opposite.
        first, second = np.array([lightness, a, b]), np.array([lightness * ratio, -a, -b])
        forwards = float(delta_e_2000(first, second))
        assert float(delta_e_2000(second, first)) == pytest.approx(forwards, rel=1e-12)
        single = delta_e_2000(first.astype(np.float32), second.astype(np.float32))
        assert float(single) == pytest.approx(forwards, rel=1e-4)

    def test_the_mean_hue_of_opposite_hues_lies_on_the_green_side(self) -> None:
        """Hues 0° and 180° average to 90°, not 270°: (h1 + h2) / 2, worked out by hand below.

        C' is C stretched by 1 + G; T(90°) = 1 - 0.17 cos 60° + 0.24 cos 180° + 0.32 cos 276°
        - 0.20 cos 297°, and R_T is nil that far from 275°.
        """
        chroma = 10.0 * (1.5 - 0.5 * math.sqrt(10.0**7 / (10.0**7 + 25.0**7)))
        weighting = (
            1.0
            - 0.17 * math.cos(math.radians(60))
            + 0.24 * math.cos(math.radians(180))
            + 0.32 * math.cos(math.radians(276))
            - 0.20 * math.cos(math.radians(297))
        )
        by_hand = 2.0 * chroma / (1.0 + 0.015 * chroma * weighting)
        assert float(delta_e_2000([50, 10, 0], [50, -10, 0])) == pytest.approx(by_hand, rel=1e-9)
        assert float(delta_e_2000([50, -10, 0], [50, 10, 0])) == pytest.approx(by_hand, rel=1e-9)


class TestAgainstOtherImplementations:
    @pytest.mark.parametrize("spread", [1.0, 5.0, 100.0])
    def test_colour_science_agrees(self, colour_science: Any, spread: float) -> None:
        first = random_lab(1)
        second = first + np.random.default_rng(2).normal(0, spread, first.shape)
        expected = colour_science.delta_E(first, second, method="CIE 2000")
        np.testing.assert_allclose(delta_e_2000(first, second), expected, atol=1e-9)

    @pytest.mark.parametrize("spread", [1.0, 5.0, 100.0])
    def test_scikit_image_agrees(self, skimage_color: Any, spread: float) -> None:
        first = random_lab(3)
        second = first + np.random.default_rng(4).normal(0, spread, first.shape)
        expected = skimage_color.deltaE_ciede2000(first, second)
        np.testing.assert_allclose(delta_e_2000(first, second), expected, atol=1e-9)

    @pytest.mark.parametrize("hue", np.arange(1.0, 360.0, 7.5).tolist())
    def test_colour_science_agrees_all_around_the_hue_circle(self, colour_science: Any, hue: float) -> None:
        """Small steps in hue and chroma, where the blue rotation and the wrap at 0° would show.

        No mean hue is exactly 0°: there the standard's blue rotation has a step of 1e-5 of its own.
        """
        angles = np.deg2rad(hue + np.array([0.0, 3.0, 20.0, -15.0]))
        chroma = np.array([45.0, 48.0, 40.0, 60.0])
        colours = np.stack([np.full(4, 50.0), chroma * np.cos(angles), chroma * np.sin(angles)], axis=-1)
        expected = colour_science.delta_E(colours[:1], colours[1:], method="CIE 2000")
        np.testing.assert_allclose(delta_e_2000(colours[:1], colours[1:]), expected, atol=1e-9)


class TestAsADistance:
    @given(lab_colours)
    def test_a_colour_does_not_differ_from_itself(self, lab: tuple[float, float, float]) -> None:
        assert float(delta_e_2000(lab, lab)) == 0.0
        single = np.array(lab, dtype=np.float32)
        assert float(delta_e_2000(single, single)) == 0.0

    @given(lab_colours, lab_colours)
    def test_the_order_of_the_colours_does_not_matter(
        self, one: tuple[float, float, float], other: tuple[float, float, float]
    ) -> None:
        forwards, backwards = float(delta_e_2000(one, other)), float(delta_e_2000(other, one))
        assert forwards >= 0.0
        assert backwards == pytest.approx(forwards, rel=1e-9, abs=1e-12)

    def test_a_neutral_has_no_hue_to_differ_in(self) -> None:
        """Pairs 7 and 8 of Sharma et al. swap a neutral and a colour; a nearly neutral one is as far."""
        exact = float(delta_e_2000([50, 0, 0], [50, -1, 2]))
        nearly = float(delta_e_2000([50, 1e-13, -1e-13], [50, -1, 2]))
        assert nearly == pytest.approx(exact, abs=1e-6)


class TestArrays:
    def test_single_precision_stays_single_and_close_to_double(self) -> None:
        first = random_lab(5)
        second = first + np.random.default_rng(6).normal(0, 5, first.shape)
        single = delta_e_2000(first.astype(np.float32), second.astype(np.float32))
        assert single.dtype == np.float32
        np.testing.assert_allclose(single, delta_e_2000(first, second), atol=5e-5)

    def test_mixed_precision_and_whole_numbers_are_computed_in_double(self) -> None:
        single = np.zeros((2, 3), dtype=np.float32)
        assert delta_e_2000(single, np.zeros(3)).dtype == np.float64
        assert delta_e_2000([50, 0, 0], np.array([50, 1, 1])).dtype == np.float64

    def test_shapes_are_broadcast(self) -> None:
        picture = random_lab(7, 20).reshape(4, 5, 3)
        target = np.array([50.0, 10.0, -20.0])
        against_target = delta_e_2000(picture, target)
        assert against_target.shape == (4, 5)
        assert float(against_target[2, 3]) == float(delta_e_2000(picture[2, 3], target))
        assert delta_e_2000(picture[:, :1], picture[:1]).shape == (4, 5)

    def test_nothing_to_compare_gives_nothing(self) -> None:
        assert delta_e_2000(np.empty((0, 3)), np.empty((0, 3))).shape == (0,)

    def test_a_map_larger_than_a_block_is_computed_to_its_end(self) -> None:
        colours = np.repeat(random_lab(8, 1), 40_000, axis=0)
        differences = delta_e_2000(colours, colours[0] + [1.0, 2.0, 3.0])
        assert differences.shape == (40_000,)
        np.testing.assert_allclose(differences, differences[0], rtol=1e-12)

    @pytest.mark.parametrize("channel", [0, 1, 2])
    @pytest.mark.parametrize("dtype", [np.float64, np.float32])
    def test_an_unknown_value_makes_only_its_own_difference_unknown(self, channel: int, dtype: type) -> None:
        first: FloatArray = random_lab(9, 3).astype(dtype)
        first[1, channel] = np.nan
        differences = delta_e_2000(first, first[0])
        assert np.isnan(differences).tolist() == [False, True, False]

    def test_the_inputs_are_left_alone(self) -> None:
        first, second = random_lab(10, 5), random_lab(11, 5)
        before = first.copy(), second.copy()
        delta_e_2000(first, second)
        np.testing.assert_array_equal(first, before[0])
        np.testing.assert_array_equal(second, before[1])

    def test_anything_but_three_values_per_colour_is_a_programming_error(self) -> None:
        with pytest.raises(ValueError, match="three values"):
            delta_e_2000(np.zeros((5, 4)), np.zeros((5, 4)))
        with pytest.raises(ValueError, match="three values"):
            delta_e_2000(50.0, [50, 0, 0])


class TestParts:
    def test_a_lighter_more_saturated_sample_is_positive(self) -> None:
        parts = hue_chroma_differences([50, 30, 40], [60, 60, 80])
        assert float(parts.delta_lightness) == 10.0
        assert float(parts.delta_chroma) == pytest.approx(50.0)
        assert float(parts.delta_hue) == pytest.approx(0.0, abs=1e-12)

    def test_hue_is_positive_anticlockwise_from_red_to_yellow_also_across_zero(self) -> None:
        assert float(hue_chroma_differences([50, 40, 0], [50, 0, 40]).delta_hue) > 0
        assert float(hue_chroma_differences([50, 0, 40], [50, 40, 0]).delta_hue) < 0
        assert float(hue_chroma_differences([50, 40, -1], [50, 40, 1]).delta_hue) == pytest.approx(
            2.0, rel=1e-3
        )

    def test_a_quarter_turn_at_equal_chroma_is_a_chord_of_the_circle(self) -> None:
        """ΔH* = 2 C* sin(Δh / 2), CIE 15:2004, section 8.2.1."""
        parts = hue_chroma_differences([50, 40, 0], [50, 0, 40])
        assert float(parts.delta_hue) == pytest.approx(40 * math.sqrt(2), rel=1e-12)

    @given(lab_colours, lab_colours)
    def test_the_squares_of_the_parts_add_up_to_the_distance(
        self, reference: tuple[float, float, float], sample: tuple[float, float, float]
    ) -> None:
        parts = hue_chroma_differences(reference, sample)
        together = math.hypot(float(parts.delta_lightness), float(parts.delta_chroma), float(parts.delta_hue))
        assert together == pytest.approx(math.dist(reference, sample), rel=1e-9, abs=1e-5)

    def test_shapes_are_broadcast_and_single_precision_kept(self) -> None:
        reference = np.array([50, 10, 10], dtype=np.float32)
        sample = random_lab(12, 6).astype(np.float32).reshape(2, 3, 3)
        parts = hue_chroma_differences(reference, sample)
        for part in (parts.delta_lightness, parts.delta_chroma, parts.delta_hue):
            assert part.shape == (2, 3)
            assert part.dtype == np.float32

    def test_unknown_in_unknown_out(self) -> None:
        parts = hue_chroma_differences([50, math.nan, 0], [50, 1, 1])
        assert math.isnan(parts.delta_chroma)
        assert math.isnan(parts.delta_hue)
