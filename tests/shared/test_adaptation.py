"""Bradford adaptation as published and as a transform between whites."""

from typing import Any

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from dyecast_shared.adaptation import bradford_matrix
from dyecast_shared.cielab import D50_WHITE, D65_WHITE

whites = st.tuples(st.floats(0.7, 1.2), st.just(1.0), st.floats(0.3, 1.4))

LINDBLOOM_D65 = (0.95047, 1.0, 1.08883)
LINDBLOOM_D50 = (0.96422, 1.0, 0.82521)
"""The whites of Lindbloom's tables, ASTM E308; from memory."""


def test_d65_to_d50_has_lindblooms_published_digits() -> None:
    """B. Lindbloom, "Chromatic Adaptation", brucelindbloom.com, table for Bradford; digits from memory."""
    published = [
        [1.0478112, 0.0228866, -0.0501270],
        [0.0295424, 0.9904844, -0.0170491],
        [-0.0092345, 0.0150436, 0.7521316],
    ]
    np.testing.assert_allclose(bradford_matrix(LINDBLOOM_D65, LINDBLOOM_D50), published, atol=6e-8)


def test_d50_to_d65_has_lindblooms_published_digits() -> None:
    """Same source; the digits also stand in other open-source colour libraries with that source named."""
    published = [
        [0.9555766, -0.0230393, 0.0631636],
        [-0.0282895, 1.0099416, 0.0210077],
        [0.0122982, -0.0204830, 1.3299098],
    ]
    np.testing.assert_allclose(bradford_matrix(LINDBLOOM_D50, LINDBLOOM_D65), published, atol=6e-8)


def test_colour_science_agrees(colour_science: Any) -> None:
    expected = colour_science.adaptation.matrix_chromatic_adaptation_VonKries(
        D65_WHITE, D50_WHITE, transform="Bradford"
    )
    np.testing.assert_allclose(bradford_matrix(D65_WHITE, D50_WHITE), expected, atol=1e-9)


@given(whites, whites)
def test_one_white_becomes_the_other(source: tuple[float, ...], target: tuple[float, ...]) -> None:
    np.testing.assert_allclose(bradford_matrix(source, target) @ np.array(source), target, atol=1e-12)


@given(whites, whites)
def test_there_and_back_changes_nothing(source: tuple[float, ...], target: tuple[float, ...]) -> None:
    both_ways = bradford_matrix(target, source) @ bradford_matrix(source, target)
    np.testing.assert_allclose(both_ways, np.eye(3), atol=1e-10)


def test_the_same_white_changes_nothing() -> None:
    np.testing.assert_allclose(bradford_matrix(D50_WHITE, D50_WHITE), np.eye(3), atol=1e-14)
