"""Measured beside intended: equal is nothing, a shift is that shift, and softness alone counts little."""

from dataclasses import replace

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from dyecast_calibration.pressing_model import bands_from_xyz
from dyecast_inspect.approved_piece import ApprovedPiece, compare_with_approved
from dyecast_inspect.compare import compare, compare_regions, photo_blur_px
from dyecast_inspect.explain_surface import ExplainedPiece, hidden_ink_share
from dyecast_inspect.fit_pressing import BLUR, PressingFit
from dyecast_inspect.hidden_place import where_hidden
from dyecast_inspect.intended_ink import IntendedInk
from dyecast_inspect.main_colours import LEAST_SHARE, MOST_COLOURS, colour_name, main_colours
from dyecast_shared.cielab import lab_to_xyz
from dyecast_shared.delta_e import delta_e_2000

Picture = NDArray[np.float32]
WHITE, RED, BLUE, GREEN = (95.0, 0.0, 2.0), (50.0, 60.0, 40.0), (30.0, 5.0, -45.0), (55.0, -45.0, 30.0)


def quarters() -> Picture:
    """A picture of white, red, blue and green, XYZ D50, 96 x 96."""
    lab = np.empty((96, 96, 3), np.float32)
    lab[:48, :48], lab[:48, 48:], lab[48:, :48], lab[48:, 48:] = WHITE, RED, BLUE, GREEN
    return np.asarray(lab_to_xyz(lab), np.float32)


def piece_of(xyz: Picture, *, blur_px: float = 0.0) -> ExplainedPiece:
    """A piece that shows a picture, judged everywhere, photographed with a blur."""
    height, width = xyz.shape[:2]
    parameters = np.zeros(17)
    parameters[BLUR] = blur_px**2
    fit = PressingFit(parameters, np.eye(17), bands_from_xyz(xyz), np.ones((height, width), np.float32), 0.01)
    everywhere = np.ones((height, width), bool)
    return ExplainedPiece(bands_from_xyz(xyz), everywhere, everywhere, fit)


def flat(lab: tuple[float, float, float]) -> Picture:
    return np.broadcast_to(lab_to_xyz(np.array(lab)), (64, 64, 3)).astype(np.float32)


def test_the_same_picture_differs_by_nothing() -> None:
    comparison = compare(piece_of(quarters()), quarters())
    assert comparison.summary.p95 < 0.05


@pytest.mark.parametrize("shift", [(3.0, 0.0, 0.0), (0.0, 4.0, 0.0), (-2.0, 1.0, 5.0)])
def test_a_shift_everywhere_is_the_ciede2000_of_that_shift(shift: tuple[float, float, float]) -> None:
    intended = (55.0, 20.0, -15.0)
    measured = tuple(np.add(intended, shift).tolist())
    summary = compare(piece_of(flat((measured[0], measured[1], measured[2]))), flat(intended)).summary
    expected = float(delta_e_2000(np.array(intended), np.array(measured)))
    assert (summary.mean, summary.median, summary.p95) == pytest.approx((expected,) * 3, abs=0.03)


def test_a_softer_photo_alone_hardly_counts() -> None:
    soft = np.asarray(cv2.GaussianBlur(quarters(), (0, 0), 2.0), np.float32)
    known = compare(piece_of(soft, blur_px=2.0), quarters()).summary
    ignored = compare(piece_of(soft), quarters()).summary
    assert known.p95 < 0.3
    assert ignored.p95 > 4.0 * known.p95


def test_a_blur_is_told_in_the_pixels_in_which_pieces_are_compared() -> None:
    piece = piece_of(quarters(), blur_px=1.5)
    coarse = replace(piece.fit, agreement=piece.fit.agreement[::2, ::2])
    assert photo_blur_px(piece) == pytest.approx(1.5)
    assert photo_blur_px(replace(piece, fit=coarse)) == pytest.approx(3.0)


def test_what_was_not_judged_does_not_count_and_is_marked() -> None:
    spoiled = quarters()
    spoiled[:20, :20] = 3.0
    piece = piece_of(spoiled)
    judged = piece.judged.copy()
    judged[:20, :20] = False
    comparison = compare(replace(piece, judged=judged), quarters())
    assert np.array_equal(np.isnan(comparison.delta_e_map), ~judged)
    assert comparison.summary.p95 < 0.1


def test_main_colours_are_named_with_their_share_and_their_difference() -> None:
    paler = quarters()
    paler[:48, 48:] = lab_to_xyz(np.array((58.0, 45.0, 30.0)))
    piece = piece_of(paler)
    regions = compare_regions(compare(piece, quarters()), piece.judged)
    by_name = {region.name: region for region in regions}
    assert {"white", "red", "dark blue", "green"} <= set(by_name)
    assert sum(region.area_share for region in regions) <= 1.0 + 1e-9
    assert [region.area_share for region in regions] == sorted(
        (region.area_share for region in regions), reverse=True
    )
    assert by_name["red"].delta_lightness == pytest.approx(8.0, abs=1.0)
    assert by_name["red"].delta_chroma < -12.0
    assert by_name["green"].delta_e_2000 < 0.5


