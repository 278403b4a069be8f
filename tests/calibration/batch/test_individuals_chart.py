"""The chart of single values: limits and rules as in the handbooks, each signal with its place."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dyecast_calibration.batch.baseline import Baseline, baseline_of
from dyecast_calibration.batch.chart_signals import MARKER_SHAPES, RULE_SENTENCES, Rule, Side
from dyecast_calibration.batch.individuals_chart import IndividualsChart, individuals_chart
from dyecast_calibration.batch.run_rules import ZONE_RULES, zone_rule_hits
from dyecast_calibration.batch.series import measured_series

STANDARD = Baseline(centre=0.0, piece_standard_deviation=1.0, pieces=25)

FLOWRATES = (49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1)
"""NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2 (from memory)."""
LOAN_COSTS = (
    310,
    288,
    297,
    298,
    307,
    303,
    294,
    297,
    308,
    306,
    294,
    299,
    297,
    299,
    314,
    295,
    293,
    306,
    301,
    304,
)
"""Montgomery, Introduction to Statistical Quality Control, mortgage loan costs (from memory)."""

standardised_values = st.lists(st.floats(-5, 5), min_size=1, max_size=30)


def chart_of(*values: float) -> IndividualsChart:
    return individuals_chart(measured_series(values), STANDARD)


def zone_signals(chart: IndividualsChart) -> list[tuple[Rule, int, Side]]:
    return [(signal.rule, signal.index, signal.side) for signal in chart.signals if signal.rule in ZONE_RULES]


def test_limits_are_those_of_the_nist_handbook() -> None:
    series = measured_series(FLOWRATES)
    chart = individuals_chart(series, baseline_of(series))
    assert chart.baseline.centre == pytest.approx(50.81)
    assert np.mean(chart.moving_ranges) == pytest.approx(1.8778, abs=5e-5)
    assert chart.upper_limits == pytest.approx([55.8041] * 10, abs=5e-5)
    assert chart.lower_limits == pytest.approx([45.8159] * 10, abs=5e-5)
    assert chart.signals == ()


def test_limits_are_those_of_montgomery() -> None:
    series = measured_series(LOAN_COSTS)
    chart = individuals_chart(series, baseline_of(series))
    assert chart.baseline.centre == pytest.approx(300.5)
    assert chart.lower_limits[0] == pytest.approx(279.78, abs=0.005)
    assert chart.upper_limits[0] == pytest.approx(321.22, abs=0.005)
    assert chart.moving_range_limits == pytest.approx([25.45] * 19, abs=0.005)
    assert chart.signals == ()


@pytest.mark.parametrize(
    ("values", "expected"),
    [
        ((0.5, 3.1), (Rule.BEYOND_LIMIT, 1)),
        ((2.1, 0.5, 2.1), (Rule.TWO_OF_THREE, 2)),
        ((1.1, 1.1, 0.5, 1.1, 1.1), (Rule.FOUR_OF_FIVE, 4)),
        ((0.1,) * 8, (Rule.EIGHT_ON_ONE_SIDE, 7)),
    ],
)
def test_each_rule_signals_at_the_piece_that_completes_it_on_either_side(
    values: tuple[float, ...], expected: tuple[Rule, int]
) -> None:
    assert zone_signals(chart_of(*values)) == [(*expected, Side.ABOVE)]
    assert zone_signals(chart_of(*(-value for value in values))) == [(*expected, Side.BELOW)]


@pytest.mark.parametrize(
    "values",
    [
        (3.0,),
        (2.1, 0.5, 0.5, 2.1),
        (2.1, -2.1, 0.5),
        (1.1, 1.1, 1.1, -0.5, -0.5, 1.1),
        (0.1,) * 7,
        (0.1, 0.1, 0.1, 0.1, 0.0, 0.1, 0.1, 0.1, 0.1),
    ],
    ids=["on the limit", "two of four", "opposite sides", "four of six", "seven", "one on the centre"],
)
def test_what_is_just_short_of_a_rule_is_no_signal(values: tuple[float, ...]) -> None:
    assert zone_signals(chart_of(*values)) == []


def test_a_jump_between_two_pieces_signals_at_the_later_one() -> None:
    chart = chart_of(2.0, -2.0)
    assert [(signal.rule, signal.index, signal.side) for signal in chart.signals] == [
        (Rule.MOVING_RANGE, 1, Side.BELOW)
    ]


def test_a_signal_names_the_piece_by_the_batchs_own_number() -> None:
    chart = individuals_chart(measured_series([0.1, 3.5], piece_numbers=[5, 10]), STANDARD)
    assert {signal.piece_number for signal in chart.signals} == {10}


def test_a_poorly_measured_piece_has_wider_limits_and_no_alarm() -> None:
    surely, poorly = (individuals_chart(measured_series([3.5], u), STANDARD) for u in (0.0, 1.0))
    assert surely.upper_limits == (3.0,)
    assert poorly.upper_limits == pytest.approx([3 * 2**0.5])
    assert [signal.rule for signal in surely.signals] == [Rule.BEYOND_LIMIT]
    assert poorly.signals == ()


def test_moving_range_limits_follow_both_pieces_uncertainties() -> None:
    chart = individuals_chart(measured_series([0, 0, 0], [0.0, 0.0, 2.0]), STANDARD)
    even, uneven = chart.moving_range_limits
    assert uneven / even == pytest.approx(3**0.5)


def test_one_piece_is_a_chart_when_the_baseline_is_known() -> None:
    chart = chart_of(0.5)
    assert chart.moving_ranges == ()
    assert chart.signals == ()


def test_every_rule_has_a_shape_and_a_sentence() -> None:
    assert set(MARKER_SHAPES) == set(RULE_SENTENCES) == set(Rule)
    of_individuals = [MARKER_SHAPES[rule] for rule in Rule if rule is not Rule.EWMA]
    assert len(set(of_individuals)) == len(of_individuals)
    signal = chart_of(3.5).signals[0]
    assert signal.shape == "triangle"
    assert "three standard deviations" in signal.sentence


@given(standardised_values, st.sampled_from(list(ZONE_RULES)))
def test_the_rules_count_as_their_definition_says(values: list[float], rule: Rule) -> None:
    needed, looked_at, distance = ZONE_RULES[rule]
    expected = [
        values[last] > distance
        and sum(value > distance for value in values[max(0, last - looked_at + 1) : last + 1]) >= needed
        for last in range(len(values))
    ]
    assert zone_rule_hits(np.array(values), rule).tolist() == expected


@given(standardised_values, st.floats(0.01, 100), st.floats(-100, 100))
def test_units_do_not_matter(values: list[float], scale: float, offset: float) -> None:
    rounded = [round(value, 1) + 0.05 for value in values]  # off the zone lines, where rounding decides
    plain = chart_of(*rounded)
    scaled = individuals_chart(
        measured_series([offset + scale * value for value in rounded]), Baseline(offset, scale, 25)
    )
    assert zone_signals(scaled) == zone_signals(plain)
