"""What the HTTP interface sends and takes about batches."""

from collections.abc import Sequence
from datetime import datetime
from typing import Final, Literal, Self

from pydantic import Field

from dyecast_api.batches.batch_charts import QuantityCharts
from dyecast_api.batches.batch_facts import batch_facts, recipe_facts
from dyecast_api.batches.batch_series import QUANTITY_WORDS, measured
from dyecast_api.batches.batch_values import Batch, BatchPiece
from dyecast_api.batches.batch_words import clock_notes
from dyecast_api.batches.chart_drawing import chart_drawing
from dyecast_api.batches.lot_acceptance import acceptance_of
from dyecast_api.batches.starting import BatchOrder
from dyecast_api.batches.whole_batch import WholeBatch
from dyecast_api.server.api_models import PREFIX, Body, Name, PieceVerdict, RowNumber, known_verdict
from dyecast_calibration.batch.chart_signals import Signal
from dyecast_calibration.batch.drift import Quantity

State = Literal["started", "approved", "held", "closed"]

MOST_PIECES: Final = 1_000_000
"""Of a batch, far beyond what any shop presses of one artwork."""


class SamplingBody(Body):
    """How the lot is accepted (ISO 2859-1, general level II)."""

    quality_limit_percent: float = Field(examples=[2.5])
    severity: Literal["normal", "tightened"]


class NewBatch(Body):
    """A batch to be started."""

    name: str = Field(min_length=1, max_length=200, examples=["Magnets in May"])
    recipe: RowNumber
    artwork: RowNumber = Field(description="Its newest version is what the pieces should show.")
    planned_pieces: int | None = Field(
        None, ge=1, le=MOST_PIECES, description="How many there are to be.", examples=[200]
    )
    every_nth: int | None = Field(
        None, ge=1, le=MOST_PIECES, description="Inspect every n-th; null: as the sampling asks, else each."
    )
    quality_limit_percent: float | None = Field(
        None, gt=0, le=100, description="Accept the lot by ISO 2859-1 at this limit.", examples=[2.5]
    )
    tightened: bool = Field(False, description="Tightened inspection instead of normal.")

    def order(self) -> BatchOrder:
        """Return it as whoever starts batches takes it."""
        return BatchOrder(
            self.name, self.planned_pieces, self.every_nth, self.quality_limit_percent, self.tightened
        )


class NewDecision(Body):
    """Who decides, and why."""

    by: Name = Field(examples=["Kim"])
    reason: str = Field(
        "",
        max_length=2000,
        description="Needed to hold a first piece, to approve one that is not good, and to give a batch up.",
    )


class Closing(NewDecision):
    """Who closes a batch, and whether without a certificate."""

    give_up: bool = Field(False, description="Close it without a certificate, for the reason given.")


class BatchBody(Body):
    """A batch as lists show it."""

    id: int
    name: str
    state: State
    recipe: int
    artwork_name: str
    started_at: datetime
    closed_at: datetime | None
    inspected_pieces: int
    planned_pieces: int | None
    every_nth: int

    @classmethod
    def of(cls, batch: Batch, pieces: int) -> Self:
        """Return a batch with this many pieces as a body."""
        return cls(
            id=batch.number,
            name=batch.name,
            state=batch.state.value,
            recipe=batch.recipe_id,
            artwork_name=batch.artwork_name,
            started_at=batch.started_at,
            closed_at=batch.closed_at,
            inspected_pieces=pieces,
            planned_pieces=batch.planned_pieces,
            every_nth=batch.every_nth,
        )


class BatchPage(Body):
    """A page of a list, the newest first."""

    items: list[BatchBody]
    next: str | None = Field(description="Ask again with this as `cursor`; null at the end.")


class FactBody(Body):
    """A fact in words."""

    name: str
    words: str


class MeasuredBody(Body):
    """A measured value in the quantity's own unit, with its standard uncertainty as reported."""

    value: float | None
    standard_uncertainty: float | None


class BatchPieceBody(Body):
    """One inspected piece."""

    number: int
    inspection: str = Field(description="Of the piece's photo.")
    pressing: int
    pressed_at: datetime
    grade: PieceVerdict | None
    judged_by: str
    confidence: float | None = Field(description="0 to 1; null where a person graded.")
    measured: dict[str, MeasuredBody] = Field(description="By quantity.")
    delta_e_2000_artwork: float | None
    lost: bool
    note: str

    @classmethod
    def of(cls, piece: BatchPiece) -> Self:
        """Return a piece as a body."""
        one = piece.pressing
        return cls(
            number=piece.number,
            inspection=piece.inspection,
            pressing=one.number,
            pressed_at=one.pressed_at,
            grade=known_verdict(one.grade),
            judged_by=one.judged_by,
            confidence=one.confidence,
            measured={quantity.value: _measured(quantity, piece) for quantity in Quantity},
            delta_e_2000_artwork=one.delta_e_2000,
            lost=one.lost,
            note=one.note,
        )


class SignalBody(Body):
    """A sign on a chart."""

    piece: int
    rule: str = Field(examples=["ewma-beyond-limit"])
    side: Literal["above", "below"]

    @classmethod
    def of(cls, signal: Signal) -> Self:
        """Return a signal as a body."""
        return cls(piece=signal.piece_number, rule=signal.rule.value, side=signal.side.value)


class LinesBody(Body):
    """One chart: its centre and limits, and what they are held against, a value for each piece."""

    centre: float
    values: list[float]
    standard_deviations: list[float] = Field(description="Of each value while nothing moves.")
    lower_limits: list[float]
    upper_limits: list[float]
    signals: list[SignalBody]