def test_there_are_few_main_colours_and_no_tiny_ones() -> None:
    lab = np.random.default_rng(3).uniform((10, -60, -60), (90, 60, 60), (40, 40, 3)).astype(np.float32)
    colours = main_colours(lab, np.ones((40, 40), bool))
    assert 1 < len(colours) <= MOST_COLOURS
    assert all(colour.share >= LEAST_SHARE for colour in colours)
    assert not any((one.mask & other.mask).any() for one in colours for other in colours if one is not other)


def test_the_same_picture_gives_the_same_main_colours() -> None:
    lab = np.random.default_rng(3).uniform((10, -60, -60), (90, 60, 60), (40, 40, 3)).astype(np.float32)
    first, second = (main_colours(lab, np.ones((40, 40), bool)) for _ in range(2))
    assert [(c.name, c.share) for c in first] == [(c.name, c.share) for c in second]


def test_a_picture_of_hardly_any_pixels_has_no_main_colours() -> None:
    assert main_colours(np.zeros((1, 3, 3), np.float32), np.ones((1, 3), bool)) == ()


@pytest.mark.parametrize(
    ("lab", "name"),
    [
        ((97.0, 0.0, 0.0), "white"),
        ((10.0, 1.0, 1.0), "black"),
        ((50.0, 2.0, -2.0), "grey"),
        ((54.0, 81.0, 70.0), "red"),
        ((90.0, -5.0, 85.0), "light yellow"),
        ((30.0, 20.0, 25.0), "dark brown"),
        ((25.0, 10.0, -50.0), "dark blue"),
    ],
)
def test_colours_have_plain_names(lab: tuple[float, float, float], name: str) -> None:
    assert colour_name(np.array(lab)) == name


@pytest.mark.parametrize(
    ("rows", "columns", "words"),
    [
        (slice(0, 30), slice(0, 30), "at the top on the left"),
        (slice(34, 60), slice(34, 60), "in the middle"),
        (slice(70, 96), slice(70, 96), "at the bottom on the right"),
    ],
)
def test_a_hidden_place_is_told_in_words(rows: slice, columns: slice, words: str) -> None:
    piece = piece_of(quarters())
    judged = piece.judged.copy()
    judged[rows, columns] = False
    assert where_hidden(replace(piece, judged=judged)) == words


def test_the_hidden_share_is_that_of_the_face_not_of_the_frame() -> None:
    piece = piece_of(quarters())
    outline, judged = piece.outline.copy(), piece.judged.copy()
    outline[:, 48:], judged[:, 24:] = False, False
    assert replace(piece, outline=outline, judged=judged).hidden_share == pytest.approx(0.5)


def test_hidden_white_is_no_hidden_ink() -> None:
    amounts = np.zeros((20, 20, 3), np.float32)
    amounts[:10] = 0.5  # ink above, unprinted white below
    ink, everywhere = IntendedInk(amounts, amounts), np.ones((40, 40), bool)
    white_hidden, ink_hidden = everywhere.copy(), everywhere.copy()
    white_hidden[20:], ink_hidden[:10] = False, False
    assert hidden_ink_share(ink, everywhere, white_hidden) == pytest.approx(0.0, abs=1e-6)
    assert hidden_ink_share(ink, everywhere, ink_hidden) == pytest.approx(0.5, abs=1e-6)
    blank = IntendedInk(np.zeros_like(amounts), np.zeros_like(amounts))
    assert hidden_ink_share(blank, everywhere, white_hidden) == 0.0


def test_a_piece_differs_from_itself_as_the_approved_one_by_nothing() -> None:
    piece = piece_of(quarters())
    difference = compare_with_approved(piece, ApprovedPiece("approved.jpg", piece))
    assert difference.p95 == pytest.approx(0.0, abs=1e-4)


def test_an_approved_piece_of_another_size_and_colour_is_compared_all_the_same() -> None:
    intended, measured = (55.0, 20.0, -15.0), (58.0, 20.0, -15.0)
    large = np.broadcast_to(flat(intended)[0, 0], (200, 200, 3)).astype(np.float32)
    difference = compare_with_approved(piece_of(flat(measured)), ApprovedPiece("a.jpg", piece_of(large)))
    expected = float(delta_e_2000(np.array(intended), np.array(measured)))
    assert difference.median == pytest.approx(expected, abs=0.03)


def test_pieces_that_share_no_judged_place_cannot_be_compared() -> None:
    piece = piece_of(quarters())
    upper = np.zeros_like(piece.judged)
    upper[:48] = True
    approved = ApprovedPiece("a.jpg", replace(piece, judged=upper))
    assert np.isnan(compare_with_approved(replace(piece, judged=~upper), approved).median)
