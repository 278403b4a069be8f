"""Blanks pressed and lost, their cost and first-piece yield, by blank, press and month: pure counting."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from dyecast_api.press_log.log_values import Blank, Press
from dyecast_api.press_log.pressings import LoggedPressing

FIRST_PIECE: Final = (
    "A run is a batch, or what one recipe pressed on one day (UTC) outside batches; its first piece is the "
    "one logged first. First-piece yield is the share of runs whose first piece is good."
)
"""What the yield means, said beside every table."""


@dataclass(frozen=True, slots=True)
class WorthLine:
    """One line of a table.

    Attributes
    ----------
    pressed, not_good, lost
        Pieces; `not_good` of those that were graded.
    cost
        Of the lost blanks, by currency.
    lost_without_cost
        Lost blanks of which nobody said what they cost.
    runs, first_good
        Runs whose first piece was graded, and those where it was good.
    """

    name: str
    pressed: int
    not_good: int
    lost: int
    cost: Mapping[str, float]
    lost_without_cost: int
    runs: int
    first_good: int

    @property
    def first_piece_yield(self) -> float | None:
        """Share of runs whose first piece was good, None without runs."""
        return self.first_good / self.runs if self.runs else None


@dataclass(frozen=True, slots=True)
class Worth:
    """The tables, each with its lines by name (months in order), and the line of everything."""

    by_blank: tuple[WorthLine, ...]
    by_press: tuple[WorthLine, ...]
    by_month: tuple[WorthLine, ...]
    total: WorthLine

    @property
    def tables(self) -> tuple[tuple[str, tuple[WorthLine, ...]], ...]:
        """The tables with what they go by."""
        return (("blank", self.by_blank), ("press", self.by_press), ("month", self.by_month))


def worth(pressings: Sequence[LoggedPressing], blanks: Sequence[Blank], presses: Sequence[Press]) -> Worth:
    """Count what was pressed, in the order of the log; pressings that were taken back do not belong in."""
    blank_of = {blank.number: blank for blank in blanks}
    press_of = {press.number: press for press in presses}
    firsts = _first_pieces(pressings)

    def table(name_of: Callable[[LoggedPressing], str]) -> tuple[WorthLine, ...]:
        names = sorted({name_of(one) for one in pressings})
        return tuple(
            _line(name, [one for one in pressings if name_of(one) == name], blank_of, firsts)
            for name in names
        )

    return Worth(
        table(lambda one: blank_of[one.recipe.blank_id].name),
        table(lambda one: press_of[one.recipe.press_id].name),
        table(lambda one: f"{one.pressing.pressed_at:%Y-%m}"),
        _line("all", pressings, blank_of, firsts),
    )


def _first_pieces(pressings: Sequence[LoggedPressing]) -> frozenset[int]:
    """Return the numbers of the pressings that were the first of their run."""
    seen: set[tuple[int | None, object]] = set()
    firsts = set()
    for one in pressings:
        pressing = one.pressing
        day = (pressing.recipe_id, pressing.pressed_at.date())
        run = (pressing.batch_id, None if pressing.batch_id is not None else day)
        if run not in seen:
            seen.add(run)
            firsts.add(pressing.number)
    return frozenset(firsts)


def _line(
    name: str, pressings: Sequence[LoggedPressing], blank_of: Mapping[int, Blank], firsts: frozenset[int]
) -> WorthLine:
    lost = [blank_of[one.recipe.blank_id] for one in pressings if one.pressing.lost]
    cost: dict[str, float] = {}
    for blank in lost:
        if blank.cost is not None:
            currency = blank.currency or ""
            cost[currency] = cost.get(currency, 0.0) + blank.cost
    graded = [one.pressing for one in pressings if one.pressing.grade is not None]
    first = [pressing for pressing in graded if pressing.number in firsts]
    return WorthLine(
        name=name,
        pressed=len(pressings),
        not_good=sum(pressing.grade != "good" for pressing in graded),
        lost=len(lost),
        cost=cost,
        lost_without_cost=sum(blank.cost is None for blank in lost),
        runs=len(first),
        first_good=sum(pressing.grade == "good" for pressing in first),
    )