class ChartBody(Body):
    """One quantity over the pieces; figures are in its own unit, `scale` times them in the one shown."""

    quantity: str = Field(examples=["transferred-fraction"])
    name: str
    unit: str
    scale: float
    pieces: list[int] = Field(description="Numbers of the pieces, in their order.")
    values: list[float]
    standard_uncertainties: list[float] = Field(description="What differs from photo to photo.")
    individuals: LinesBody | None = Field(description="Single values against Shewhart's limits.")
    weighted_average: LinesBody | None = Field(description="Exponentially weighted moving average.")
    baseline_pieces: int | None = Field(description="First pieces that centre and limits come from.")
    provisional: bool | None
    why_no_limits: str
    description: str = Field(description="The chart in words.")
    picture: str = Field(description="Address of the chart as SVG.")

    @classmethod
    def of(cls, batch: Batch, charts: QuantityCharts) -> Self:
        """Return a quantity's charts as a body."""
        words, series = QUANTITY_WORDS[charts.quantity], charts.series
        baseline = None if charts.individuals is None else charts.individuals.baseline
        return cls(
            quantity=charts.quantity.value,
            name=words.name,
            unit=words.unit,
            scale=words.scale,
            pieces=list(series.piece_numbers),
            values=list(series.values),
            standard_uncertainties=list(series.standard_uncertainties),
            individuals=_individuals(charts),
            weighted_average=_weighted_average(charts),
            baseline_pieces=None if baseline is None else baseline.pieces,
            provisional=None if baseline is None else baseline.provisional,
            why_no_limits=charts.why_no_limits,
            description=chart_drawing(charts).description,
            picture=f"{PREFIX}/batches/{batch.number}/charts/{charts.quantity.value}.svg",
        )


class AcceptanceBody(Body):
    """What the inspected pieces say of the lot (ISO 2859-1)."""

    action: Literal["accept", "reject", "inspect-more"]
    sample_size: int
    acceptance_number: int
    still_to_inspect: int
    sentence: str


class BatchDetail(BatchBody):
    """A batch in full."""

    artwork_version: int | None
    sampling: SamplingBody | None
    acceptance: AcceptanceBody | None
    first_piece: int | None = Field(description="Number of the piece approved, held, or to be decided on.")
    must_decide: bool = Field(description="The first piece waits to be approved or held.")
    decided_by: str | None
    decided_at: datetime | None
    decision_reason: str
    closed_by: str | None
    process: str | None = Field(
        description="What the charts say; null before there are limits.", examples=["process-steady"]
    )
    sentences: list[str] = Field(description="What the charts say, and what is odd about the pieces.")
    next_steps: list[str]
    facts: list[FactBody] = Field(description="How it is pressed, and how far it has come.")
    pieces: list[BatchPieceBody]
    charts: list[ChartBody]
    certificate: str | None = Field(description="Address of the certificate as PDF, when it has one.")

    @classmethod
    def of_whole(cls, whole: WholeBatch) -> Self:
        """Return a batch with all that belongs to it as a body."""
        batch, finding = whole.batch, whole.charts.finding
        has_certificate = batch.certificate_sha256 is not None
        return cls(
            **BatchBody.of(batch, len(whole.pieces)).model_dump(),
            artwork_version=batch.artwork_version_id,
            sampling=None if batch.sampling is None else SamplingBody.model_validate(batch.sampling),
            acceptance=_acceptance(whole),
            first_piece=None if whole.first_piece is None else whole.first_piece.number,
            must_decide=whole.must_decide,
            decided_by=batch.decided_by,
            decided_at=batch.decided_at,
            decision_reason=batch.decision_reason,
            closed_by=batch.closed_by,
            process=None if finding is None else finding.state.value,
            sentences=[*whole.charts.sentences, *clock_notes(whole.pieces)],
            next_steps=list(whole.next_step),
            facts=[
                FactBody(name=name, words=words)
                for name, words in (*recipe_facts(whole), *batch_facts(whole))
            ],
            pieces=[BatchPieceBody.of(piece) for piece in whole.pieces],
            charts=[ChartBody.of(batch, charts) for charts in whole.charts.quantities],
            certificate=f"{PREFIX}/batches/{batch.number}/certificate.pdf" if has_certificate else None,
        )


def _measured(quantity: Quantity, piece: BatchPiece) -> MeasuredBody:
    value, uncertainty = measured(quantity, piece)
    return MeasuredBody(value=value, standard_uncertainty=uncertainty)


def _individuals(charts: QuantityCharts) -> LinesBody | None:
    chart = charts.individuals
    if chart is None:
        return None
    return LinesBody(
        centre=chart.baseline.centre,
        values=list(chart.series.values),
        standard_deviations=list(chart.standard_deviations),
        lower_limits=list(chart.lower_limits),
        upper_limits=list(chart.upper_limits),
        signals=_signals(chart.signals),
    )


def _weighted_average(charts: QuantityCharts) -> LinesBody | None:
    chart = charts.ewma
    if chart is None:
        return None
    return LinesBody(
        centre=chart.baseline.centre,
        values=list(chart.averages),
        standard_deviations=list(chart.standard_deviations),
        lower_limits=list(chart.lower_limits),
        upper_limits=list(chart.upper_limits),
        signals=_signals(chart.signals),
    )


def _signals(signals: Sequence[Signal]) -> list[SignalBody]:
    return [SignalBody.of(signal) for signal in signals]


def _acceptance(whole: WholeBatch) -> AcceptanceBody | None:
    decision = acceptance_of(whole.batch, whole.counted)
    if decision is None:
        return None
    return AcceptanceBody(
        action=decision.action.value,
        sample_size=decision.plan.sample_size,
        acceptance_number=decision.plan.acceptance_number,
        still_to_inspect=decision.still_to_inspect,
        sentence=whole.acceptance_sentence,
    )
