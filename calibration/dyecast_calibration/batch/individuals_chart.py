"""Shewhart's chart of individual values with its moving ranges, with each piece's own uncertainty."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.batch.baseline import (
    MOVING_RANGE_TO_STANDARD_DEVIATION,
    Baseline,
    point_standard_deviations,
)
from dyecast_calibration.batch.chart_signals import Rule, Side, Signal
from dyecast_calibration.batch.run_rules import ZONE_RULES, zone_rule_hits
from dyecast_calibration.batch.series import MeasuredSeries

LIMIT_WIDTH: Final = 3.0
"""Standard deviations from the centre to the limits (Shewhart; ISO 7870-2)."""

MOVING_RANGE_LIMIT: Final = 3.267
"""D4 for ranges of two: the moving range's limit over its mean (ISO 7870-2; Montgomery, appendix VI)."""


@dataclass(frozen=True, slots=True)
class IndividualsChart:
    """All that a drawing of the chart needs; tuples run over the pieces unless said otherwise.

    Attributes
    ----------
    series
        The points, with the uncertainties to be drawn as bars.
    baseline
        Its centre is the centre line; `baseline.provisional` asks for a word beside the drawing.
    standard_deviations
        Of each point while nothing moves; the zones end at one, two and three of them.
    lower_limits, upper_limits
        Three of them from the centre. A quantity that cannot be negative may still have a negative limit.
    moving_ranges, moving_range_limits
        One fewer than pieces; the first belongs to the second piece.
    signals
        In the order of the pieces.
    """

    series: MeasuredSeries
    baseline: Baseline
    standard_deviations: tuple[float, ...]
    lower_limits: tuple[float, ...]
    upper_limits: tuple[float, ...]
    moving_ranges: tuple[float, ...]
    moving_range_limits: tuple[float, ...]
    signals: tuple[Signal, ...]


def individuals_chart(series: MeasuredSeries, baseline: Baseline) -> IndividualsChart:
    """Return the chart of a series against a baseline.

    The limits are widened by each point's own uncertainty (`point_standard_deviations`), and the zone rules
    are applied to the distance in those standard deviations. The four rules together give a false alarm
    about every 92 pieces (Champ and Woodall 1987), rule 1 alone about every 370: rules 2 to 4 are a reason to
    look, not to stop. As in the handbooks, the centre's own uncertainty is left out: it widens limits for
    single values by 3 % at 20 pieces.

    Raises
    ------
    BatchInvalid
        Neither baseline nor uncertainties leave any scatter to draw limits with.
    """
    values = np.array(series.values)
    deviations = point_standard_deviations(baseline, series)
    ranges = np.abs(np.diff(values))
    range_limits = _moving_range_limits(deviations)
    signals = [
        *_zone_signals((values - baseline.centre) / deviations, series.piece_numbers),
        *_range_signals(np.diff(values), range_limits, series.piece_numbers),
    ]
    return IndividualsChart(
        series=series,
        baseline=baseline,
        standard_deviations=tuple(deviations.tolist()),
        lower_limits=tuple((baseline.centre - LIMIT_WIDTH * deviations).tolist()),
        upper_limits=tuple((baseline.centre + LIMIT_WIDTH * deviations).tolist()),
        moving_ranges=tuple(ranges.tolist()),
        moving_range_limits=tuple(range_limits.tolist()),
        signals=tuple(sorted(signals, key=lambda signal: signal.index)),
    )


def _moving_range_limits(deviations: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return D4 times the mean range of two normal values with these neighbouring standard deviations."""
    root_mean_square = np.sqrt((deviations[1:] ** 2 + deviations[:-1] ** 2) / 2)
    return MOVING_RANGE_LIMIT * MOVING_RANGE_TO_STANDARD_DEVIATION * root_mean_square


def _zone_signals(standardised: NDArray[np.float64], piece_numbers: tuple[int, ...]) -> Iterator[Signal]:
    for side, sign in ((Side.ABOVE, 1.0), (Side.BELOW, -1.0)):
        for rule in ZONE_RULES:
            for index in np.flatnonzero(zone_rule_hits(sign * standardised, rule)).tolist():
                yield Signal(rule, index, piece_numbers[index], side)


def _range_signals(
    steps: NDArray[np.float64], limits: NDArray[np.float64], piece_numbers: tuple[int, ...]
) -> Iterator[Signal]:
    """Yield a signal at the later of two pieces too far apart; its side is where that piece went."""
    for before in np.flatnonzero(np.abs(steps) > limits).tolist():
        side = Side.ABOVE if steps[before] > 0 else Side.BELOW
        yield Signal(Rule.MOVING_RANGE, before + 1, piece_numbers[before + 1], side)
