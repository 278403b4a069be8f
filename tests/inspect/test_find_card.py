"""Finding the reference card: where it lies to a fraction of a pixel, and when to ask for another photo."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from dyecast_calibration.card_layout import CardLayout, Marker, layout_named
from dyecast_inspect.card_plane import CardPlane, fit_card_plane, marker_points_mm, upward_direction
from dyecast_inspect.card_sighting import CardSighting, SeenMarker
from dyecast_inspect.find_card import find_card, find_cards
from dyecast_inspect.photo_sharpness import sharpest_edge_px
from dyecast_shared.errors import CardBent, CardClipped, CardNotFound, CardTooSmall, PhotoBlurred, TwoCards
from dyecast_shared.photo import Photo
from synthetic_card import (
    SIZE,
    Pose,
    carried,
    drawn_card,
    empty_table,
    lay,
    lay_curled,
    lay_through_lens,
    outline_mm,
    photo_from,
    photo_of,
    tilted_view,
)

A6 = layout_named("a6")
POCKET = layout_named("pocket")

MARKER_CELL_MM = 2.0
"""On the A6 card: 14 mm over seven cells."""


def photo_with(
    pose: Pose, layout: CardLayout = A6, *, hidden: tuple[int, ...] = (), blur: float = 0.7
) -> Photo:
    """Photograph one card in one pose."""
    return photo_of(lay(empty_table(), drawn_card(layout, hidden), pose.homography(layout)), blur=blur)


def corner_errors(sighting: CardSighting, pose: Pose) -> NDArray[np.float64]:
    """Distances of the card's corners from the truth, px."""
    truth = carried(pose.homography(sighting.layout), outline_mm(sighting.layout))
    return np.asarray(np.linalg.norm(sighting.corners_px - truth, axis=1))


def patch_errors(sighting: CardSighting, pose: Pose) -> NDArray[np.float64]:
    """Distances of the patch centres from the truth, px."""
    patches = np.array([[p.x + p.width / 2, p.y + p.height / 2] for p in sighting.layout.patches])
    truth = carried(pose.homography(sighting.layout), patches)
    return np.asarray(np.linalg.norm(carried(sighting.card_to_photo, patches) - truth, axis=1))


def with_marker_ids(layout: CardLayout, dictionary: str, first: int) -> CardLayout:
    """Return the same card with other markers."""
    markers = tuple(replace(marker, id=first + number) for number, marker in enumerate(layout.markers))
    return replace(layout, name="foreign", marker_dictionary=dictionary, markers=markers)


class TestWhereTheCardLies:
    @pytest.mark.parametrize("turn", [0, 33, 45, 90, 137, 180, 251, 300])
    def test_the_corners_are_found_at_any_turn_to_a_third_of_a_pixel(self, turn: float) -> None:
        pose = Pose(turn=turn, scale=3.6)
        sighting = find_card(photo_with(pose))
        assert sighting.layout.name == "a6"
        assert sighting.missing_markers == ()
        assert corner_errors(sighting, pose).max() < 0.3
        assert patch_errors(sighting, pose).max() < 0.15

    @pytest.mark.parametrize("blur", [0.3, 1.0, 2.0])
    def test_blur_does_not_move_the_corners(self, blur: float) -> None:
        pose = Pose(turn=12)
        assert corner_errors(find_card(photo_with(pose, blur=blur)), pose).max() < 0.3

    def test_corners_are_told_in_full_resolution_pixels(self) -> None:
        pose = Pose(turn=20)
        table = lay(empty_table(), drawn_card(A6), pose.homography(A6))
        truth = carried(pose.homography(A6), outline_mm(A6))
        halved = find_card(photo_of(table, scale=2.0))
        assert np.abs(halved.corners_px - ((truth + 0.5) * 2 - 0.5)).max() < 0.6

    def test_sixteen_bit_photos_are_read_like_eight_bit_ones(self) -> None:
        photo = photo_with(Pose(turn=5))
        deep = photo_from(photo.pixels.astype(np.uint16) * 257)
        assert find_card(deep).corners_px == pytest.approx(find_card(photo).corners_px, abs=0.01)

    def test_pixels_per_mm_and_residual_describe_the_sighting(self) -> None:
        sighting = find_card(photo_with(Pose(slant=(0.0, 0.0), scale=4.0)))
        assert sighting.pixels_per_mm == pytest.approx(4.0, rel=2e-3)
        assert sighting.residual_px < 0.15
        assert sighting.off_plane_mm < 0.1

    def test_a_lens_that_bends_lines_is_no_bent_card(self) -> None:
        pose = Pose(x=620, y=470, scale=3.6, turn=8)
        table = lay_through_lens(empty_table(), drawn_card(A6), pose.homography(A6), -0.02)
        sighting = find_card(photo_of(table))
        centre, half_diagonal = np.array([499.5, 374.5]), np.hypot(*SIZE) / 2
        straight = carried(pose.homography(A6), outline_mm(A6)) - centre
        square = (straight**2).sum(axis=1, keepdims=True) / half_diagonal**2
        truth = centre + straight * (1 - 0.02 * square)
        assert np.linalg.norm(sighting.corners_px - truth, axis=1).max() < 0.5
        assert sighting.off_plane_mm < 0.3

    def test_a_card_smaller_than_a_postcard_is_known_by_its_markers(self) -> None:
        pose = Pose(scale=6, turn=40)
        sighting = find_card(photo_with(pose, POCKET))
        assert sighting.layout.name == "pocket"
        assert corner_errors(sighting, pose).max() < 0.3


