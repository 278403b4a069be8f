"""The figures of a batch: what is taken, and what is sent back with a word on what to correct."""

import math
from collections.abc import Sequence

import pytest

from dyecast_calibration.batch.baseline import LEAST_PIECES, Baseline, baseline_of, point_standard_deviations
from dyecast_calibration.batch.series import MeasuredSeries, measured_series
from dyecast_shared.errors import BatchInvalid


def test_pieces_are_numbered_from_one_and_share_one_uncertainty() -> None:
    series = measured_series([0.9, 0.95], 0.02)
    assert series.piece_numbers == (1, 2)
    assert series.standard_uncertainties == (0.02, 0.02)
    assert len(series) == 2


def test_a_batch_without_pieces_is_sent_back() -> None:
    with pytest.raises(BatchInvalid, match="No piece"):
        measured_series([])


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_a_value_that_is_no_number_is_named_by_its_piece(value: float) -> None:
    with pytest.raises(BatchInvalid, match="value of piece 2"):
        measured_series([0.9, value])
    with pytest.raises(BatchInvalid, match="uncertainty of piece 2"):
        measured_series([0.9, 0.9], [0.0, value])
    with pytest.raises(BatchInvalid, match="time of piece 2"):
        measured_series([0.9, 0.9], hours=[0.0, value])


def test_a_negative_uncertainty_is_named_by_its_piece() -> None:
    with pytest.raises(BatchInvalid, match="uncertainty of piece 7 is negative"):
        measured_series([0.9, 0.9], [0.01, -0.01], piece_numbers=[3, 7])


@pytest.mark.parametrize("numbers", [(1, 1), (2, 1)])
def test_a_piece_counted_twice_or_backwards_is_sent_back(numbers: Sequence[int]) -> None:
    with pytest.raises(BatchInvalid, match="counts its pieces upwards"):
        measured_series([0.9, 0.9], piece_numbers=numbers)


def test_a_clock_set_back_is_noticed() -> None:
    with pytest.raises(BatchInvalid, match=r"Piece 3 is earlier .* clock was set back"):
        measured_series([0.9, 0.9, 0.9], hours=[0.0, 1.0, 0.5])


def test_pieces_pressed_at_the_same_moment_are_fine() -> None:
    assert measured_series([0.9, 0.9], hours=[1.0, 1.0]).hours == (1.0, 1.0)


def test_fields_of_different_lengths_are_sent_back() -> None:
    with pytest.raises(BatchInvalid, match="not as many"):
        MeasuredSeries((0.9, 0.9), (0.0,), (1, 2), (0.0, 0.0))


@pytest.mark.parametrize("pieces", [1, LEAST_PIECES - 1])
def test_too_few_pieces_give_no_limits(pieces: int) -> None:
    with pytest.raises(BatchInvalid, match=f"Only {pieces} of the {LEAST_PIECES}"):
        baseline_of(measured_series([0.9, 0.95, 0.9, 0.92, 0.9, 0.91, 0.93, 0.9][:pieces]))


def test_a_baseline_of_few_pieces_is_provisional() -> None:
    values = [0.9, 0.92] * 15
    assert baseline_of(measured_series(values[:LEAST_PIECES])).provisional
    assert not baseline_of(measured_series(values)).provisional


def test_a_baseline_looks_at_its_own_pieces_only() -> None:
    values = [0.9, 0.92] * 10
    assert baseline_of(measured_series([*values, 5.0])) == baseline_of(measured_series(values))


def test_scatter_that_the_measurement_explains_is_not_counted_twice() -> None:
    values = [0.90, 0.92] * 10
    total = 0.02 / 1.128
    half = total / math.sqrt(2)
    series = measured_series(values, half)
    assert baseline_of(series).piece_standard_deviation == pytest.approx(half)
    assert point_standard_deviations(baseline_of(series), series) == pytest.approx(total)


def test_uncertainties_above_the_scatter_widen_the_limits_to_themselves() -> None:
    series = measured_series([0.90, 0.92] * 10, 0.1)
    assert baseline_of(series).piece_standard_deviation == 0
    assert point_standard_deviations(baseline_of(series), series) == pytest.approx(0.1)


def test_pieces_that_all_read_the_same_give_no_limits() -> None:
    series = measured_series([0.9] * 20)
    with pytest.raises(BatchInvalid, match="exactly the same"):
        point_standard_deviations(baseline_of(series), series)


@pytest.mark.parametrize(
    ("centre", "deviation", "pieces", "uncertainty"),
    [
        (math.nan, 1, 8, 0),
        (0, math.inf, 8, 0),
        (0, -1, 8, 0),
        (0, 1, 0, 0),
        (0, 1, 8, -1),
        (0, 1, 8, math.nan),
    ],
)
def test_a_baseline_that_cannot_be_is_a_mistake_of_the_program(
    centre: float, deviation: float, pieces: int, uncertainty: float
) -> None:
    with pytest.raises(ValueError, match="must be"):
        Baseline(centre, deviation, pieces, uncertainty)


def test_a_program_cannot_ask_for_a_baseline_of_too_few_pieces() -> None:
    with pytest.raises(ValueError, match="at least"):
        baseline_of(measured_series([0.9, 0.92] * 10), pieces=2)
