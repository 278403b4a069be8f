"""The piece's colours in the artwork's frame: right size, right place, right averages, on made-up photos."""

from dataclasses import replace
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest
from numpy.typing import NDArray

from dyecast_calibration.pressing_model import bands_from_xyz
from dyecast_inspect.card_sighting import CardSighting
from dyecast_inspect.correct_colour import ColourCorrection
from dyecast_inspect.measure_piece import FRAME_LONG_SIDE_PX, frame_size, measure_piece, size_mm
from dyecast_inspect.read_artwork import Artwork
from dyecast_inspect.register_piece import Registration
from dyecast_shared.cielab import D50_WHITE
from dyecast_shared.encodings import srgb_decode, srgb_encoding
from dyecast_shared.photo import Photo

PIXELS_PER_MM = 4.0
TABLE = 0
"""Code value of everything beside the piece."""


def artwork(height: int, width: int) -> Artwork:
    white = np.ones((height, width, 3), np.float32)
    return Artwork("made.png", white, white, np.ones((height, width), bool), (height, width))


def lying(left: float, top: float, width: float, height: float) -> Registration:
    """An artwork that lies upright in the photo, in px."""
    to_photo = np.array([[width, 0.0, left], [0.0, height, top], [0.0, 0.0, 1.0]])
    return Registration(to_photo, mirrored=False, correlation=1.0, uncertainty_px=0.1)


def card() -> CardSighting:
    """A card seen straight from above, of which only the scale counts here."""
    homography = np.diag([PIXELS_PER_MM, PIXELS_PER_MM, 1.0])
    return cast(CardSighting, SimpleNamespace(card_to_photo=homography))


def plain_correction(gain: float = 1.0) -> ColourCorrection:
    """A camera that measures XYZ relative to white, in light `gain` times that on the card."""

    def clipped(linear: NDArray[Any]) -> NDArray[np.bool_]:
        return np.asarray((linear >= 0.99).any(axis=-1))

    stand_in = SimpleNamespace(
        camera_planes=lambda linear: np.moveaxis(linear, -1, 0),
        clipped=clipped,
        illumination=SimpleNamespace(gain_planes=lambda places: np.full((3, len(places)), gain)),
        colour_model=SimpleNamespace(relative_xyz=lambda camera: camera),
    )
    return cast(ColourCorrection, stand_in)


def photo(pixels: NDArray[np.uint8]) -> Photo:
    return Photo("made.jpg", pixels, srgb_encoding(), (pixels.shape[0], pixels.shape[1]), 1.0)


def halves() -> NDArray[np.uint8]:
    """A table with a piece of 160 x 80 px at (100, 60): the left half darker than the right."""
    pixels = np.full((240, 400, 3), TABLE, np.uint8)
    pixels[60:140, 100:180], pixels[60:140, 180:260] = 90, 180
    return pixels


PLACE = lying(99.5, 59.5, 160.0, 80.0)
"""Where that piece lies; pixel centres are at whole numbers."""


def light_of(code: int) -> NDArray[np.float32]:
    """The three bands of a grey of this code value."""
    relative = float(srgb_decode(code / 255.0))
    return bands_from_xyz(relative * D50_WHITE)


def test_each_half_of_the_piece_keeps_its_light_and_nothing_of_the_table_enters() -> None:
    piece = measure_piece(photo(halves()), card(), plain_correction(), PLACE, artwork(100, 200))
    middle = piece.bands.shape[1] // 2
    assert np.allclose(piece.bands[:, : middle - 2], light_of(90), atol=2e-3)
    assert np.allclose(piece.bands[:, middle + 2 :], light_of(180), atol=2e-3)
    assert piece.usable.all()


def test_a_mirrored_print_is_read_the_artworks_way_round() -> None:
    mirrored = replace(PLACE, artwork_to_photo=PLACE.artwork_to_photo @ [[-1, 0, 1], [0, 1, 0], [0, 0, 1]])
    piece = measure_piece(photo(halves()), card(), plain_correction(), mirrored, artwork(100, 200))
    assert np.allclose(piece.bands[40, 5], light_of(180), atol=2e-3)


def test_more_light_on_the_piece_than_on_the_card_is_taken_off() -> None:
    piece = measure_piece(photo(halves()), card(), plain_correction(2.0), PLACE, artwork(100, 200))
    assert np.allclose(piece.bands[40, 5], light_of(90) / 2.0, atol=2e-3)


def test_fine_lines_are_averaged_in_light_not_in_code_values() -> None:
    pixels = np.full((700, 700, 3), TABLE, np.uint8)
    pixels[:, ::2] = 255
    striped = lying(29.5, 29.5, 640.0, 640.0)
    piece = measure_piece(photo(pixels), card(), plain_correction(), striped, artwork(640, 640))
    assert np.allclose(piece.bands[100, 100], bands_from_xyz(0.5 * D50_WHITE), atol=0.01)


def test_a_burnt_out_spot_is_not_usable_nor_is_its_glow() -> None:
    pixels = halves()
    pixels[100, 140] = 255
    piece = measure_piece(photo(pixels), card(), plain_correction(), PLACE, artwork(100, 200))
    rows, columns = np.nonzero(~piece.usable)
    assert abs(rows.mean() - 40.0) <= 1.0
    assert abs(columns.mean() - 40.0) <= 1.0
    assert 9 <= len(rows) <= 81
    assert piece.inside.all()


def test_what_lies_outside_the_photo_is_not_inside() -> None:
    cut = lying(-80.5, 59.5, 160.0, 80.0)
    piece = measure_piece(photo(halves()), card(), plain_correction(), cut, artwork(100, 200))
    assert float(piece.inside.mean()) == pytest.approx(0.5, abs=0.02)
    assert not piece.inside[:, 0].any()


def test_the_size_in_mm_is_that_on_the_cards_plane() -> None:
    assert size_mm(card(), PLACE) == pytest.approx((40.0, 20.0))
    piece = measure_piece(photo(halves()), card(), plain_correction(), PLACE, artwork(100, 200))
    assert piece.pixels_per_mm == pytest.approx(piece.bands.shape[1] / 40.0)


@pytest.mark.parametrize(
    ("print_px", "expected"),
    [
        ((160.0, 80.0), (80, 160)),
        ((2000.0, 1000.0), (FRAME_LONG_SIDE_PX // 2, FRAME_LONG_SIDE_PX)),
        ((20.0, 10.0), (32, 64)),
    ],
    ids=["as large as the print in the photo", "never larger than the bound", "never tiny"],
)
def test_the_frame_is(print_px: tuple[float, float], expected: tuple[int, int]) -> None:
    assert frame_size(artwork(100, 200), lying(0.0, 0.0, *print_px)) == expected


def test_a_place_to_which_no_light_is_foretold_still_has_numbers() -> None:
    """The light is extrapolated from the card; places that are only tried may lie far outside the photo."""
    pixels = np.full((60, 80, 3), 128, np.uint8)
    piece = measure_piece(photo(pixels), card(), plain_correction(0.0), lying(0, 0, 80, 60), artwork(60, 80))
    assert np.isfinite(piece.bands).all()
