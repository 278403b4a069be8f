"""Count the blanks lost in invented shops: by habit, and by `dyecast plan`.

python tests/press_shops.py --shops 500 --truth usual

A piece is lost unless it is good in truth and graded good. Counted are those lost until the first good piece,
and until three good ones in a row. No way knows the truth, only grades and measured fractions.
"""

import argparse
import sys
import time
from dataclasses import dataclass

import numpy as np

from dyecast_calibration.press.learning import TriedBlank, learned_blank
from dyecast_calibration.press.next_pressing import next_pressing
from dyecast_calibration.press.press_window import press_window
from invented_shops import InventedShop, Truth, invented_shop
from press_habits import WAYS

TRUTHS = {
    "usual": Truth("as the prior says"),
    "finer": Truth("heat computed with three times the cells", finer=3),
    "tender": Truth("coatings that yellow three times as fast", finer=3, yellowing=3.0),
    "edge": Truth("energies at the edges of the published range", finer=3, edge=True),
}

MOST_PIECES = 25
"""Pieces after which a shop gives up; those that never got there count as this many lost."""


@dataclass(frozen=True, slots=True)
class Tally:
    """One shop by one way: blanks lost until the first good piece and until three, and settings outside."""

    first: int
    three: int
    outside: int
    over: int


def tally(way: str, shop: InventedShop, seed: int) -> Tally:
    """Let one way find its recipe in a shop; each piece has its own chance, the same for all ways."""
    settings = WAYS[way](shop)
    kelvin, seconds = next(settings)
    lost, row, outside, over, first = 0, 0, 0, 0, None
    for piece in range(MOST_PIECES):
        outside += not shop.limits.allow(kelvin, seconds)
        seen, good = shop.press(kelvin, seconds, np.random.default_rng([seed, piece]))
        over += seen.grades[-1] == "over-pressed"
        sold = good and seen.grades[-1] == "good"
        lost, row = lost + (not sold), row + 1 if sold else 0
        first = lost if sold and first is None else first
        if row == 3:
            break
        kelvin, seconds = settings.send(seen)
    reached = row == 3
    return Tally(MOST_PIECES if first is None else first, lost if reached else MOST_PIECES, outside, over)


def count(shops: int, truth: Truth, seed: int) -> tuple[dict[str, list[Tally]], float]:
    """Let every way work in the same shops; show progress on standard error.

    Returned beside the tallies is what the planner promised on average before the first piece.
    """
    tallies: dict[str, list[Tally]] = {way: [] for way in WAYS}
    thrown, promises, started = 0, 0.0, time.perf_counter()
    for number in range(shops):
        shop, skipped = invented_shop(np.random.default_rng([seed, number]), truth)
        thrown, promises = thrown + skipped, promises + promised(shop)
        for way, found in tallies.items():
            found.append(tally(way, shop, seed + number + 1))
        if sys.stderr.isatty() or (number + 1) % 50 == 0:
            passed = time.perf_counter() - started
            print(f"\r{number + 1} of {shops} shops, {passed:.0f} s", end="", file=sys.stderr)
    print(f"; {thrown} without any good setting were drawn again", file=sys.stderr)
    return tallies, promises / shops


def promised(shop: InventedShop) -> float:
    """Return how many blanks the planner expects to lose before it has pressed one."""
    window = press_window(
        learned_blank(TriedBlank(shop.planned_stack, shop.supplier)),
        shop.planned_stack,
        shop.supplier,
        shop.limits,
    )
    return next_pressing(window, shop.supplier, shop.limits).expected_lost


def table(tallies: dict[str, list[Tally]]) -> str:
    """Return the figures as a table of Markdown."""
    lines = [
        "| way | lost until the first good | until three in a row | never three | over-pressed | outside |",
        "| --- | --- | --- | --- | --- | --- |",
    ]
    for way, found in tallies.items():
        first, three = np.array([one.first for one in found]), np.array([one.three for one in found])
        error = first.std() / np.sqrt(len(first))
        figures = (
            f"{first.mean():.2f} ± {error:.2f} | {three.mean():.2f} | {np.mean(three == MOST_PIECES):.1%}"
        )
        over = np.mean([one.over for one in found])
        lines.append(f"| {way} | {figures} | {over:.2f} | {sum(one.outside for one in found)} |")
    return "\n".join(lines)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--shops", type=int, default=500)
    parser.add_argument("--truth", choices=TRUTHS, default="usual")
    parser.add_argument("--seed", type=int, default=2026)
    chosen = parser.parse_args()
    found, promise = count(chosen.shops, TRUTHS[chosen.truth], chosen.seed)
    print(f"{TRUTHS[chosen.truth].name}, {chosen.shops} shops\n\n{table(found)}")
    print(f"\nBefore the first piece the planner expected to lose {promise:.2f} blanks.")
