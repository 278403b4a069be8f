"""What a batch is held against: the centre and the scatter of pieces pressed while all was well."""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.batch.series import MeasuredSeries
from dyecast_shared.errors import BatchInvalid

MOVING_RANGE_TO_STANDARD_DEVIATION: Final = 1.128
"""d2 for ranges of two: mean moving range over standard deviation of normal values, 2/√π rounded as printed
in the tables (ISO 7870-2; Montgomery, Introduction to Statistical Quality Control, appendix VI)."""

LEAST_PIECES: Final = 8
"""Fewest pieces a baseline may come from; our choice. The standard deviation from eight is off by about a
third (relative standard error of the mean moving range, about 0.9/√n)."""

FULL_PIECES: Final = 20
"""Pieces from which limits stop being provisional: 20 to 25 is the usual advice (Montgomery)."""


@dataclass(frozen=True, slots=True)
class Baseline:
    """The centre and scatter that charts are drawn with, in the quantity's unit.

    Attributes
    ----------
    centre
        Finite.
    piece_standard_deviation
        From piece to piece, the measurement's own scatter taken off; finite, zero or more.
    pieces
        How many pieces it comes from, one or more.
    centre_uncertainty
        Standard uncertainty of the centre; finite, zero or more, zero for a centre that is taken as known.

    Raises
    ------
    ValueError
        A field is out of its range.
    """

    centre: float
    piece_standard_deviation: float
    pieces: int
    centre_uncertainty: float = 0.0

    def __post_init__(self) -> None:
        if not all(map(math.isfinite, (self.centre, self.piece_standard_deviation, self.centre_uncertainty))):
            raise ValueError("centre, standard deviation and uncertainty must be finite")
        if self.piece_standard_deviation < 0 or self.centre_uncertainty < 0 or self.pieces < 1:
            raise ValueError("deviation and uncertainty must be zero or more, the pieces one or more")

    @property
    def provisional(self) -> bool:
        """Whether the baseline comes from so few pieces that its limits are still rough."""
        return self.pieces < FULL_PIECES


def baseline_of(series: MeasuredSeries, pieces: int = FULL_PIECES) -> Baseline:
    """Return the baseline of the first `pieces` pieces of a series (of all, when there are fewer).

    The centre is their mean. Their total standard deviation is the mean moving range over d2, which a slow
    drift within the baseline hardly widens (ISO 7870-2). It contains the measurement's scatter, so the mean
    square of their standard uncertainties is taken off, down to zero at most.

    Raises
    ------
    BatchInvalid
        There are fewer than `LEAST_PIECES` pieces.
    ValueError
        `pieces` asks for fewer than `LEAST_PIECES`.
    """
    if pieces < LEAST_PIECES:
        raise ValueError(f"a baseline needs at least {LEAST_PIECES} pieces")
    if len(series) < LEAST_PIECES:
        raise BatchInvalid(
            f"Only {len(series)} of the {LEAST_PIECES} pieces that limits need have been measured.",
            advice="Go on inspecting; until then compare each piece with the first one.",
        )
    values = np.array(series.values[:pieces])
    total = float(np.mean(np.abs(np.diff(values)))) / MOVING_RANGE_TO_STANDARD_DEVIATION
    measurement = float(np.mean(np.square(series.standard_uncertainties[:pieces])))
    return Baseline(
        centre=float(np.mean(values)),
        piece_standard_deviation=math.sqrt(max(total**2 - measurement, 0.0)),
        pieces=values.size,
        centre_uncertainty=math.sqrt(max(total**2, measurement) / values.size),
    )


def point_standard_deviations(baseline: Baseline, series: MeasuredSeries) -> NDArray[np.float64]:
    """Return for each piece, float64 (n,), the standard deviation its value has while nothing moves.

    Piece-to-piece scatter and the piece's own measurement uncertainty add as variances. With equal
    uncertainties this is the textbook chart; a piece measured less surely gets wider limits and so no more
    false alarms than the others (limits of varying width, as for samples of varying size in Montgomery).

    Raises
    ------
    BatchInvalid
        A piece would have no scatter at all, so that any difference would be an alarm.
    """
    deviations: NDArray[np.float64] = np.hypot(
        baseline.piece_standard_deviation, np.array(series.standard_uncertainties)
    )
    if not np.all(deviations > 0):
        raise BatchInvalid(
            "All pieces of the baseline read exactly the same, so no limits can be drawn.",
            advice="Check that each piece was measured from its own photo, and give the uncertainties.",
        )
    return deviations
