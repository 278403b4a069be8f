"""Pictures of a report, and what is said about them in words."""

import base64
import io
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from api.inspections import pictures, retake, under_pressed
from dyecast_api.report_pictures import (
    LONGEST_SIDE_PX,
    mean_of_judged,
    png_bytes,
    report_pictures,
    shrunk,
    where_it_differs,
)


def opened(data_uri: str) -> Image.Image:
    kind, content = data_uri.split(",", 1)
    assert kind == "data:image/png;base64"
    return Image.open(io.BytesIO(base64.b64decode(content)))


def test_a_picture_is_the_measured_piece_pixel_for_pixel_when_it_is_small() -> None:
    shown = report_pictures(under_pressed())
    assert shown is not None
    assert (np.asarray(opened(shown.piece.data_uri)) == pictures().piece).all()
    assert (np.asarray(opened(shown.intended.data_uri)) == pictures().intended).all()


def test_large_pictures_are_shrunk_together_so_that_they_still_lie_over_each_other() -> None:
    shown = report_pictures(under_pressed(pictures=pictures(1001, 1301)))
    assert shown is not None
    sizes = {(each.width, each.height) for each in (shown.piece, shown.intended, shown.difference_map)}
    assert sizes == {(651, 501)}
    assert max(*sizes.pop()) <= LONGEST_SIDE_PX


def test_a_png_says_that_it_is_srgb() -> None:
    assert b"sRGB" in png_bytes(pictures().piece)[:60]


def test_a_retake_and_an_inspection_without_pictures_show_none() -> None:
    assert report_pictures(retake()) is None
    assert report_pictures(under_pressed(pictures=None)) is None


def test_shrinking_averages_whole_blocks_and_the_smaller_ones_at_the_edge() -> None:
    pixels = np.zeros((3, 3, 3), dtype=np.uint8)
    pixels[:2, :2] = 100
    pixels[2, 2] = 40
    assert shrunk(pixels, 2)[..., 0].tolist() == [[100, 0], [0, 40]]


def test_shrinking_a_map_leaves_out_what_was_not_judged() -> None:
    values = np.array([[2.0, np.nan], [4.0, 100.0], [np.nan, np.nan]], dtype=np.float32)
    judged = np.array([[True, True], [True, False], [False, True]])
    small = mean_of_judged(values, judged, 2)
    assert small[0, 0] == pytest.approx(3.0)
    assert np.isnan(small[1, 0])


def test_the_caption_says_where_the_piece_differs_most_and_least() -> None:
    shown = pictures()
    words = where_it_differs(shown.delta_e_map, shown.judged)
    assert words.startswith(
        "It differs most at the bottom left, ΔE00 9.5 on average, and least at the top right"
    )
    assert "Not judged: 2 % of the picture." in words


def test_an_even_difference_is_called_even() -> None:
    even = np.full((30, 30), 4.0, dtype=np.float32)
    words = where_it_differs(even, np.ones((30, 30), dtype=bool))
    assert words == "The difference is about the same everywhere, ΔE00 4.0."


def test_a_part_that_was_hardly_judged_is_not_spoken_of() -> None:
    values = np.full((30, 30), 2.0, dtype=np.float32)
    values[:10, :10] = 50.0
    judged = np.ones((30, 30), dtype=bool)
    judged[:10, :10] = False
    judged[0, 0] = True
    assert "top left" not in where_it_differs(values, judged)


def test_nothing_judged_is_said_so() -> None:
    nothing = np.zeros((9, 9), dtype=bool)
    assert where_it_differs(np.full((9, 9), np.nan, dtype=np.float32), nothing) == "Nothing was judged."
    inspection = under_pressed(pictures=replace(pictures(9, 9), judged=nothing))
    assert report_pictures(inspection) is not None
