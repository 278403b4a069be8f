"""Finding the print beside the card, and laying the artwork over it, without the rest of an inspection."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dyecast_calibration.grading_limits import grading_limits
from dyecast_inspect.find_piece import PieceCandidate, find_piece
from dyecast_inspect.register_piece import Registration, register_best, register_piece
from laid_piece import Laid, LaidPiece, artwork_of, lay
from scenes.artworks import ARTWORKS

LEAST_LIKENESS = grading_limits().least_registration

WORST_MM = 0.15
"""A clean print lies within this: just over half a pixel of these photos."""

HARD_MM = 0.5
"""What the benchmark counts as registered."""


def registered(laid: LaidPiece) -> Registration:
    registration = register_best(laid.photo, find_piece(laid.photo, laid.card, laid.artwork), laid.artwork)
    assert registration is not None
    return registration


@pytest.mark.parametrize("turn", [0, 90, 180, 270])
@pytest.mark.parametrize("mirrored", [False, True])
def test_a_print_is_found_however_it_lies(turn: float, mirrored: bool) -> None:
    laid = lay(Laid(turn=turn + 7, mirrored=mirrored))
    registration = registered(laid)
    assert registration.mirrored is mirrored
    assert laid.error_mm(registration) < WORST_MM


@pytest.mark.parametrize("drawing", ARTWORKS)
def test_every_kind_of_drawing_is_laid_over_its_print(drawing: str) -> None:
    laid = lay(Laid(drawing, turn=-12))
    assert laid.error_mm(registered(laid)) < WORST_MM


@pytest.mark.parametrize(
    "how",
    [
        pytest.param(Laid("tiles", ink=0.35), id="pale"),
        pytest.param(Laid("landscape", ink=0.35, turn=30), id="pale and sparse"),
        pytest.param(Laid("tiles", ink=0.4, mirrored=True), id="pale and mirrored"),
        pytest.param(Laid("landscape", stripes=((0.3, 0.9), (0.9, 0.9))), id="under striped glare"),
        pytest.param(Laid("plant", stripes=((0.5, 0.3),), ink=0.5), id="pale, under a weak stripe"),
        pytest.param(Laid("tiles", hidden=0.5), id="half hidden"),
        pytest.param(Laid("label", artwork_px=(320, 480), turn=90), id="oblong"),
    ],
)
def test_what_happened_to_the_print_does_not_move_it(how: Laid) -> None:
    laid = lay(how)
    registration = registered(laid)
    assert laid.error_mm(registration) < HARD_MM
    assert registration.correlation > LEAST_LIKENESS


@pytest.mark.parametrize("mirrored", [False, True])
def test_repeated_tiles_are_not_taken_for_their_mirror_image(mirrored: bool) -> None:
    laid = lay(Laid("tiles", mirrored=mirrored, ink=0.6, turn=45))
    assert registered(laid).mirrored is mirrored


def test_a_print_that_reaches_out_of_the_photo_still_resembles_its_artwork() -> None:
    laid = lay(Laid("tiles", x_mm=270.0))
    registration = registered(laid)
    assert registration.correlation > LEAST_LIKENESS
    assert laid.error_mm(registration) < WORST_MM


@pytest.mark.parametrize("drawing", ["plant", "night", "landscape"])
def test_another_artwork_does_not_resemble_what_lies_there(drawing: str) -> None:
    laid = lay(Laid("tiles"))
    other = artwork_of(drawing)
    registration = register_best(laid.photo, find_piece(laid.photo, laid.card, other), other)
    assert registration is None or registration.correlation < LEAST_LIKENESS


def test_on_an_empty_table_nothing_resembles_the_artwork() -> None:
    laid = lay(Laid(drawing=""))
    registration = register_best(laid.photo, find_piece(laid.photo, laid.card, laid.artwork), laid.artwork)
    assert registration is None or registration.correlation < LEAST_LIKENESS


def test_no_further_place_is_sought_once_one_is_beyond_doubt() -> None:
    laid = lay(Laid("plant"))
    asked: list[PieceCandidate] = []

    def told() -> Iterator[PieceCandidate]:
        for candidate in find_piece(laid.photo, laid.card, laid.artwork):
            asked.append(candidate)
            yield candidate

    assert register_best(laid.photo, told(), laid.artwork) is not None
    assert len(asked) == 1


def test_of_several_places_the_one_that_resembles_most_is_taken() -> None:
    laid = lay(Laid("landscape"))
    right = PieceCandidate(laid.unit_to_photo, mirrored=False, agreeing=0)
    aside = replace(
        right, artwork_to_photo=np.array([[1, 0, 90], [0, 1, 60], [0, 0, 1]]) @ laid.unit_to_photo
    )
    registration = register_best(laid.photo, [aside, right, aside], laid.artwork)
    assert registration is not None
    assert laid.error_mm(registration) < WORST_MM


def test_without_candidates_there_is_no_registration() -> None:
    laid = lay(Laid("plant"))
    assert register_best(laid.photo, (), laid.artwork) is None


@settings(max_examples=15)
@given(
    shift=st.tuples(st.floats(-1.5, 1.5), st.floats(-1.5, 1.5)),
    scale=st.floats(0.985, 1.015),
)
def test_a_rough_start_ends_at_the_same_place(shift: tuple[float, float], scale: float) -> None:
    laid = SHARED
    to_card = np.linalg.inv(laid.card.card_to_photo) @ laid.unit_to_photo
    rough = np.array([[scale, 0, shift[0]], [0, scale, shift[1]], [0, 0, 1]])
    about = np.eye(3)
    about[:2, 2] = to_card[:2] @ [0.5, 0.5, 1.0]
    start = laid.card.card_to_photo @ about @ rough @ np.linalg.inv(about) @ to_card
    registration = register_piece(laid.photo, PieceCandidate(start, mirrored=False, agreeing=0), laid.artwork)
    assert laid.error_mm(registration) < WORST_MM


def test_where_nothing_agrees_the_uncertainty_says_so() -> None:
    candidate = PieceCandidate(SHARED.unit_to_photo, mirrored=False, agreeing=0)
    right = register_piece(SHARED.photo, candidate, SHARED.artwork)
    wrong = register_piece(SHARED.photo, candidate, artwork_of("label"))
    assert wrong.uncertainty_px > 3 * right.uncertainty_px


SHARED = lay(Laid("landscape", turn=10))
