"""A phone photo goes in, a verdict comes out: the whole chain on made photos whose truth is known."""

import numpy as np
import pytest

from dyecast_calibration.card_layout import layout_named
from dyecast_inspect.approved_piece import compare_with_approved
from dyecast_inspect.inspection import Verdict
from dyecast_inspect.pipeline import inspect_photo, measure_approved
from dyecast_shared.delta_e import delta_e_2000
from dyecast_shared.encodings import srgb8_to_lab
from made_pieces import NIGHT, Made, made, piece, plain_scene, spoiled
from scenes.spoiling import SpoiledKind

RIGHT_ANSWERS = {0.6: Verdict.UNDER_PRESSED, 1.0: Verdict.GOOD, 1.6: Verdict.OVER_PRESSED}


def corner_error_mm(answer: Made) -> float:
    assert answer.inspection.piece is not None
    assert answer.truth.artwork_corners is not None
    error = np.linalg.norm(answer.inspection.piece.corners_px - answer.truth.artwork_corners, axis=1)
    return float(error.max() / answer.truth.pixels_per_mm)


@pytest.mark.parametrize("dose", RIGHT_ANSWERS)
def test_a_clearly_pressed_piece_gets_its_verdict(dose: float) -> None:
    inspection = piece(dose).inspection
    assert inspection.verdict is RIGHT_ANSWERS[dose]
    assert inspection.confidence == pytest.approx(max(inspection.probabilities.values()))
    assert sum(inspection.probabilities.values()) == pytest.approx(1.0)
    assert inspection.reasons
    assert inspection.advice


@pytest.mark.parametrize("dose", RIGHT_ANSWERS)
def test_the_piece_is_found_to_half_a_millimetre_and_measured_in_size(dose: float) -> None:
    answer = piece(dose)
    assert corner_error_mm(answer) < 0.5
    assert answer.inspection.piece is not None
    assert answer.inspection.piece.width_mm == pytest.approx(100.0, rel=0.02)


@pytest.mark.parametrize("dose", RIGHT_ANSWERS)
def test_the_piece_s_colours_come_out_to_three_in_spite_of_glass_and_lamp(dose: float) -> None:
    answer = piece(dose)
    assert answer.inspection.pictures is not None
    pictures = answer.inspection.pictures
    true_lab = answer.truth.reference_lab
    assert true_lab is not None
    rows = np.linspace(0, true_lab.shape[0] - 1, pictures.piece.shape[0]).round().astype(int)
    columns = np.linspace(0, true_lab.shape[1] - 1, pictures.piece.shape[1]).round().astype(int)
    error = delta_e_2000(srgb8_to_lab(pictures.piece), true_lab[np.ix_(rows, columns)])
    assert float(np.median(error[pictures.judged])) < 3.0


def test_how_much_ink_arrived_is_told_with_an_uncertainty_that_holds() -> None:
    features = piece(0.6).inspection.features
    assert features is not None
    told = features.transferred_fraction
    assert abs(told.value - 0.6) < 2.0 * told.uncertainty


@pytest.mark.parametrize(
    ("kind", "code"),
    [
        ("blurred", "photo-blurred"),
        ("overexposed", "photo-overexposed"),
        ("underexposed", "photo-underexposed"),
        ("card_cut", "card-clipped"),
        ("piece_cut", "piece-clipped"),
        ("no_card", "card-not-found"),
        ("no_piece", "piece-not-found"),
        ("two_cards", "two-cards"),
    ],
)
def test_a_photo_that_cannot_be_judged_is_sent_back_with_its_reason(kind: SpoiledKind, code: str) -> None:
    inspection = spoiled(kind).inspection
    assert inspection.verdict is Verdict.RETAKE
    assert [reason.code for reason in inspection.reasons] == [code]
    assert inspection.advice[0].sentence
    assert inspection.delta_e_2000 is None


def test_a_refused_photo_still_tells_where_the_card_was() -> None:
    card, true_corners = spoiled("no_piece").inspection.card, spoiled("no_piece").truth.card_corners
    assert card is not None
    assert true_corners is not None
    error = np.linalg.norm(card.corners_px - true_corners, axis=1)
    assert error.max() < 1.0


def test_another_artwork_is_not_taken_for_the_piece() -> None:
    answer = made("wrong-artwork", plain_scene(1.0), NIGHT)
    assert [reason.code for reason in answer.inspection.reasons] == ["piece-not-found"]


@pytest.mark.parametrize("turn", [90.0, 180.0, 270.0])
def test_the_piece_may_lie_in_any_direction(turn: float) -> None:
    answer = made(f"turned-{turn}", plain_scene(1.0, rotation_deg=turn))
    assert answer.inspection.verdict is Verdict.GOOD
    assert corner_error_mm(answer) < 0.5


def test_a_mirrored_print_is_named_with_what_to_check() -> None:
    answer = made("mirrored", plain_scene(1.0, mirrored=True))
    assert answer.inspection.piece is not None
    assert answer.inspection.piece.mirrored
    assert "mirrored-print" in [reason.code for reason in answer.inspection.reasons]
    assert "check-mirroring" in [advice.code for advice in answer.inspection.advice]


def test_the_table_around_a_round_piece_is_not_judged() -> None:
    pictures = made("round", plain_scene(1.0, shape="round")).inspection.pictures
    assert pictures is not None
    assert pictures.judged.mean() < np.pi / 4 + 0.02
    assert not pictures.judged[:5, :5].any()


def test_an_approved_piece_is_closer_to_its_like_than_a_pale_one_is() -> None:
    good, pale = piece(1.0), piece(0.6)
    approved = measure_approved(good.photo, good.artwork)
    alike = compare_with_approved(approved.explained, approved)
    beside = inspect_photo(pale.photo, pale.artwork, approved=approved)
    assert alike.median == pytest.approx(0.0, abs=1e-6)
    assert beside.delta_e_2000_approved is not None
    assert beside.delta_e_2000_approved.median > 5.0


def test_each_stage_is_announced_as_it_begins() -> None:
    told: list[str] = []
    inspect_photo(piece(1.0).photo, piece(1.0).artwork, progress=told.append)
    assert told[0] == "reading the photo"
    assert told[-1] == "comparing and grading"


def test_a_card_that_was_not_asked_for_is_not_used() -> None:
    good = piece(1.0)
    inspection = inspect_photo(good.photo, good.artwork, layouts=[layout_named("pocket")])
    assert [reason.code for reason in inspection.reasons] == ["card-not-found"]
