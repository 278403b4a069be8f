"""Photos that cannot be judged: each gets its code, its advice, and what was found until then."""

from dataclasses import replace

import numpy as np
import pytest

from dyecast_calibration.card_layout import layout_named
from dyecast_calibration.grading_limits import grading_limits
from dyecast_inspect import pipeline
from dyecast_inspect.inspection import Verdict
from dyecast_inspect.photo_checks import check_card, check_piece, check_registration
from dyecast_inspect.pipeline import inspect_photo, measure_photo
from dyecast_inspect.trail import MeasuredPhoto
from dyecast_shared.errors import ColourUncertain, PieceClipped, PieceHidden, PieceNotFound, Retake
from inspected_scenes import SeenPieces
from scenes.artworks import artwork

REFUSED = {
    "blurred": "photo-blurred",
    "overexposed": "photo-overexposed",
    "underexposed": "photo-underexposed",
    "card_cut": "card-clipped",
    "piece_cut": "piece-clipped",
    "no_card": "card-not-found",
    "no_piece": "piece-not-found",
    "glare_over_piece": "piece-hidden",
    "two_cards": "two-cards",
}

LIMITS = grading_limits()


def measured(seen: SeenPieces) -> MeasuredPhoto:
    good = seen["good"]
    return measure_photo(good.path, good.artwork)


@pytest.mark.parametrize(("fault", "code"), REFUSED.items())
def test_a_spoiled_photo_is_to_be_taken_again_for_its_own_reason(
    seen: SeenPieces, fault: str, code: str
) -> None:
    inspection = seen[fault].inspection
    assert inspection.verdict is Verdict.RETAKE
    assert [reason.code for reason in inspection.reasons] == [code]


@pytest.mark.parametrize("fault", REFUSED)
def test_a_refusal_says_what_to_do_and_grades_nothing(seen: SeenPieces, fault: str) -> None:
    inspection = seen[fault].inspection
    assert all(advice.sentence.endswith(".") for advice in inspection.advice)
    assert len(inspection.advice) == 1
    assert not inspection.probabilities
    assert inspection.features is None
    assert inspection.delta_e_2000 is None


@pytest.mark.parametrize("fault", ["no_piece", "piece_cut", "glare_over_piece"])
def test_a_refusal_still_tells_where_the_card_was(seen: SeenPieces, fault: str) -> None:
    card, truth = seen[fault].inspection.card, seen[fault].truth
    assert card is not None
    assert truth.card_corners is not None
    assert np.linalg.norm(card.corners_px - truth.card_corners, axis=1).max() < 0.5 * card.pixels_per_mm


@pytest.mark.parametrize("fault", ["no_card", "blurred"])
def test_a_photo_without_a_readable_card_tells_of_none(seen: SeenPieces, fault: str) -> None:
    assert seen[fault].inspection.card is None
    assert seen[fault].inspection.piece is None


def test_the_wrong_artwork_is_not_found(seen: SeenPieces) -> None:
    wrong = seen.artwork("wrong", artwork("landscape", 5, 480, 480))
    inspection = inspect_photo(seen["good"].path, wrong)
    assert [reason.code for reason in inspection.reasons] == ["piece-not-found"]
    assert inspection.card is not None


def test_a_refused_photo_cannot_be_an_approved_piece(seen: SeenPieces) -> None:
    with pytest.raises(Retake):
        measure_photo(seen["no_piece"].path, seen["good"].artwork)


@pytest.mark.parametrize(("rows", "words"), [(slice(0, 0.6), "at the top"), (slice(0.4, 1), "at the bottom")])
def test_a_piece_hidden_for_the_most_part_is_refused_with_the_place_in_words(
    seen: SeenPieces, rows: slice, words: str
) -> None:
    whole = measured(seen)
    judged = whole.explained.judged.copy()
    height = len(judged)
    judged[round(rows.start * height) : round(rows.stop * height)] = False
    covered = replace(whole.explained, judged=judged, hidden_ink=0.6)
    with pytest.raises(PieceHidden, match=rf"hides 60 % of the print, mostly {words}"):
        check_piece(whole.card, whole.correction, whole.registration, covered, LIMITS)


def test_something_that_agrees_with_no_pressing_is_refused(seen: SeenPieces) -> None:
    whole = measured(seen)
    strange = replace(whole.explained.fit, agreement=np.full_like(whole.explained.fit.agreement, 0.1))
    with pytest.raises(PieceHidden, match="does not look like any pressing"):
        check_piece(
            whole.card, whole.correction, whole.registration, replace(whole.explained, fit=strange), LIMITS
        )


def test_a_weak_likeness_is_no_piece_and_no_candidate_is_none_either(seen: SeenPieces) -> None:
    whole = measured(seen)
    weak = replace(whole.registration, correlation=LIMITS.least_registration - 0.01)
    for registration in (weak, None):
        with pytest.raises(PieceNotFound):
            check_registration(whole.photo, whole.card, whole.correction, registration, LIMITS)


def test_a_print_that_reaches_out_of_the_photo_is_clipped(seen: SeenPieces) -> None:
    whole = measured(seen)
    shift = np.array([[1.0, 0.0, -float(whole.photo.pixels.shape[1])], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]])
    aside = replace(whole.registration, artwork_to_photo=shift @ whole.registration.artwork_to_photo)
    with pytest.raises(PieceClipped):
        check_registration(whole.photo, whole.card, whole.correction, aside, LIMITS)


def test_a_card_whose_own_colours_cannot_be_foretold_is_refused(seen: SeenPieces) -> None:
    whole = measured(seen)
    poor = replace(whole.correction, leave_one_out_mean=LIMITS.most_card_error + 0.1)
    check_card(whole.photo, whole.correction, LIMITS)
    with pytest.raises(ColourUncertain, match=f"{LIMITS.most_card_error:.1f} is the limit"):
        check_card(whole.photo, poor, LIMITS)


def test_a_photo_refused_for_its_cards_colours_still_tells_where_the_piece_lies(
    seen: SeenPieces, monkeypatch: pytest.MonkeyPatch
) -> None:
    strict = replace(LIMITS, most_card_error=0.01)
    monkeypatch.setattr(pipeline, "grading_limits", lambda: strict)
    inspection = inspect_photo(seen["good"].path, seen["good"].artwork)
    assert [reason.code for reason in inspection.reasons] == ["colour-uncertain"]
    assert inspection.piece is not None


def test_a_card_that_was_not_asked_for_is_not_used(seen: SeenPieces) -> None:
    good = seen["good"]
    inspection = inspect_photo(good.path, good.artwork, layouts=[layout_named("pocket")])
    assert [reason.code for reason in inspection.reasons] == ["card-not-found"]
