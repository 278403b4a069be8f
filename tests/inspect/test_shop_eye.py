"""The shop's own eye: a few pieces that a person judged move the limits to where this shop's lie."""

from dataclasses import asdict
from math import exp, log

import numpy as np
import pytest

from dyecast_calibration.grader_model import trained_grader
from dyecast_calibration.shop_profile import APPROVED, LABELLED, ColourPair, ShopPiece, ShopProfile
from dyecast_inspect.approved_look import approved_look
from dyecast_inspect.grade import grade_by_signs
from dyecast_inspect.inspection import Verdict
from dyecast_inspect.shop_eye import ShopShift, in_this_shop, learned_shift, shop_eye
from dyecast_inspect.shop_words import shop_sentences
from signs_of_pieces import signs_with

GRADER = trained_grader()
USUAL_INK = exp(GRADER.good_centre["ink"])


def piece(fraction: float, grade: str, kind: str = LABELLED, *colours: ColourPair) -> ShopPiece:
    signs = asdict(signs_with(fraction))
    return ShopPiece(0, "2026-11-25", "photo.jpg", "artwork.png", kind, grade, "measured", signs, colours)


def taught(*pieces: ShopPiece) -> ShopProfile:
    profile = ShopProfile()
    for each in pieces:
        profile = profile.with_piece(each)
    return profile


def test_without_pieces_nothing_moves() -> None:
    assert shop_eye(ShopProfile(), GRADER) is None
    assert learned_shift(ShopProfile(), GRADER) == ShopShift()


def test_a_blank_that_takes_less_ink_is_learned_from_its_approved_pieces() -> None:
    """Ten approved pieces carry 12 % less ink than pieces elsewhere: here that is good."""
    best = 0.88 * USUAL_INK
    shift = learned_shift(taught(*[piece(best, "good", APPROVED)] * 10), GRADER)
    assert shift.ink == pytest.approx(log(0.88), abs=0.03)
    assert grade_by_signs(in_this_shop(signs_with(best), shift), GRADER).verdict is Verdict.GOOD
    assert grade_by_signs(in_this_shop(signs_with(0.6), shift), GRADER).verdict is Verdict.UNDER_PRESSED


def test_usual_approved_pieces_move_nothing_and_the_list_says_so() -> None:
    profile = taught(*[piece(USUAL_INK, "good", APPROVED)] * 5)
    assert learned_shift(profile, GRADER) == ShopShift()
    assert any("no limit moved" in sentence for sentence in shop_sentences(profile, GRADER))


def test_labels_move_the_limit_between_what_was_called_pale_and_good() -> None:
    labels = [piece(0.82, "good"), piece(0.84, "good"), piece(0.83, "good"), piece(0.6, "under-pressed")]
    shift = learned_shift(taught(*labels), GRADER)
    assert shift.ink < -0.02
    before = grade_by_signs(signs_with(0.83), GRADER).probabilities["good"]
    assert grade_by_signs(in_this_shop(signs_with(0.83), shift), GRADER).probabilities["good"] > before


def test_one_odd_label_among_usual_ones_does_not_make_a_shop_unusual() -> None:
    """Without doubt about the shop, the odd label alone would move the ink by five percent."""
    usual = [
        piece(1.0, "good"),
        piece(0.97, "good"),
        piece(0.6, "under-pressed"),
        piece(0.7, "under-pressed"),
    ]
    assert learned_shift(taught(*usual, piece(0.85, "good")), GRADER) == ShopShift()
    unusual = [piece(0.84, "good")] * 6
    assert learned_shift(taught(*usual[2:], *unusual), GRADER).ink < -0.04


def test_labels_of_one_grade_alone_move_nothing_and_the_list_says_why() -> None:
    profile = taught(*[piece(0.85, "under-pressed")] * 4)
    assert learned_shift(profile, GRADER) == ShopShift()
    assert any("kept, and count as soon as" in sentence for sentence in shop_sentences(profile, GRADER))


def test_the_approved_look_expects_the_offset_that_good_pieces_showed() -> None:
    """A home-printed card that reads 3 too light reads every piece 3 too light: here that is the look."""
    dark, light = (20.0, 5.0, -10.0), (80.0, 0.0, 10.0)
    lighter = [ColourPair(lab, (lab[0] + 3.0, lab[1], lab[2])) for lab in (dark, light)]
    look = approved_look(taught(*[piece(1.0, "good", APPROVED, *lighter)] * 4))
    assert look is not None
    expected = look.expected_lab(np.array([dark, light], np.float32))
    assert expected[:, 0] == pytest.approx([23.0, 83.0], abs=0.3)
    assert look.spread < 0.3


def test_a_colour_far_from_all_seen_is_expected_as_the_artwork_has_it() -> None:
    look = approved_look(
        taught(piece(1.0, "good", APPROVED, ColourPair((20.0, 5.0, -10.0), (26.0, 5.0, -10.0))))
    )
    assert look is not None
    far = np.array([[90.0, -60.0, 80.0]], np.float32)
    assert look.expected_lab(far) == pytest.approx(far, abs=0.05)


def test_what_was_learned_is_told_in_words() -> None:
    sentences = shop_sentences(taught(*[piece(0.85 * USUAL_INK, "good", APPROVED)] * 5), GRADER)
    assert any("less ink than elsewhere" in sentence for sentence in sentences)
    assert shop_sentences(ShopProfile(), GRADER)[0].startswith("Nothing was taught yet")
