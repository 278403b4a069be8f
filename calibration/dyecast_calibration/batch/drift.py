"""Decide from a batch's charts whether the process has moved, which way, since when, and what to look at."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np

from dyecast_calibration.batch.change_point import Pattern, change_point
from dyecast_calibration.batch.chart_signals import Side
from dyecast_calibration.batch.ewma_chart import EwmaChart

RECENT_PIECES: Final = 3
"""A process counts as moved while one of this many last averages lies beyond its limit: the average of a
moved process now and then dips back inside for a piece. Our choice."""


class Quantity(StrEnum):
    """The quantities followed over a batch."""

    TRANSFERRED_FRACTION = "transferred-fraction"
    DELTA_E_TO_FIRST_PIECE = "delta-e-to-first-piece"
    VEIL = "veil"
    COATING_YELLOWING = "coating-yellowing"


class BatchState(StrEnum):
    """What the charts say about the batch as a whole."""

    STEADY = "process-steady"
    PIECE_STANDS_OUT = "piece-stands-out"
    MOVED = "process-moved"


class Hint(StrEnum):
    """Where to look first. All of them are common practice, no published source."""

    NONE = "no-hint"
    LOOK_AT_PIECE = "look-at-piece"
    LIGHT_CHANGED = "light-changed"
    SETTLE_LIGHT_FIRST = "settle-light-first"
    MATERIAL_CHANGED = "material-changed"
    PRESSING_WEAKER = "pressing-weaker"
    PRESS_HEATING_UP = "press-heating-up"
    COLOUR_DRIFTING = "colour-drifting"
    CAUSE_UNCLEAR = "cause-unclear"


@dataclass(frozen=True, slots=True)
class Movement:
    """One quantity that has left its centre, in its own unit.

    `size` is signed, with its standard uncertainty: the distance from the centre since a step, or reached by
    a trend. The change came most likely with `since_piece`, at `hours_since_start`, and with about 95 %
    certainty or more between `earliest_piece` and `latest_piece`. `last_piece` equal to `since_piece` means
    that one piece stands out, not that the process moved.
    """

    quantity: Quantity
    side: Side
    pattern: Pattern
    since_piece: int
    earliest_piece: int
    latest_piece: int
    last_piece: int
    hours_since_start: float
    size: float
    standard_uncertainty: float

    @property
    def single_piece(self) -> bool:
        """Whether only the last piece is off."""
        return self.since_piece == self.last_piece


@dataclass(frozen=True, slots=True)
class DriftFinding:
    """What the charts say: `drift_sentences` turns it into words.

    `movements` holds lasting ones when the state is moved, single pieces when a piece stands out.
    `provisional` is true while a baseline is too small for its limits to be trusted.
    """

    state: BatchState
    movements: tuple[Movement, ...]
    hint: Hint
    provisional: bool


def drift_finding(charts: Mapping[Quantity, EwmaChart]) -> DriftFinding:
    """Return what the EWMA charts of a batch say together.

    The EWMA alone decides: its false alarms are rare, while the zone rules of the individuals chart are
    drawn as reasons to look. Of 300 simulated steady batches of 40 pieces and four quantities, held against
    their own first 20 pieces, 14 were called moved at the last piece. The series of CIEDE2000 to the
    first piece starts with the second piece, since the first has no distance from itself.

    Raises
    ------
    ValueError
        There is no chart at all.
    """
    if not charts:
        raise ValueError("a finding needs at least one chart")
    moved = [_movement(quantity, charts[quantity]) for quantity in Quantity if quantity in charts]
    found = [movement for movement in moved if movement is not None]
    lasting = tuple(movement for movement in found if not movement.single_piece)
    provisional = any(chart.baseline.provisional for chart in charts.values())
    if lasting:
        return DriftFinding(BatchState.MOVED, lasting, hint_for(lasting), provisional)
    if found:
        return DriftFinding(BatchState.PIECE_STANDS_OUT, tuple(found), Hint.LOOK_AT_PIECE, provisional)
    return DriftFinding(BatchState.STEADY, (), Hint.NONE, provisional)


def _movement(quantity: Quantity, chart: EwmaChart) -> Movement | None:
    """Return how one quantity has moved, None while its average stays within the limits."""
    series, baseline = chart.series, chart.baseline
    if not any(signal.index >= len(series) - RECENT_PIECES for signal in chart.signals):
        return None
    deviations = np.array(series.values) - baseline.centre
    change = change_point(deviations, np.array(chart.point_standard_deviations))
    return Movement(
        quantity=quantity,
        side=Side.ABOVE if change.size > 0 else Side.BELOW,
        pattern=change.pattern,
        since_piece=series.piece_numbers[change.index],
        earliest_piece=series.piece_numbers[change.earliest_index],
        latest_piece=series.piece_numbers[change.latest_index],
        last_piece=series.piece_numbers[-1],
        hours_since_start=series.hours[change.index],
        size=change.size,
        standard_uncertainty=math.hypot(change.standard_uncertainty, baseline.centre_uncertainty),
    )


def hint_for(movements: tuple[Movement, ...]) -> Hint:
    """Return where to look first, from which quantities moved and how; common practice, no published source.

    The veil comes first, since it belongs to the photo and pretends to be pale or rich ink; then yellowing,
    which explains a falling fraction as dye that faded in the heat; then the ink itself, then colour alone.
    """
    by_quantity = {movement.quantity: movement for movement in movements}
    if Quantity.VEIL in by_quantity:
        return Hint.LIGHT_CHANGED if len(by_quantity) == 1 else Hint.SETTLE_LIGHT_FIRST
    for quantity, hints in _HINTS.items():
        if quantity in by_quantity:
            return _hint_of(by_quantity[quantity], hints)
    return Hint.NONE


_HINTS: Final = {
    Quantity.COATING_YELLOWING: {Side.ABOVE: Hint.PRESS_HEATING_UP, Side.BELOW: Hint.CAUSE_UNCLEAR},
    Quantity.TRANSFERRED_FRACTION: {Side.ABOVE: Hint.PRESS_HEATING_UP, Side.BELOW: Hint.PRESSING_WEAKER},
    Quantity.DELTA_E_TO_FIRST_PIECE: {Side.ABOVE: Hint.COLOUR_DRIFTING, Side.BELOW: Hint.CAUSE_UNCLEAR},
}
"""What a slow slide of each quantity points at, the more telling quantity first."""


def _hint_of(movement: Movement, hints: Mapping[Side, Hint]) -> Hint:
    """Return what was changed between two pieces for a step, what changes slowly for a slide."""
    if movement.pattern is Pattern.STEP:
        return Hint.MATERIAL_CHANGED
    return hints[movement.side] if movement.pattern is Pattern.TREND else Hint.CAUSE_UNCLEAR
