"""Points through homographies, rectangles and areas."""

import math

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from dyecast_shared.geometry import apply_homography, local_scale, polygon_area, rectangle_corners

TILTED = np.array([[9.0, 0.5, 120.0], [-0.3, 8.0, 80.0], [1e-3, 2e-3, 1.0]])
"""A card in millimetres seen a little from the side, in pixels."""


class TestHomography:
    def test_moving_and_scaling(self) -> None:
        mapped = apply_homography([[2, 0, 10], [0, 3, 20], [0, 0, 1]], [[0, 0], [1, 1]])
        assert mapped.tolist() == [[10, 20], [12, 23]]
        assert mapped.dtype == np.float64

    def test_opencv_agrees(self) -> None:
        points = np.random.default_rng(0).uniform(0, 100, (50, 2))
        expected = cv2.perspectiveTransform(points[np.newaxis], TILTED)[0]
        np.testing.assert_allclose(apply_homography(TILTED, points), expected, atol=1e-9)

    @given(st.floats(0, 100), st.floats(0, 100))
    def test_the_inverse_leads_back(self, x: float, y: float) -> None:
        there = apply_homography(TILTED, [[x, y]])
        np.testing.assert_allclose(apply_homography(np.linalg.inv(TILTED), there), [[x, y]], atol=1e-9)

    def test_its_overall_scale_does_not_matter(self) -> None:
        points = rectangle_corners(0, 0, 85, 54)
        np.testing.assert_allclose(apply_homography(-7 * TILTED, points), apply_homography(TILTED, points))

    def test_straight_lines_stay_straight(self) -> None:
        line = np.array([[0.0, 10.0], [30.0, 40.0], [70.0, 80.0]])
        assert polygon_area(apply_homography(TILTED, line)) == pytest.approx(0.0, abs=1e-9)

    def test_a_point_on_the_horizon_has_no_image(self) -> None:
        mapped = apply_homography([[1, 0, 0], [0, 1, 0], [1, 0, -5]], [[5, 2], [6, 2]])
        assert np.isnan(mapped[0]).all()
        assert mapped[1].tolist() == [6, 2]

    def test_no_points_give_no_points(self) -> None:
        assert apply_homography(TILTED, np.empty((0, 2))).shape == (0, 2)


class TestLocalScale:
    def test_a_plain_enlargement_is_its_own_scale_everywhere(self) -> None:
        assert local_scale(np.diag([4.0, 4.0, 1.0]), (3, 50)) == pytest.approx(4.0)
        assert local_scale(np.diag([4.0, 9.0, 1.0]), (3, 50)) == pytest.approx(6.0)

    def test_the_overall_scale_and_mirroring_do_not_matter(self) -> None:
        expected = local_scale(TILTED, (40, 30))
        assert local_scale(-3 * TILTED, (40, 30)) == pytest.approx(expected)
        assert local_scale(np.diag([-1.0, 1.0, 1.0]) @ TILTED, (40, 30)) == pytest.approx(expected)

    @given(st.floats(0, 100), st.floats(0, 100))
    def test_it_is_the_growth_of_a_tiny_square(self, x: float, y: float) -> None:
        side = 1e-3
        square = rectangle_corners(x - side / 2, y - side / 2, side, side)
        grown = math.sqrt(polygon_area(apply_homography(TILTED, square))) / side
        assert local_scale(TILTED, (x, y)) == pytest.approx(grown, rel=1e-6)

    def test_it_shrinks_with_distance(self) -> None:
        assert local_scale(TILTED, (80, 80)) < local_scale(TILTED, (0, 0))

    def test_on_the_horizon_it_is_infinite(self) -> None:
        assert local_scale([[1, 0, 0], [0, 1, 0], [1, 0, -5]], (5, 2)) == math.inf


class TestRectangle:
    def test_corners_run_clockwise_from_the_top_left(self) -> None:
        assert rectangle_corners(1, 2, 10, 20).tolist() == [[1, 2], [11, 2], [11, 22], [1, 22]]


class TestPolygonArea:
    def test_a_rectangle_has_width_times_height(self) -> None:
        assert polygon_area(rectangle_corners(3, 4, 85, 54)) == 85 * 54

    def test_a_triangle_has_half_of_base_times_height(self) -> None:
        assert polygon_area([[0, 0], [4, 0], [1, 3]]) == 6.0

    def test_the_direction_of_travel_and_the_first_corner_do_not_matter(self) -> None:
        corners = np.array([[0, 0], [7, 1], [5, 6], [1, 4]], dtype=np.float64)
        area = polygon_area(corners)
        assert polygon_area(corners[::-1]) == pytest.approx(area)
        assert polygon_area(np.roll(corners, 1, axis=0)) == pytest.approx(area)

    def test_a_dent_is_subtracted(self) -> None:
        assert polygon_area([[0, 0], [4, 0], [4, 4], [2, 2], [0, 4]]) == 12.0

    def test_far_from_the_origin_no_digits_are_lost(self) -> None:
        far: NDArray[np.float64] = rectangle_corners(1e9, 1e9, 2, 3)
        assert polygon_area(far) == 6.0
