"""The colour scale of the difference map is even, one way only, and safe for every kind of colour vision."""

import colour
import numpy as np
import pytest
from numpy.typing import NDArray

from dyecast_api.difference_scale import SCALE_TOP, coloured_map, hatching, legend_strip, scale_colours

VALUES = np.linspace(0.0, SCALE_TOP, 21)


def as_oklab(srgb8: NDArray[np.uint8]) -> NDArray[np.float64]:
    return np.asarray(colour.XYZ_to_Oklab(colour.sRGB_to_XYZ(srgb8 / 255.0)))


def test_equal_steps_of_difference_are_equal_steps_to_the_eye() -> None:
    """OKLab of an independent library; one 8-bit level is up to 0.004 of it."""
    steps = np.linalg.norm(np.diff(as_oklab(scale_colours(VALUES)), axis=0), axis=1)
    assert steps.max() / steps.min() < 1.15


def test_larger_differences_are_always_paler_so_that_grey_prints_read_the_same() -> None:
    lightness = as_oklab(scale_colours(VALUES))[:, 0]
    assert (np.diff(lightness) > 0.02).all()


@pytest.mark.parametrize("deficiency", ["Protanomaly", "Deuteranomaly"])
def test_the_order_stays_for_colour_blind_eyes(deficiency: str) -> None:
    """Machado, Oliveira and Fernandes 2009, full severity, on linear sRGB; other eyes have the lightness."""
    linear = colour.cctf_decoding(scale_colours(VALUES) / 255.0, function="sRGB")
    seen = np.clip(linear @ colour.matrix_cvd_Machado2009(deficiency, 1.0).T, 0.0, 1.0)
    lab = np.asarray(colour.XYZ_to_Lab(colour.RGB_to_XYZ(seen, "sRGB")))
    assert (np.diff(lab[:, 0]) > 1.0).all()


def test_the_range_is_fixed_so_that_two_reports_compare() -> None:
    ends = scale_colours(np.array([0.0, SCALE_TOP, 40.0, -1.0]))
    assert (ends[1] == ends[2]).all()
    assert (ends[0] == ends[3]).all()
    assert ends[0].tolist() == [0, 20, 89]
    assert ends[1].tolist() == [253, 249, 161]


def test_what_was_not_judged_is_hatched_and_never_coloured() -> None:
    difference = np.full((20, 30), 3.0, dtype=np.float32)
    judged = np.ones((20, 30), dtype=bool)
    judged[:10] = False
    difference[15, 5] = np.nan
    shown = coloured_map(difference, judged)
    assert shown.dtype == np.uint8
    assert (shown[:10] == hatching(20, 30)[:10]).all()
    assert (shown[15, 5] == hatching(20, 30)[15, 5]).all()
    assert (shown[19, 29] == scale_colours(np.array(3.0))).all()


def test_hatching_is_neutral_grey_in_two_tones() -> None:
    stripes = hatching(40, 40)
    assert (stripes[..., 0] == stripes[..., 1]).all()
    assert (stripes[..., 0] == stripes[..., 2]).all()
    assert len(np.unique(stripes)) == 2


def test_the_legend_runs_from_zero_on_the_left_to_the_top_on_the_right() -> None:
    strip = legend_strip(100, 5)
    assert strip.shape == (5, 100, 3)
    assert (strip[0, 0] == scale_colours(np.array(0.0))).all()
    assert (strip[4, 99] == scale_colours(np.array(SCALE_TOP))).all()