class TestHiddenMarkers:
    @pytest.mark.parametrize("hidden", [10, 12])
    def test_a_hidden_marker_is_named_and_the_patches_are_still_found(self, hidden: int) -> None:
        pose = Pose(turn=15)
        sighting = find_card(photo_with(pose, hidden=(hidden,)))
        assert sighting.missing_markers == (hidden,)
        assert patch_errors(sighting, pose).max() < 1.0

    def test_two_hidden_markers_are_too_many_and_the_seen_ones_are_named(self) -> None:
        with pytest.raises(CardNotFound, match=r"2 of the 4 markers .*number 11, 13\)") as caught:
            find_card(photo_with(Pose(), hidden=(10, 12)))
        assert "Uncover" in caught.value.advice

    def test_one_marker_left_is_named_too(self) -> None:
        with pytest.raises(CardNotFound, match="1 of the 4 markers"):
            find_card(photo_with(Pose(), hidden=(10, 12, 13)))


class TestMoreThanOneCard:
    def test_two_cards_of_one_kind_are_refused(self) -> None:
        table = empty_table()
        for pose in (Pose(x=250, scale=2.4, turn=80), Pose(x=740, scale=2.4, turn=95)):
            table = lay(table, drawn_card(A6), pose.homography(A6))
        with pytest.raises(TwoCards, match="'a6' and 'a6'"):
            find_card(photo_of(table))

    def test_two_kinds_of_card_are_refused_as_one_and_given_as_two(self) -> None:
        first, second = Pose(x=300, scale=3, turn=85), Pose(x=740, scale=4.5, turn=70)
        table = lay(empty_table(), drawn_card(A6), first.homography(A6))
        photo = photo_of(lay(table, drawn_card(POCKET), second.homography(POCKET)))
        with pytest.raises(TwoCards, match="'a6' and 'pocket'"):
            find_card(photo)
        sightings = find_cards(photo)
        assert [sighting.layout.name for sighting in sightings] == ["a6", "pocket"]
        for sighting, pose in zip(sightings, (first, second), strict=True):
            assert corner_errors(sighting, pose).max() < 0.3

    def test_a_card_that_cannot_be_measured_does_not_spoil_the_other(self) -> None:
        table = lay(empty_table(), drawn_card(A6), Pose(x=300, scale=3, turn=85).homography(A6))
        clipped = Pose(x=960, scale=4.5, turn=70)
        photo = photo_of(lay(table, drawn_card(POCKET), clipped.homography(POCKET)))
        assert [sighting.layout.name for sighting in find_cards(photo)] == ["a6"]

    @pytest.mark.parametrize("other", [A6, POCKET], ids=["of the same kind", "of another kind"])
    @pytest.mark.parametrize("left", [1, 2], ids="{} markers left".format)
    def test_a_second_card_is_told_by_the_part_that_is_seen(self, other: CardLayout, left: int) -> None:
        hidden = tuple(sorted(other.marker_ids()))[left:]
        table = lay(empty_table(), drawn_card(A6), Pose(x=300, scale=3, turn=85).homography(A6))
        second = Pose(x=740, scale=3.4, turn=70).homography(other)
        photo = photo_of(lay(table, drawn_card(other, hidden), second))
        with pytest.raises(TwoCards, match=f"part of another one, '{other.name}'"):
            find_card(photo)
        assert [sighting.layout.name for sighting in find_cards(photo)] == ["a6"]

    def test_the_part_of_a_card_that_nobody_asked_for_is_no_second_card(self) -> None:
        table = lay(empty_table(), drawn_card(A6), Pose(x=300, scale=3, turn=85).homography(A6))
        second = Pose(x=740, scale=3.4, turn=70).homography(POCKET)
        photo = photo_of(lay(table, drawn_card(POCKET, (20, 21)), second))
        assert find_card(photo, [A6]).layout.name == "a6"

    def test_a_marker_of_its_own_on_a_corner_bent_far_up_makes_no_second_card(self) -> None:
        far = tuple(
            replace(marker, x=marker.x + 9.0, y=marker.y - 9.0) if marker.id == 13 else marker
            for marker in A6.markers
        )
        bent = replace(A6, markers=far)
        photo = photo_of(lay(empty_table(), drawn_card(bent), Pose().homography(A6)))
        assert 13 in find_card(photo, [A6]).missing_markers

    def test_only_the_layouts_asked_for_are_looked_at(self) -> None:
        with pytest.raises(CardNotFound):
            find_card(photo_with(Pose()), [POCKET])


