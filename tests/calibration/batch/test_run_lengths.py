"""How soon the charts see a move, and how rarely they cry wolf: their run lengths against published ones."""

import numpy as np
import pytest
from numpy.typing import NDArray

from dyecast_calibration.batch.chart_signals import Rule
from dyecast_calibration.batch.ewma_chart import (
    PUBLISHED_DESIGNS,
    EwmaDesign,
    average_standard_deviations,
    weighted_averages,
)
from dyecast_calibration.batch.run_rules import LONGEST_MEMORY, ZONE_RULES, zone_rule_hits
from run_lengths import (
    Watch,
    ewma_run_length,
    shewhart_run_length,
    simulated_run_length,
    zone_rules_run_length,
)

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

SHIFTS = (0.0, 0.25, 0.5, 0.75, 1.0, 1.5, 2.0, 3.0)
PUBLISHED_EWMA = {
    EwmaDesign(0.05, 2.615): (499.8, 84.0, 28.8, 16.4, 11.4, 7.1, 5.2, 3.5),
    EwmaDesign(0.10, 2.814): (499.5, 106.3, 31.3, 15.9, 10.3, 6.1, 4.4, 2.9),
    EwmaDesign(0.20, 2.962): (499.7, 150.2, 41.8, 18.2, 10.5, 5.5, 3.7, 2.4),
    EwmaDesign(0.40, 3.054): (499.9, 223.7, 71.2, 28.4, 14.3, 5.9, 3.5, 2.0),
}
"""Lucas and Saccucci 1990, Technometrics 32, as in Montgomery's table: settled limits, start at the centre.
The tenths were computed again by Markov chain."""
PUBLISHED_SHEWHART = ((0, 370.4), (0.5, 155.2), (1, 43.9), (1.5, 15.0), (2, 6.3), (3, 2.0))
"""Three-sigma limits, as in the textbooks."""
PUBLISHED_ZONE_RULES = 91.75
"""Western Electric rules 1 to 4 in control: Champ and Woodall 1987, Technometrics 29 (from memory)."""
HALF_A_DIGIT = 0.05
"""The tables are rounded to one decimal."""
RUNS = 10_000

each_published_ewma = pytest.mark.parametrize(
    ("design", "shift", "published"),
    [
        pytest.param(design, shift, length, id=f"{design.weight}-{shift}")
        for design, lengths in PUBLISHED_EWMA.items()
        for shift, length in zip(SHIFTS, lengths, strict=True)
    ],
)


def watch_rules(*rules: Rule) -> Watch:
    """Watch for zone rules, remembering the last standardised values."""

    def watch(values: Floats, memory: Floats) -> tuple[Bools, Floats]:
        seen = np.concatenate([memory, values], axis=1)
        hits = np.zeros(seen.shape, dtype=np.bool_)
        for rule in rules:
            hits |= zone_rule_hits(seen, rule) | zone_rule_hits(-seen, rule)
        return hits[:, LONGEST_MEMORY:], seen[:, -LONGEST_MEMORY:]

    return watch


def watch_average(design: EwmaDesign) -> Watch:
    """Watch the average against the limits it settles to, remembering the last average."""
    limit = design.limit_width * average_standard_deviations(np.ones(1000), design.weight)[-1]

    def watch(values: Floats, memory: Floats) -> tuple[Bools, Floats]:
        averages = weighted_averages(values, design.weight, memory[:, 0])
        return np.abs(averages) > limit, averages[:, -1:]

    return watch


def rules_run_length(shift: float, *rules: Rule) -> float:
    nothing_yet = np.full(LONGEST_MEMORY, np.nan)
    return simulated_run_length(watch_rules(*rules), nothing_yet, shift, runs=RUNS, seed=1956)


@each_published_ewma
def test_the_markov_chain_gives_the_published_run_lengths_of_the_average_within_one_per_cent(
    design: EwmaDesign, shift: float, published: float
) -> None:
    assert ewma_run_length(design, shift) == pytest.approx(published, rel=0.01, abs=HALF_A_DIGIT)


@each_published_ewma
def test_the_simulated_average_signals_as_late_as_published_within_five_per_cent(
    design: EwmaDesign, shift: float, published: float
) -> None:
    simulated = simulated_run_length(watch_average(design), np.zeros(1), shift, runs=RUNS, seed=1990)
    assert simulated == pytest.approx(published, rel=0.05)


@pytest.mark.parametrize("design", PUBLISHED_DESIGNS, ids=lambda design: str(design.weight))
def test_every_design_offered_gives_a_false_alarm_about_every_500_pieces(design: EwmaDesign) -> None:
    assert ewma_run_length(design, 0) == pytest.approx(500, rel=0.01)


@pytest.mark.parametrize(("shift", "published"), PUBLISHED_SHEWHART)
def test_three_sigma_limits_have_the_textbooks_run_lengths(shift: float, published: float) -> None:
    assert shewhart_run_length(shift) == pytest.approx(published, rel=0.01, abs=HALF_A_DIGIT)
    assert rules_run_length(shift, Rule.BEYOND_LIMIT) == pytest.approx(published, rel=0.05)


def test_an_average_of_weight_one_is_a_shewhart_chart() -> None:
    design = EwmaDesign(1.0, 3.0)
    for shift, _ in PUBLISHED_SHEWHART:
        assert ewma_run_length(design, shift) == pytest.approx(shewhart_run_length(shift), rel=1e-6)


def test_all_zone_rules_together_give_the_published_rate_of_false_alarms() -> None:
    assert zone_rules_run_length(0) == pytest.approx(PUBLISHED_ZONE_RULES, abs=0.005)
    assert rules_run_length(0, *ZONE_RULES) == pytest.approx(PUBLISHED_ZONE_RULES, rel=0.05)


@pytest.mark.parametrize("shift", [0.5, 1.0, 2.0])
def test_all_zone_rules_together_see_a_move_as_soon_as_the_markov_chain_says(shift: float) -> None:
    assert rules_run_length(shift, *ZONE_RULES) == pytest.approx(zone_rules_run_length(shift), rel=0.05)
