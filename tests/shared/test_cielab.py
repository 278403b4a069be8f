"""XYZ to CIELAB and back, and which white is meant by D50."""

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dyecast_shared.cielab import D50_WHITE, D65_WHITE, lab_to_lch, lab_to_xyz, xyz_to_lab

xyz_colours = st.tuples(st.floats(0, 1.2), st.floats(0, 1.2), st.floats(0, 1.2))


class TestWhites:
    def test_d50_has_the_digits_of_the_icc_profile_connection_space(self) -> None:
        """ICC.1:2010, section 7.2.16: X = 0.9642, Y = 1, Z = 0.8249."""
        assert D50_WHITE.tolist() == [0.9642, 1.0, 0.8249]

    def test_d65_is_close_to_the_table_of_astm_e308(self) -> None:
        """ASTM E308, 2 degree observer: 0.95047, 1, 1.08883; ours comes from x = 0.3127, y = 0.3290."""
        np.testing.assert_allclose(D65_WHITE, [0.95047, 1.0, 1.08883], atol=3e-4)

    def test_nobody_can_change_a_white_by_accident(self) -> None:
        with pytest.raises(ValueError, match="read-only"):
            D50_WHITE[0] = 1.0

    def test_the_iso_13655_digits_move_white_by_less_than_a_phone_can_see(self) -> None:
        """ISO 13655 writes D50 as 0.96422, 1, 0.82521; the module's docstring states what that costs."""
        lab = xyz_to_lab([0.96422, 1.0, 0.82521])
        np.testing.assert_allclose(lab, [100.0, 0.0, 0.0], atol=0.026)


class TestXyzToLab:
    @pytest.mark.parametrize("white", [D50_WHITE, D65_WHITE])
    def test_white_is_100_and_black_is_0(self, white: Any) -> None:
        np.testing.assert_allclose(xyz_to_lab(white, white), [100.0, 0.0, 0.0], atol=1e-12)
        np.testing.assert_allclose(xyz_to_lab([0.0, 0.0, 0.0], white), [0.0, 0.0, 0.0], atol=1e-12)

    def test_the_grey_card_of_18_percent_has_a_lightness_of_49_5(self) -> None:
        """L* = 116 · 0.18^(1/3) - 16 = 49.496, worked out by hand from CIE 15:2004."""
        lab = xyz_to_lab(0.18 * D50_WHITE)
        np.testing.assert_allclose(lab, [49.4961, 0.0, 0.0], atol=1e-4)

    def test_near_black_the_lightness_is_linear(self) -> None:
        """L* = 903.3 Y for Y below 0.008856, CIE 15:2004."""
        assert float(xyz_to_lab(0.001 * D50_WHITE)[0]) == pytest.approx(0.9033, abs=1e-4)

    def test_curve_and_line_meet_without_a_step(self) -> None:
        join = (6.0 / 29.0) ** 3
        below, above = xyz_to_lab(join * (1 - 1e-9) * D50_WHITE), xyz_to_lab(join * (1 + 1e-9) * D50_WHITE)
        np.testing.assert_allclose(below, above, atol=1e-6)

    @given(xyz_colours)
    def test_colour_science_agrees(self, colour_science: Any, xyz: tuple[float, float, float]) -> None:
        expected = colour_science.XYZ_to_Lab(np.array(xyz), colour_science.XYZ_to_xy(D50_WHITE))
        np.testing.assert_allclose(xyz_to_lab(xyz), expected, atol=1e-9)

    @given(xyz_colours)
    def test_back_to_xyz_is_where_it_came_from(self, xyz: tuple[float, float, float]) -> None:
        np.testing.assert_allclose(lab_to_xyz(xyz_to_lab(xyz)), xyz, atol=1e-12)

    def test_colours_just_below_black_survive_the_round_trip(self) -> None:
        np.testing.assert_allclose(lab_to_xyz(xyz_to_lab([-0.01, -0.002, -0.02])), [-0.01, -0.002, -0.02])


class TestPrecision:
    def test_single_stays_single_and_the_rest_becomes_double(self) -> None:
        single = np.full((4, 5, 3), 0.4, dtype=np.float32)
        for convert in (xyz_to_lab, lab_to_xyz, lab_to_lch):
            assert convert(single).dtype == np.float32
            assert convert(single).shape == (4, 5, 3)
            assert convert(single.astype(np.float64)).dtype == np.float64
            assert convert([1, 1, 1]).dtype == np.float64

    def test_single_is_good_to_a_ten_thousandth(self) -> None:
        xyz = np.random.default_rng(0).uniform(0, 1, (500, 3))
        np.testing.assert_allclose(xyz_to_lab(xyz.astype(np.float32)), xyz_to_lab(xyz), atol=1e-4)

    def test_unknown_stays_unknown(self) -> None:
        assert np.isnan(xyz_to_lab([[math.nan, 0.5, 0.5]])).tolist() == [[False, True, False]]
        assert np.isnan(lab_to_xyz([math.nan, 0.0, 0.0])).all()

    def test_a_colour_of_four_values_is_a_programming_error(self) -> None:
        with pytest.raises(ValueError, match="three values"):
            xyz_to_lab(np.zeros((2, 4)))


class TestLch:
    @pytest.mark.parametrize(
        ("lab", "lch"),
        [
            ([50, 10, 0], [50, 10, 0]),
            ([50, 0, 10], [50, 10, 90]),
            ([50, -10, 0], [50, 10, 180]),
            ([50, 0, -10], [50, 10, 270]),
            ([50, 3, 4], [50, 5, math.degrees(math.atan2(4, 3))]),
            ([50, 0, 0], [50, 0, 0]),
            ([50, -0.0, -0.0], [50, 0, 0]),
        ],
    )
    def test_hue_runs_from_red_over_yellow_green_to_blue(self, lab: list[float], lch: list[float]) -> None:
        np.testing.assert_allclose(lab_to_lch(lab), lch, atol=1e-12)

    @pytest.mark.parametrize("dtype", [np.float32, np.float64])
    def test_a_hue_just_below_red_never_reads_360(self, dtype: type) -> None:
        hue = lab_to_lch(np.array([50, 10, -1e-20], dtype=dtype))[2]
        assert 0.0 <= float(hue) < 360.0

    @given(st.floats(-128, 128), st.floats(-128, 128))
    def test_chroma_and_hue_point_back_to_the_colour(self, a: float, b: float) -> None:
        _, chroma, hue = (float(value) for value in lab_to_lch([50, a, b]))
        assert 0.0 <= hue < 360.0
        assert chroma * math.cos(math.radians(hue)) == pytest.approx(a, abs=1e-9)
        assert chroma * math.sin(math.radians(hue)) == pytest.approx(b, abs=1e-9)
