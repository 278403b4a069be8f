"""Training the grader: the same numbers in the file as in the library, and the promises it makes kept."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from dyecast_calibration.grader_model import GRADES, grader_from, trained_grader
from grader.learning import (
    KNOWN_NOTHING,
    SIGNS,
    best_temperature,
    fit,
    least_possible,
    least_probability,
    log_loss,
    record_of,
    softmax,
)
from grader.scores import expected_calibration_error, noticed_at, score, split_coverage

GOOD = {name: {"centre": 0.0, "spread": 1.0} for name in ("ink", "yellowing", "bleed")}


def made_up(count: int, seed: int = 1) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Return signs (count, n) of three overlapping grades and the grades."""
    random = np.random.default_rng(seed)
    labels = random.integers(0, 3, count)
    values = random.normal(0.0, 1.0, (count, len(SIGNS)))
    values[:, 0] += 2.0 * (labels - 1)
    return values, labels.astype(np.int64)


def drawn(probabilities: NDArray[np.float64], random: np.random.Generator) -> NDArray[np.int64]:
    """Draw a grade for each row of probabilities."""
    below = probabilities.cumsum(axis=1) < random.random((len(probabilities), 1))
    return np.asarray(np.minimum(below.sum(axis=1), 2), np.int64)


def test_the_file_grades_as_the_library_does() -> None:
    values, labels = made_up(300)
    fitted = fit(values, labels)
    grader = grader_from(record_of(fitted, 0.3, GOOD, {}))
    for row in values[:20]:
        told = grader.probabilities(dict(zip(SIGNS, row.tolist(), strict=True)))
        assert list(told.values()) == pytest.approx(fitted.probabilities(row[np.newaxis])[0], abs=2e-3)


def test_a_sign_beyond_all_training_says_no_more_than_at_the_end_of_its_range() -> None:
    values, labels = made_up(300)
    grader = grader_from(record_of(fit(values, labels), 0.3, GOOD, {}))
    usual = dict.fromkeys(SIGNS, 0.0)
    far, farther = ({**usual, SIGNS[0]: value} for value in (50.0, 5000.0))
    assert grader.probabilities(far) == grader.probabilities(farther)


@given(st.integers(0, 1000), st.floats(0.6, 0.95))
def test_the_right_grade_is_ruled_out_no_more_often_than_promised(seed: int, coverage: float) -> None:
    """Split conformal prediction (Vovk, Gammerman and Shafer 2005): at least `coverage` on average over
    calibration sets; one set of 500 departs from it by its own scatter (a Beta distribution), 5 of which
    are allowed here."""
    random = np.random.default_rng(seed)
    probabilities = random.dirichlet([1.0, 1.0, 1.0], 4000)
    labels = drawn(probabilities, random)
    least = least_probability(probabilities[:500], labels[:500], coverage)
    covered = (probabilities[500:][np.arange(3500), labels[500:]] >= least).mean()
    scatter = np.sqrt(coverage * (1.0 - coverage) * (1 / 500 + 1 / 3500))
    assert covered >= coverage - 5 * scatter


def test_a_grade_as_likely_as_any_other_is_not_ruled_out_however_good_the_grader_is() -> None:
    """Where nineteen in twenty are right, nine in ten allows to name one grade always, even at evens."""
    labels = np.arange(300) % 3
    right = np.full(300, 0.9)
    right[::20] = 0.45
    probabilities = np.repeat(((1.0 - right) / 2.0)[:, np.newaxis], 3, axis=1)
    probabilities[np.arange(300), labels] = right
    assert least_probability(probabilities, labels) > 0.5
    assert least_possible(probabilities, labels) == KNOWN_NOTHING


def test_coverage_over_many_splits_is_what_was_promised() -> None:
    random = np.random.default_rng(4)
    probabilities = random.dirichlet([0.5, 0.5, 0.5], 800)
    labels = drawn(probabilities, random)
    coverage, _ = split_coverage(probabilities, labels)
    assert coverage == pytest.approx(0.9, abs=0.02)


def test_probabilities_that_keep_their_word_have_next_to_no_calibration_error() -> None:
    random = np.random.default_rng(5)
    probabilities = random.dirichlet([1.0, 1.0, 1.0], 20000)
    labels = drawn(probabilities, random)
    assert expected_calibration_error(probabilities, labels) < 0.01
    boastful = probabilities**3 / (probabilities**3).sum(axis=1, keepdims=True)
    assert expected_calibration_error(boastful, labels) > 0.1


def test_the_temperature_takes_boasting_back() -> None:
    random = np.random.default_rng(6)
    probabilities = random.dirichlet([1.0, 1.0, 1.0], 5000)
    labels = drawn(probabilities, random)
    boastful = 2.0 * np.log(probabilities)
    temperature = best_temperature(boastful, labels)
    assert temperature == pytest.approx(2.0, abs=0.15)
    assert log_loss(softmax(boastful / temperature), labels) < log_loss(softmax(boastful), labels)


def test_nine_in_ten_is_read_off_the_psychometric_curve() -> None:
    """A logistic of slope 40 around 0.85 passes 0.9 at 0.85 - ln 9 / 40."""
    random = np.random.default_rng(7)
    amounts = random.uniform(0.6, 1.0, 20000)
    called = random.random(20000) < 1.0 / (1.0 + np.exp(40.0 * (amounts - 0.85)))
    found = noticed_at(amounts.tolist(), called.tolist(), rising=False)
    assert found == pytest.approx(0.85 - np.log(9.0) / 40.0, abs=0.005)


def test_opposite_grades_and_those_near_a_limit_are_counted() -> None:
    probabilities = np.array([[0.9, 0.05, 0.05], [0.05, 0.05, 0.9], [0.45, 0.45, 0.1]])
    told = score(probabilities, np.array([0, 0, 1]), 0.3)
    assert (told.count, told.opposite) == (3, 1)
    assert told.near_limit == pytest.approx(1 / 3)
    assert told.right == pytest.approx(1 / 3)


def test_a_piece_whose_opposite_grade_is_likely_too_counts_as_sent_back() -> None:
    probabilities = np.array([[0.6, 0.1, 0.3], [0.6, 0.3, 0.1], [0.3, 0.4, 0.3]])
    told = score(probabilities, np.array([2, 0, 1]), 0.35, most_opposite=0.15)
    assert told.sent_back == pytest.approx(1 / 3)
    assert told.opposite == 0
    assert told.right == pytest.approx(2 / 3)


def test_the_shipped_grader_says_what_it_was_trained_on() -> None:
    grader = trained_grader()
    assert set(grader.signs) == set(SIGNS)
    assert grader.coverage == 0.9
    assert 0.0 < grader.least_probability < 0.9
    assert grader.weights.shape == (len(GRADES), len(SIGNS))


def test_a_grader_of_another_format_is_refused() -> None:
    with pytest.raises(ValueError, match="version"):
        grader_from({"format": "dyecast-grader", "format_version": 99})
