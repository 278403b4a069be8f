"""Ways to find a recipe for a new blank: three habits of shops, and the planner.

A way is a generator: it yields a setting (K, s), is sent what was seen of the piece, and yields the next.
"""

from collections.abc import Generator
from itertools import product

from dyecast_calibration.press.learning import TriedBlank, learned_blank
from dyecast_calibration.press.next_pressing import next_pressing
from dyecast_calibration.press.press_window import press_window
from dyecast_calibration.press.tried_pressing import TriedPressing
from invented_shops import InventedShop

Way = Generator[tuple[float, float], TriedPressing, None]

WARMER = 5.0 / 1.8 * 2.0
"""K: ten degrees Fahrenheit, what a habit adds when time alone does not help."""


def half_as_long_again(shop: InventedShop) -> Way:
    """Distrust the supplier from the start: half as long again, then steps of 30 s. No habit of the three."""
    return steps_of_30_seconds(shop, 1.5)


def steps_of_30_seconds(shop: InventedShop, longer: float = 1.0) -> Way:
    """Press as the supplier says; add 30 s to a pale piece, take 30 s off an over-pressed one.

    Half the step when the answer turns round; warmer or cooler at the ends of the time allowed.
    """
    kelvin, seconds, step, last = shop.supplier.platen_temperature, longer * shop.supplier.time, 30.0, 0
    while True:
        seen = yield kelvin, seconds
        way = _way(seen)
        step = step / 2.0 if way * last < 0 else step
        last = way or last
        kelvin, seconds = _moved(shop, kelvin, seconds, seconds + way * step, way)


def bisection(shop: InventedShop) -> Way:
    """Double or halve the supplier's time until pale and over-pressed are known, then halve between them."""
    kelvin, seconds = shop.supplier.platen_temperature, shop.supplier.time
    shortest, longest = 0.0, 0.0
    while True:
        seen = yield kelvin, seconds
        way = _way(seen)
        shortest, longest = (seconds if way > 0 else shortest), (seconds if way < 0 else longest)
        if shortest and longest and longest - shortest < 4.0:
            shortest, longest = 0.0, 0.0  # a grade was wrong: look again
        wanted = (shortest + longest) / 2.0 if shortest and longest else seconds * 2.0**way
        before = kelvin
        kelvin, seconds = _moved(shop, kelvin, seconds, seconds if way == 0 else wanted, way)
        if kelvin != before:
            shortest, longest = 0.0, 0.0


def grid_search(shop: InventedShop) -> Way:
    """Press a grid of three temperatures and five times, nearest to the supplier first, until one is good."""
    supplier, limits = shop.supplier, shop.limits
    grid = list(product((0.0, -5.0, -10.0), (1.0, 1.5, 0.7, 2.0, 3.0)))
    while True:
        for warmer, longer in grid:
            kelvin, seconds = supplier.platen_temperature + warmer, supplier.time * longer
            seconds = min(max(seconds, limits.shortest_time), limits.longest_time)
            while _way((yield kelvin, seconds)) == 0:
                pass


def planner(shop: InventedShop) -> Way:
    """Press what dyecast plans."""
    tried: tuple[TriedPressing, ...] = ()
    while True:
        blank = TriedBlank(shop.planned_stack, shop.supplier, tried)
        window = press_window(learned_blank(blank), blank.stack, shop.supplier, shop.limits)
        advised = next_pressing(window, shop.supplier, shop.limits, tried)
        seen = yield advised.temperature, advised.time
        tried = (*tried, seen)


WAYS = {
    "dyecast plan": planner,
    "supplier, then 30 s steps": steps_of_30_seconds,
    "bisection on time": bisection,
    "grid search": grid_search,
    "for comparison: half as long again, then 30 s steps": half_as_long_again,
}


def _way(seen: TriedPressing) -> int:
    """Return 1 for a pale piece (more time), -1 for an over-pressed one, 0 for a good one."""
    return {"under-pressed": 1, "good": 0, "over-pressed": -1}[seen.grades[-1]]


def _moved(shop: InventedShop, kelvin: float, seconds: float, wanted: float, way: int) -> tuple[float, float]:
    """Return the next setting within the limits; at the end of the time allowed the temperature gives way."""
    limits = shop.limits
    inside = min(max(wanted, limits.shortest_time), limits.longest_time)
    if way == 0 or inside != seconds:
        return kelvin, inside
    warmer = kelvin + way * WARMER
    return min(max(warmer, limits.lowest_temperature), limits.highest_temperature), inside
