"""The chart of the weighted average: averages and limits as published, uncertainties carried along."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dyecast_calibration.batch.baseline import Baseline, baseline_of
from dyecast_calibration.batch.chart_signals import Side
from dyecast_calibration.batch.ewma_chart import (
    EwmaDesign,
    average_standard_deviations,
    ewma_chart,
    weighted_averages,
)
from dyecast_calibration.batch.series import measured_series

NIST_VALUES = (
    *(52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5),
    *(49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1),
)
NIST_AVERAGES = (
    *(50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33),
    *(50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99),
)
"""NIST/SEMATECH e-Handbook, 6.3.2.4: weight 0.3, start 50, standard deviation 2.0539 (from memory)."""
MONTGOMERY_VALUES = (
    *(9.45, 7.99, 9.29, 11.66, 12.16, 10.18, 8.04, 11.46, 9.20, 10.34),
    *(9.03, 11.47, 10.51, 9.40, 10.08, 9.37, 10.62, 10.31, 8.52, 10.84),
    *(10.90, 9.33, 12.29, 11.50, 10.60, 11.08, 10.38, 11.62, 11.31, 10.52),
)
"""Montgomery, Introduction to Statistical Quality Control, EWMA example: the mean moves after the twentieth
(from memory)."""

weights = st.floats(0.01, 1.0)


def test_averages_and_settled_limits_are_those_of_the_nist_handbook() -> None:
    chart = ewma_chart(measured_series(NIST_VALUES), Baseline(50, 2.0539, 20), EwmaDesign(0.3, 3))
    assert chart.averages == pytest.approx(NIST_AVERAGES, abs=0.0051)
    assert chart.upper_limits[-1] == pytest.approx(52.5884, abs=5e-5)
    assert chart.lower_limits[-1] == pytest.approx(47.4115, abs=1.1e-4)
    assert chart.signals == ()


def test_exact_limits_and_signals_are_those_of_montgomery() -> None:
    chart = ewma_chart(measured_series(MONTGOMERY_VALUES), Baseline(10, 1, 20), EwmaDesign(0.1, 2.7))
    assert chart.averages[:2] == pytest.approx([9.945, 9.7495])
    assert chart.averages[-1] == pytest.approx(10.6341, abs=5e-5)
    assert chart.upper_limits[0] == pytest.approx(10.27)
    assert chart.lower_limits[-1] == pytest.approx(9.38, abs=0.005)
    assert chart.upper_limits[-1] == pytest.approx(10.62, abs=0.005)
    assert [(signal.piece_number, signal.side) for signal in chart.signals] == [
        (29, Side.ABOVE),
        (30, Side.ABOVE),
    ]


@given(weights, st.floats(0.01, 100), st.integers(1, 60))
def test_equal_uncertainties_give_the_published_limits(weight: float, deviation: float, pieces: int) -> None:
    got = average_standard_deviations(np.full(pieces, deviation), weight)
    grown = 1 - (1 - weight) ** (2 * np.arange(1, pieces + 1))
    assert got == pytest.approx(deviation * np.sqrt(weight / (2 - weight) * grown))
    assert got.dtype == np.float64


@given(weights, st.lists(st.floats(0.01, 10), min_size=1, max_size=20))
def test_the_variance_is_that_of_the_weighted_sum_written_out(weight: float, deviations: list[float]) -> None:
    count = len(deviations)
    factors = weight * (1 - weight) ** np.arange(count - 1, -1, -1)
    expected = math.sqrt(float(np.sum((factors * np.array(deviations)) ** 2)))
    assert average_standard_deviations(np.array(deviations), weight)[-1] == pytest.approx(expected)


@given(weights, st.lists(st.floats(-10, 10), min_size=1, max_size=20))
def test_an_average_stays_between_the_values_it_averages(weight: float, values: list[float]) -> None:
    averages = weighted_averages(np.array(values), weight, np.array(0.0))
    assert averages.max() <= max(0.0, *values) + 1e-12
    assert averages.min() >= min(0.0, *values) - 1e-12


def test_a_poorly_measured_piece_widens_the_limits_and_is_slowly_forgotten() -> None:
    sure = ewma_chart(measured_series([0.0] * 60), Baseline(0, 1, 25))
    doubtful = ewma_chart(measured_series([0.0] * 60, [3.0] + [0.0] * 59), Baseline(0, 1, 25))
    widths = np.array(doubtful.upper_limits) / np.array(sure.upper_limits)
    assert widths[0] == pytest.approx(math.sqrt(10))
    assert np.all(np.diff(widths) < 0)
    assert widths[-1] == pytest.approx(1, abs=0.001)


def test_false_alarms_stay_as_rare_when_uncertainties_are_unequal() -> None:
    pieces, runs = 100, 4000
    generator = np.random.default_rng(7)
    uneven = np.tile([0.2, 3.0], pieces // 2)
    rates = []
    for own in (np.ones(pieces), np.hypot(1.0, uneven)):
        averages = weighted_averages(generator.normal(0, own, (runs, pieces)), 0.1, np.zeros(runs))
        beyond = np.abs(averages) > 2.814 * average_standard_deviations(own, 0.1)
        rates.append(float(np.mean(beyond)))
    assert rates[1] == pytest.approx(rates[0], rel=0.15)
    assert rates[0] == pytest.approx(2 * 0.00245, rel=0.15)  # the normal share beyond 2.814


def test_a_centre_from_few_pieces_widens_the_limits_as_the_average_moves_away_from_it() -> None:
    values = measured_series([0.0] * 200)
    known, estimated = (ewma_chart(values, Baseline(0, 1, 20, own)) for own in (0.0, 20**-0.5))
    extra = np.square(estimated.standard_deviations) - np.square(known.standard_deviations)
    assert extra[0] == pytest.approx(0.1**2 / 20)
    assert extra[-1] == pytest.approx(1 / 20)


def test_an_estimated_centre_carries_the_standard_error_of_its_mean() -> None:
    own = baseline_of(measured_series([0.90, 0.92] * 10))
    assert own.centre_uncertainty == pytest.approx(0.02 / 1.128 / 20**0.5)


def test_one_piece_far_off_is_seen_at_once() -> None:
    chart = ewma_chart(measured_series([-4.0]), Baseline(0, 1, 25))
    assert [signal.side for signal in chart.signals] == [Side.BELOW]


@pytest.mark.parametrize(
    ("weight", "width"), [(0.0, 3.0), (1.1, 3.0), (math.nan, 3.0), (0.1, 0.0), (0.1, math.inf)]
)
def test_a_design_that_cannot_be_is_a_mistake_of_the_program(weight: float, width: float) -> None:
    with pytest.raises(ValueError, match="must be"):
        EwmaDesign(weight, width)
