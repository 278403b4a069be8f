"""Which pieces of a lot to look at, and how many defective ones to bear: single sampling by ISO 2859-1."""

import json
import math
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from importlib.resources import files
from typing import Any, Final

from dyecast_shared.errors import BatchInvalid

SMALLEST_LOT: Final = 2
"""Pieces; the standard's table of code letters begins here."""


class Severity(StrEnum):
    """How strictly lots are inspected. Reduced inspection is not offered: its table could not be sourced."""

    NORMAL = "normal"
    TIGHTENED = "tightened"


@dataclass(frozen=True, slots=True)
class SamplingPlan:
    """A single sampling plan with its arrows followed.

    `code_letter` is that of the plan used, which an arrow may have moved away from the lot's own. The lot is
    accepted with up to `acceptance_number` defective pieces among `sample_size`, and rejected from
    `rejection_number` on, which is one more.
    """

    code_letter: str
    sample_size: int
    acceptance_number: int
    whole_lot: bool = False

    @property
    def rejection_number(self) -> int:
        """Defective pieces from which the lot is rejected."""
        return self.acceptance_number + 1


@dataclass(frozen=True, slots=True)
class _CodeLetter:
    letter: str
    largest_lot: float
    sample_size: int


def quality_limits_percent() -> tuple[float, ...]:
    """Return the acceptable quality limits offered, in per cent defective pieces, rising."""
    return tuple(map(float, _tables()["acceptable_quality_limits_percent"]))


def sampling_plan(
    lot_size: int, quality_limit_percent: float, severity: Severity = Severity.NORMAL
) -> SamplingPlan:
    """Return the plan for a lot at general inspection level II (ISO 2859-1; tables as in MIL-STD-105E).

    Where the table has an arrow, the first plan below or above it is used, with its own sample size. A sample
    as large as the lot means to inspect the whole lot, with the plan's acceptance number.

    Parameters
    ----------
    lot_size
        Pieces, at least `SMALLEST_LOT`.
    quality_limit_percent
        The acceptable quality limit (AQL), one of `quality_limits_percent()`.
    severity
        Normal, or tightened after lots were rejected (`inspection_severity`).

    Raises
    ------
    BatchInvalid
        The lot is too small for sampling, or the limit is none of those offered.
    """
    if lot_size < SMALLEST_LOT:
        raise BatchInvalid(
            f"A lot of {lot_size} is too small for sampling.", advice="Inspect each piece by itself."
        )
    row, cell = _table_cell(lot_size, quality_limit_percent, severity)
    sample_size = min(row.sample_size, lot_size)
    return SamplingPlan(row.letter, sample_size, cell, whole_lot=sample_size == lot_size)


def probability_of_acceptance(plan: SamplingPlan, defective_share: float) -> float:
    """Return how probably a plan accepts a lot from a process with this share of defective pieces, 0..1.

    Binomial, as the standard's operating characteristics for per cent nonconforming; in a small lot the
    hypergeometric probability is somewhat higher near the limit. ValueError outside 0..1.
    """
    if not 0 <= defective_share <= 1:
        raise ValueError("the defective share must lie in 0..1")
    return math.fsum(
        math.comb(plan.sample_size, found)
        * defective_share**found
        * (1 - defective_share) ** (plan.sample_size - found)
        for found in range(min(plan.acceptance_number, plan.sample_size) + 1)
    )


def _table_cell(lot_size: int, quality_limit_percent: float, severity: Severity) -> tuple[_CodeLetter, int]:
    """Return the code letter and acceptance number of the plan in use, after following the arrow."""
    rows = _code_letters()
    column = _column(quality_limit_percent)
    numbers = _tables()[severity.value]["acceptance_numbers"]
    place = next(index for index, row in enumerate(rows) if lot_size <= row.largest_lot)
    step = 1 if numbers[rows[place].letter][column] == "down" else -1
    while isinstance(numbers[rows[place].letter][column], str):
        place += step
    return rows[place], numbers[rows[place].letter][column]


def _column(quality_limit_percent: float) -> int:
    limits = quality_limits_percent()
    if quality_limit_percent not in limits:
        offered = ", ".join(f"{limit:g}" for limit in limits)
        raise BatchInvalid(
            f"There is no plan for a quality limit of {quality_limit_percent:g} %.",
            advice=f"Choose one of {offered}.",
        )
    return limits.index(quality_limit_percent)


@cache
def _code_letters() -> tuple[_CodeLetter, ...]:
    def rows() -> Iterator[_CodeLetter]:
        for row in _tables()["code_letters"]["rows"]:
            largest = math.inf if row["largest_lot"] is None else float(row["largest_lot"])
            yield _CodeLetter(row["letter"], largest, row["sample_size"])

    return tuple(rows())


@cache
def _tables() -> dict[str, Any]:
    """Return the tables that ship with dyecast; the file names the source of each."""
    text = files("dyecast_calibration.batch").joinpath("acceptance_plans.json").read_text(encoding="utf-8")
    tables: dict[str, Any] = json.loads(text)
    return tables