class TestNoCard:
    @pytest.mark.parametrize(("dictionary", "first"), [("DICT_4X4_50", 10), ("DICT_5X5_100", 40)])
    def test_markers_of_other_things_are_no_card(self, dictionary: str, first: int) -> None:
        foreign = with_marker_ids(A6, dictionary, first)
        with pytest.raises(CardNotFound):
            find_card(photo_with(Pose(turn=10), foreign))

    def test_an_empty_table_is_no_card_and_the_file_is_named(self) -> None:
        with pytest.raises(CardNotFound, match="No marker") as caught:
            find_card(photo_of(empty_table()))
        assert caught.value.file == "card.jpg"

    def test_a_mirrored_card_is_called_mirrored(self) -> None:
        photo = photo_with(Pose(turn=25))
        mirrored = photo_from(np.ascontiguousarray(photo.pixels[:, ::-1]).astype(np.uint8))
        with pytest.raises(CardNotFound, match="mirrored"):
            find_card(mirrored)

    def test_a_layout_file_of_ones_own_is_enough_to_find_another_card(self) -> None:
        own = with_marker_ids(A6, "DICT_4X4_50", 10)
        pose = Pose(turn=200)
        assert corner_errors(find_card(photo_with(pose, own), [own]), pose).max() < 0.3


class TestRefusals:
    @pytest.mark.parametrize(
        ("pose", "side"),
        [
            (Pose(x=800), "right"),
            (Pose(x=200), "left"),
            (Pose(y=610), "bottom"),
            (Pose(y=130), "top"),
            (Pose(x=930, y=600, turn=45), "bottom"),
        ],
    )
    def test_a_card_that_leaves_the_photo_is_refused_with_the_side(self, pose: Pose, side: str) -> None:
        with pytest.raises(CardClipped, match=f"beyond the {side} edge") as caught:
            find_card(photo_with(pose))
        assert "Step back" in caught.value.advice

    def test_a_blank_margin_that_is_cut_off_does_no_harm(self) -> None:
        pose = Pose(x=148 * 4 / 2 - 0.5 - 3 * 4, slant=(0.0, 0.0))
        sighting = find_card(photo_with(pose))
        assert sighting.corners_px[0, 0] < -10
        assert corner_errors(sighting, pose).max() < 0.3

    def test_a_card_that_curls_a_little_is_used_and_one_that_curls_much_is_refused(self) -> None:
        view = tilted_view(A6, tilt=35, turn=20)
        little = find_card(photo_of(lay_curled(empty_table(), drawn_card(A6), view, 1.5)))
        assert little.curl_mm == pytest.approx(1.5, abs=0.4)
        assert 0.1 < little.off_plane_mm < 1.0
        with pytest.raises(CardBent, match=r"lie \d\.\d mm .* at most 1\.5 mm"):
            find_card(photo_of(lay_curled(empty_table(), drawn_card(A6), view, 9.0)))

    def test_the_same_curl_seen_from_above_does_less_harm(self) -> None:
        above, aslant = tilted_view(A6, tilt=3, turn=20), tilted_view(A6, tilt=35, turn=20)
        seen = [
            find_card(photo_of(lay_curled(empty_table(), drawn_card(A6), view, 2.0))).off_plane_mm
            for view in (above, aslant)
        ]
        assert seen[0] < seen[1] / 2

    def test_blur_is_measured_as_it_is_and_refused_beyond_three_tenths_of_a_marker_cell(self) -> None:
        pose = Pose(turn=17, slant=(0.0, 0.0))
        cell_px = MARKER_CELL_MM * pose.scale
        usable = find_card(photo_with(pose, blur=0.25 * cell_px))
        assert usable.edge_width_px == pytest.approx(0.25 * cell_px, rel=0.08)
        with pytest.raises(PhotoBlurred, match=r"blurred by 0\.\d\d mm .* at most 0\.60 mm"):
            find_card(photo_with(pose, blur=0.36 * cell_px))

    def test_a_photo_too_blurred_to_read_any_marker_is_called_blurred_not_empty(self) -> None:
        with pytest.raises(PhotoBlurred, match="No marker can be read"):
            find_card(photo_with(Pose(), blur=9.0))

    def test_a_card_far_away_is_too_small(self) -> None:
        with pytest.raises(CardTooSmall, match=r"is 1\d pixels wide; 20 are needed"):
            find_card(photo_with(Pose(scale=1.15, slant=(0.0, 0.0)), blur=0.3))


