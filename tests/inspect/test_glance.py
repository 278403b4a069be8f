"""A glance at a viewfinder's frame: what it tells of card, sharpness and glare, and when it keeps quiet."""

import numpy as np
import pytest

from dyecast_calibration.card_layout import layout_named
from dyecast_inspect.glance import Glance, glance_at
from dyecast_shared.errors import CardClipped, CardNotFound, TwoCards
from dyecast_shared.photo import Photo
from synthetic_card import Pose, drawn_card, empty_table, lay, photo_from, photo_of

A6 = layout_named("a6")

USUAL = Pose(scale=2.4, turn=10)
"""A card over a third of a frame 1000 px wide."""


def frame_with(pose: Pose = USUAL, *, hidden: tuple[int, ...] = (), blur: float = 0.6) -> Photo:
    return photo_of(lay(empty_table(), drawn_card(A6, hidden), pose.homography(A6)), blur=blur)


def brighter(frame: Photo, factor: float) -> Photo:
    """Return a frame with its code values times a factor."""
    codes = np.round(frame.pixels.astype(np.float64) * factor)
    return photo_from(np.clip(codes, 0, 255).astype(np.uint8))


def with_light(
    frame: Photo, x: int, y: int, side: int, codes: tuple[int, int, int] = (255, 255, 255)
) -> Photo:
    """Return a frame with a square of light or colour, its middle and side in px."""
    pixels = frame.pixels.astype(np.uint8)
    pixels[y - side // 2 : y + side // 2, x - side // 2 : x + side // 2] = codes
    return photo_from(pixels)


def glance(frame: Photo, photo_long_side: int | None = 4032) -> Glance:
    return glance_at(frame, photo_long_side)


class TestTheCard:
    def test_a_card_that_is_whole_near_and_sharp_is_usable(self) -> None:
        seen = glance(frame_with())
        assert (seen.usable, seen.layout, seen.missing, seen.trouble) == (True, "a6", (), None)
        assert seen.pixels_per_mm == pytest.approx(2.4, rel=0.02)
        assert (seen.too_far, seen.blurred, seen.glare.places) == (False, False, ())

    @pytest.mark.parametrize(
        ("turn", "place"), [(0, "upper left"), (90, "upper right"), (180, "lower right"), (-35, "left")]
    )
    def test_a_hidden_marker_is_named_by_its_corner_as_the_frame_is_held(
        self, turn: float, place: str
    ) -> None:
        seen = glance(frame_with(Pose(scale=3.0, turn=turn, slant=(0, 0)), hidden=(10,)))
        assert seen.usable  # three are enough
        assert seen.missing == (place,)

    def test_of_too_few_markers_the_missing_ones_are_named(self) -> None:
        seen = glance(frame_with(Pose(scale=3.0), hidden=(10, 13)))
        assert isinstance(seen.trouble, CardNotFound)
        assert not seen.usable
        assert (seen.layout, seen.missing) == ("a6", ("upper left", "lower left"))

    def test_of_a_single_marker_nobody_knows_where_the_others_are(self) -> None:
        seen = glance(frame_with(Pose(scale=3.0), hidden=(10, 12, 13)))
        assert (seen.layout, seen.missing, seen.missing_count) == ("a6", (), 3)

    def test_an_empty_table_has_no_card(self) -> None:
        seen = glance(photo_of(empty_table()))
        assert isinstance(seen.trouble, CardNotFound)
        assert (seen.layout, seen.pixels_per_mm, seen.glare.places) == (None, None, None)

    def test_a_card_that_leaves_the_frame_and_two_cards_are_told(self) -> None:
        assert isinstance(glance(frame_with(Pose(x=120, scale=3.0))).trouble, CardClipped)
        table = empty_table()
        for pose in (Pose(x=250, scale=2.4, turn=80), Pose(x=740, scale=2.4, turn=95)):
            table = lay(table, drawn_card(A6), pose.homography(A6))
        assert isinstance(glance(photo_of(table)).trouble, TwoCards)


class TestPixels:
    """The frame may be small, as long as the photo that the shutter takes is large enough."""

    def test_what_is_too_far_depends_on_the_photo_that_the_shutter_takes(self) -> None:
        frame = frame_with(Pose(scale=1.2))  # patches of 15 mm: 18 px in the frame, 36 in the photo
        assert glance(frame, 4032).usable
        assert glance(frame, 1000).too_far
        assert glance(frame, None).too_far

    @pytest.mark.parametrize("scale", [1.2, 1.6, 2.4, 4.0])
    def test_a_sharp_card_is_not_called_blurred_however_small_it_is(self, scale: float) -> None:
        assert not glance(frame_with(Pose(scale=scale), blur=0.5)).blurred

    @pytest.mark.parametrize("scale", [1.6, 2.4, 4.0])
    def test_a_blur_that_no_photo_could_be_measured_with_is_told(self, scale: float) -> None:
        assert glance(frame_with(Pose(scale=scale), blur=0.9 * scale)).blurred  # the limit is 0.6 mm


class TestGlare:
    def test_a_mirrored_lamp_is_glare_and_its_place_is_told(self) -> None:
        seen = glance(with_light(frame_with(), 150, 100, 60))
        assert seen.glare.places == ("upper left",)
        assert seen.glare.clipped_place == "upper left"
        assert seen.glare.clipped_share == pytest.approx(3600 / 750_000, rel=0.02)
        assert seen.usable

    def test_a_lamp_mirrored_in_the_card_is_glare_too(self) -> None:
        assert glance(with_light(frame_with(), 520, 375, 45)).glare.places == ("middle",)

    def test_white_paper_beside_the_card_is_none(self) -> None:
        assert glance(with_light(frame_with(), 150, 100, 120, (240, 240, 240))).glare.places == ()

    def test_a_print_that_is_clipped_in_one_channel_is_none(self) -> None:
        seen = glance(with_light(frame_with(), 150, 100, 120, (255, 225, 40)))
        assert seen.glare.places == ()
        assert seen.glare.clipped_share > 0.01

    def test_a_glint_smaller_than_a_twentieth_of_a_magnet_is_none(self) -> None:
        assert glance(with_light(frame_with(), 150, 100, 20)).glare.places == ()  # 8 mm

    def test_in_a_frame_whose_white_is_burnt_out_nobody_can_tell(self) -> None:
        seen = glance(with_light(brighter(frame_with(), 1.3), 150, 100, 120))
        assert seen.glare.burnt_out
        assert seen.glare.places is None
