"""Verdicts and figures in words."""

import math

import pytest

from api.inspections import features, good, over_pressed
from dyecast_api.plain_words import (
    check_words,
    confidence_words,
    estimate_words,
    feature_lines,
    number_words,
    odds_words,
    percent_words,
    signed_words,
)
from dyecast_inspect.inspection import Estimate, PhotoCheck


def test_a_negative_number_has_a_true_minus_sign_and_zero_has_none() -> None:
    assert number_words(-2.34) == "−2.3"
    assert number_words(-0.04) == "0.0"


def test_a_difference_shows_its_sign_except_for_zero() -> None:
    assert [signed_words(value) for value in (2.04, -2.04, 0.01)] == ["+2.0", "−2.0", "0.0"]


def test_what_was_not_measured_is_said_so_and_never_nan() -> None:
    assert number_words(math.nan) == "not measured"
    assert signed_words(math.inf) == "not measured"
    assert percent_words(math.nan) == "not measured"
    assert estimate_words("veil", Estimate(math.nan, 0.1)) == "not measured"


@pytest.mark.parametrize(
    ("name", "estimate", "words"),
    [
        ("transferred_fraction", Estimate(0.62, 0.04), "62 ± 4 %"),
        ("veil", Estimate(0.0213, 0.0042), "2.1 ± 0.4 %"),
        ("detail_loss", Estimate(0.052, 0.031, "mm"), "0.05 ± 0.03 mm"),
        ("coating_yellowing", Estimate(-0.31, 0.6), "−0.3 ± 0.6"),
        ("warmth_of_darks", Estimate(1.44, math.nan), "1.4"),
    ],
)
def test_a_figure_has_as_many_decimals_as_its_uncertainty_deserves(
    name: str, estimate: Estimate, words: str
) -> None:
    assert estimate_words(name, estimate) == words


def test_every_feature_is_told_with_its_plain_name_and_what_it_is() -> None:
    lines = feature_lines(features())
    assert [line.name for line in lines][:2] == ["Ink that arrived", "Veil of mirrored light"]
    assert all(line.figure and line.meaning for line in lines)


def test_confidence_is_said_in_percent() -> None:
    assert confidence_words(good()) == "97 % sure"


def test_near_a_limit_the_runner_up_is_named() -> None:
    assert confidence_words(over_pressed()) == "61 % sure; close to the limit, could also be good (39 %)"


def test_certainty_is_never_claimed() -> None:
    assert confidence_words(good(confidence=1.0)) == "more than 99 % sure"
    assert confidence_words(good(confidence=math.nan)) == "confidence not known"


@pytest.mark.parametrize(
    ("check", "words"),
    [
        (PhotoCheck("sharpness", 0.1014, 0.6, "mm of blur", True, ""), "0.1 mm of blur, at most 0.6"),
        (PhotoCheck("card-colours", 0.847, 3.0, "CIEDE2000", True, ""), "ΔE00 0.85, at most 3"),
        (PhotoCheck("hidden", 0.031, 0.45, "share of the ink", True, ""), "3 % of the ink, at most 45 %"),
        (PhotoCheck("match", 0.42, 0.5, "correlation", False, "", True), "correlation 0.42, at least 0.5"),
        (PhotoCheck("unknown", math.nan, 120.0, "px", False, ""), "not measured, at most 120"),
    ],
)
def test_a_check_reads_as_a_figure_beside_its_limit(check: PhotoCheck, words: str) -> None:
    assert check_words(check) == words


def test_the_odds_never_claim_certainty() -> None:
    assert [odds_words(share) for share in (0.9997, 0.62, 0.0)] == ["over 99 %", "62 %", "under 1 %"]


def test_brown_darks_are_not_held_against_a_pale_piece() -> None:
    warmth = next(line for line in feature_lines(features()) if line.name == "Warmth of the darks")
    assert "pale darks always are" in warmth.meaning