class TestTheFittedCard:
    def test_curl_lens_and_growth_are_told_apart(self) -> None:
        """Corners of a card with known curl give the curl back; a flat card stays flat."""
        for curl in (np.array([1.5, 0.0, -0.3]), np.zeros(3)):
            truth = self.curled_card(curl)
            markers = [self.seen(truth, marker) for marker in A6.markers]
            fitted = fit_card_plane(A6, markers, SIZE)
            assert fitted.curl_mm == pytest.approx(curl, abs=0.15)
            assert fitted.growth_mm == pytest.approx(0.1, abs=0.02)
            grid = np.array([[x, y] for x in range(0, 149, 37) for y in range(0, 106, 35)], dtype=np.float64)
            assert fitted.to_photo(grid) == pytest.approx(truth.to_photo(grid), abs=0.1)

    @pytest.mark.parametrize("focal", [700.0, 900.0, 1500.0])
    def test_the_upward_direction_of_a_slanted_card_is_that_of_the_camera_that_took_it(
        self, focal: float
    ) -> None:
        view = tilted_view(A6, tilt=30, turn=25, focal=focal)
        assert upward_direction(view.homography, SIZE) == pytest.approx(view.upwards, rel=1e-6)

    def test_markers_that_lie_in_a_line_of_one_point_are_no_plane(self) -> None:
        nowhere = [SeenMarker("DICT_5X5_100", marker.id, np.zeros((4, 2)), 1.0) for marker in A6.markers]
        with pytest.raises(ValueError, match="plane"):
            fit_card_plane(A6, nowhere, SIZE)

    @staticmethod
    def curled_card(curl: NDArray[np.float64]) -> CardPlane:
        """Return a card seen slanted, its black squares 0.1 mm too large."""
        view = tilted_view(A6, tilt=35, turn=30)
        return CardPlane(view.homography, view.upwards, curl, 0.0, 0.1, (A6.width, A6.height), SIZE)

    @staticmethod
    def seen(card: CardPlane, marker: Marker) -> SeenMarker:
        """Return the marker exactly where this card shows it."""
        corners = card.to_photo(card.grown(marker_points_mm(A6, marker.id)))
        return SeenMarker("DICT_5X5_100", marker.id, corners, 1.0)


class TestSharpnessWithoutACard:
    @pytest.mark.parametrize("blur", [1.0, 2.0, 4.0])
    def test_the_sharpest_edges_tell_the_blur(self, blur: float) -> None:
        photo = photo_with(Pose(turn=9), blur=blur)
        width = sharpest_edge_px(np.ascontiguousarray(photo.pixels[..., 1].astype(np.uint8)))
        assert width == pytest.approx(blur, rel=0.3)

    def test_a_photo_without_edges_has_no_answer(self) -> None:
        assert sharpest_edge_px(np.full((300, 400), 128, dtype=np.uint8)) is None
