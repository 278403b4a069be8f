"""A dozen invented shops: the plan loses at most half the blanks of every habit, and stays within limits.

`tests/press_shops.py` counts hundreds; these few are here so that a change for the worse is seen.
"""

import numpy as np

from invented_shops import invented_shop
from press_habits import WAYS
from press_shops import TRUTHS, tally

SHOPS = 12


def test_the_plan_loses_at_most_half_the_blanks_of_every_habit_and_never_leaves_the_limits() -> None:
    shops = [invented_shop(np.random.default_rng([7, number]), TRUTHS["finer"])[0] for number in range(SHOPS)]
    found = {way: [tally(way, shop, number) for number, shop in enumerate(shops)] for way in WAYS}
    lost = {way: sum(one.first for one in tallies) for way, tallies in found.items()}
    habits = [way for way in WAYS if not way.startswith(("dyecast", "for comparison"))]
    assert len(habits) == 3
    assert 2 * lost["dyecast plan"] <= min(lost[way] for way in habits), lost
    assert sum(one.outside for one in found["dyecast plan"]) == 0
