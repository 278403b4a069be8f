"""The charts of a batch, and what they say together."""

from collections.abc import Sequence
from dataclasses import dataclass

from dyecast_api.batches.batch_series import counted_pieces, quantity_series
from dyecast_api.batches.batch_values import Batch, BatchPiece
from dyecast_calibration.batch.baseline import FULL_PIECES, LEAST_PIECES, baseline_of
from dyecast_calibration.batch.chart_signals import Signal
from dyecast_calibration.batch.drift import BatchState as ProcessState
from dyecast_calibration.batch.drift import DriftFinding, Quantity, drift_finding
from dyecast_calibration.batch.drift_sentences import drift_sentences
from dyecast_calibration.batch.ewma_chart import EwmaChart, ewma_chart
from dyecast_calibration.batch.individuals_chart import IndividualsChart, individuals_chart
from dyecast_calibration.batch.series import MeasuredSeries, measured_series
from dyecast_shared.errors import BatchInvalid


@dataclass(frozen=True, slots=True)
class QuantityCharts:
    """One quantity's series with its two charts; without limits yet, `why_no_limits` says why."""

    quantity: Quantity
    series: MeasuredSeries
    individuals: IndividualsChart | None = None
    ewma: EwmaChart | None = None
    why_no_limits: str = ""

    @property
    def signals(self) -> tuple[Signal, ...]:
        """The signals of both charts, by piece."""
        both = [*self.individuals.signals] if self.individuals else []
        both += self.ewma.signals if self.ewma else ()
        return tuple(sorted(both, key=lambda signal: signal.index))


@dataclass(frozen=True, slots=True)
class BatchCharts:
    """All charts of a batch; `finding` is None while no quantity has limits."""

    quantities: tuple[QuantityCharts, ...]
    finding: DriftFinding | None

    @property
    def sentences(self) -> tuple[str, ...]:
        """What the charts say in plain words."""
        if self.finding is not None:
            return drift_sentences(self.finding)
        if not self.quantities:
            return ("No piece can be followed yet: charts begin with the approved first piece.",)
        return (self.quantities[0].why_no_limits,)


def batch_charts(batch: Batch, pieces: Sequence[BatchPiece]) -> BatchCharts:
    """Return the charts of a batch's pieces, from the approved first piece on."""
    counted = counted_pieces(batch, pieces)
    series = ((quantity, quantity_series(quantity, counted)) for quantity in Quantity)
    charts = tuple(_charts(quantity, one) for quantity, one in series if one is not None)
    drawn = {one.quantity: one.ewma for one in charts if one.ewma is not None}
    return BatchCharts(charts, drift_finding(drawn) if drawn else None)


def settled_pieces(quantity: Quantity, series: MeasuredSeries) -> int:
    """Return from how many first pieces the baseline is to come: all up to twenty, or those before a move.

    The baseline grows with the batch as long as the pieces seen so far look steady. Otherwise a process that
    moves before the twentieth piece would be held against a centre that the move has shifted, and its good
    first pieces would signal: of 300 simulated batches of 30 that slid by one standard deviation a piece from
    the fifteenth on, 54 in 100 did so, 19 with this rule; of 300 steady ones 1 was called moved either way.
    """
    for count in range(LEAST_PIECES, min(FULL_PIECES, len(series)) + 1):
        part = _first_of(series, count)
        finding = drift_finding({quantity: ewma_chart(part, baseline_of(part, count))})
        if finding.state is ProcessState.MOVED:
            before = sum(number < finding.movements[0].since_piece for number in part.piece_numbers)
            return max(LEAST_PIECES, before)
    return FULL_PIECES


def _first_of(series: MeasuredSeries, count: int) -> MeasuredSeries:
    return measured_series(
        series.values[:count],
        series.standard_uncertainties[:count],
        piece_numbers=series.piece_numbers[:count],
        hours=series.hours[:count],
    )


def _charts(quantity: Quantity, series: MeasuredSeries) -> QuantityCharts:
    try:
        baseline = baseline_of(series, settled_pieces(quantity, series))
        return QuantityCharts(
            quantity, series, individuals_chart(series, baseline), ewma_chart(series, baseline)
        )
    except BatchInvalid as reason:
        return QuantityCharts(quantity, series, why_no_limits=f"{reason.message} {reason.advice}")
