"""Sampling a lot by ISO 2859-1: the plans, their operating characteristics, and what to do with a lot."""

import json
from importlib.resources import files
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom

from dyecast_calibration.batch.acceptance_sampling import (
    SamplingPlan,
    Severity,
    probability_of_acceptance,
    quality_limits_percent,
    sampling_plan,
)
from dyecast_calibration.batch.lot_decision import LotAction, inspection_severity, lot_decision
from dyecast_shared.errors import BatchInvalid

LARGEST_LOTS = dict(
    zip(
        "ABCDEFGHJKLMNPQ",
        (8, 15, 25, 50, 90, 150, 280, 500, 1200, 3200, 10_000, 35_000, 150_000, 500_000, 10**7),
        strict=True,
    )
)
"""Code letters at general level II, MIL-STD-105E, table I."""

SAMPLE_SIZES = (2, 3, 5, 8, 13, 20, 32, 50, 80, 125, 200, 315, 500, 800, 1250)
"""By code letter, MIL-STD-105E, table II-A."""

REJECTION_NUMBERS = {
    "C": {2.5: 1, 10: 2},
    "D": {1.5: 1, 6.5: 2, 10: 3},
    "E": {1.0: 1, 4.0: 2, 6.5: 3, 10: 4},
    "F": {0.65: 1, 2.5: 2, 4.0: 3, 6.5: 4, 10: 6},
    "G": {1.5: 2, 2.5: 3, 4.0: 4, 6.5: 6, 10: 8},
    "H": {1.0: 2, 1.5: 3, 2.5: 4, 4.0: 6, 6.5: 8, 10: 11},
}
"""Normal inspection, MIL-STD-105E, table II-A, as noted apart from the data file."""

CHANCE_AT_THE_LIMIT = {Severity.NORMAL: (0.87, 0.995), Severity.TIGHTENED: (0.79, 0.965)}
"""How probably the standard's plans accept quality that is just at the limit."""
DEFECTIVE_EXPECTED = {
    Severity.NORMAL: {0: 0.125, 1: 0.5, 2: 0.8, 3: 1.25, 5: 2.0, 7: 3.15, 10: 5.0, 14: 8.0, 21: 12.5},
    Severity.TIGHTENED: {0: 0.2, 1: 0.8, 2: 1.25, 3: 2.0, 5: 3.15, 8: 5.0, 12: 8.0, 18: 12.5},
}
"""Defective pieces in a sample of quality at the limit, by acceptance number: sample sizes and limits of the
standard both go up in preferred numbers (ISO 3, series R5, rounded), so that their product does (from
memory). Neighbours are 60 % apart."""

lots = st.integers(2, 1_000_000)
limits = st.sampled_from(quality_limits_percent())
severities = st.sampled_from(Severity)


def table() -> dict[str, Any]:
    text = files("dyecast_calibration.batch").joinpath("acceptance_plans.json").read_text(encoding="utf-8")
    loaded: dict[str, Any] = json.loads(text)
    return loaded


def plans_written(severity: Severity) -> dict[tuple[str, float], SamplingPlan]:
    """Return the plans that stand in the table themselves, by letter and limit, without the arrows."""
    tables = table()
    sizes = {row["letter"]: row["sample_size"] for row in tables["code_letters"]["rows"]}
    return {
        (letter, limit): SamplingPlan(letter, sizes[letter], number)
        for letter, row in tables[severity.value]["acceptance_numbers"].items()
        for limit, number in zip(quality_limits_percent(), row, strict=True)
        if isinstance(number, int)
    }


@pytest.mark.parametrize(
    ("letter", "limit", "rejection"),
    [(letter, limit, number) for letter, row in REJECTION_NUMBERS.items() for limit, number in row.items()],
)
def test_a_plan_has_the_standards_rejection_number(letter: str, limit: float, rejection: int) -> None:
    plan = sampling_plan(LARGEST_LOTS[letter], limit)
    assert (plan.code_letter, plan.rejection_number) == (letter, rejection)


def test_lots_get_the_standards_code_letters_and_sample_sizes() -> None:
    rows = table()["code_letters"]["rows"]
    assert [row["sample_size"] for row in rows] == list(SAMPLE_SIZES)
    assert {row["letter"]: row["largest_lot"] or 10**7 for row in rows} == LARGEST_LOTS


@pytest.mark.parametrize("severity", Severity)
def test_every_plan_accepts_quality_at_the_limit_as_often_as_the_standards_plans_do(
    severity: Severity,
) -> None:
    chances = {
        place: probability_of_acceptance(plan, place[1] / 100)
        for place, plan in plans_written(severity).items()
    }
    least, most = CHANCE_AT_THE_LIMIT[severity]
    assert {place: chance for place, chance in chances.items() if not least <= chance <= most} == {}


@pytest.mark.parametrize("severity", Severity)
def test_every_plan_stands_where_the_standards_preferred_numbers_put_it(severity: Severity) -> None:
    for (letter, limit), plan in plans_written(severity).items():
        expected = DEFECTIVE_EXPECTED[severity][plan.acceptance_number]
        assert plan.sample_size * limit / 100 == pytest.approx(expected, rel=0.1), (letter, limit)


@pytest.mark.parametrize("severity", Severity)
def test_neighbouring_plans_and_arrows_stand_on_the_tables_diagonals(severity: Severity) -> None:
    rows = list(table()[severity.value]["acceptance_numbers"].values())
    for upper, lower in pairwise(rows[1:]):
        assert upper[1:] == lower[:-1]


@given(lots, limits, severities)
def test_an_arrow_leads_to_the_nearest_plan_in_its_direction(
    lot: int, limit: float, severity: Severity
) -> None:
    plan = sampling_plan(lot, limit, severity)
    assert (plan.code_letter, limit) in plans_written(severity)
    assert plan.sample_size <= lot
    assert plan.whole_lot == (plan.sample_size == lot)


def test_an_arrow_down_brings_its_larger_sample_and_an_arrow_up_its_smaller_one() -> None:
    assert sampling_plan(60, 2.5).sample_size == 20
    assert sampling_plan(60, 2.5).acceptance_number == 1
    assert sampling_plan(60, 1.5).sample_size == 8
    assert sampling_plan(60, 1.5).acceptance_number == 0


def test_a_sample_as_large_as_the_lot_means_to_inspect_it_all() -> None:
    assert sampling_plan(8, 0.65) == SamplingPlan("F", 8, 0, whole_lot=True)


@given(limits, severities, st.data())
def test_a_larger_lot_never_gets_a_less_telling_plan(
    limit: float, severity: Severity, data: st.DataObject
) -> None:
    small = data.draw(st.integers(1000, 100_000))
    large = data.draw(st.integers(small, 1_000_000))
    poor = min(4 * limit / 100, 1.0)
    chances = [probability_of_acceptance(sampling_plan(lot, limit, severity), poor) for lot in (small, large)]
    assert chances[1] <= chances[0] + 1e-12


@given(lots, limits)
def test_tightened_inspection_accepts_no_more_than_normal(lot: int, limit: float) -> None:
    normal, tightened = (sampling_plan(lot, limit, severity) for severity in Severity)
    share = limit / 100
    assert probability_of_acceptance(tightened, share) <= probability_of_acceptance(normal, share) + 1e-12


@given(st.integers(1, 1250), st.integers(0, 21), st.floats(0, 1))
def test_the_operating_characteristic_is_the_binomial_distribution(
    sample: int, most: int, share: float
) -> None:
    plan = SamplingPlan("A", sample, most)
    assert probability_of_acceptance(plan, share) == pytest.approx(
        float(binom.cdf(most, sample, share)), abs=1e-9
    )


def test_a_lot_is_inspected_until_the_sample_decides() -> None:
    """A lot of 100 at 2.5 %: 20 pieces, accepted with one defective, rejected with two."""
    assert lot_decision(100, 2.5, 0, 0).still_to_inspect == 20
    assert lot_decision(100, 2.5, 19, 1).action is LotAction.INSPECT_MORE
    assert lot_decision(100, 2.5, 20, 1).action is LotAction.ACCEPT
    assert lot_decision(100, 2.5, 20, 2).action is LotAction.REJECT


def test_a_lot_is_rejected_as_soon_as_it_cannot_be_accepted() -> None:
    decision = lot_decision(100, 2.5, 3, 2)
    assert (decision.action, decision.still_to_inspect) == (LotAction.REJECT, 0)


@given(lots, limits, severities, st.data())
def test_every_lot_is_decided_at_the_latest_with_its_whole_sample(
    lot: int, limit: float, severity: Severity, data: st.DataObject
) -> None:
    size = sampling_plan(lot, limit, severity).sample_size
    defective = data.draw(st.integers(0, size))
    decision = lot_decision(lot, limit, size, defective, severity)
    accepted = defective <= decision.plan.acceptance_number
    assert decision.action is (LotAction.ACCEPT if accepted else LotAction.REJECT)


@pytest.mark.parametrize("lot", [-5, 0, 1])
def test_a_lot_too_small_for_sampling_is_sent_back(lot: int) -> None:
    with pytest.raises(BatchInvalid, match="Inspect each piece"):
        sampling_plan(lot, 2.5)


@pytest.mark.parametrize("limit", [0.0, -1.0, 3.0, 100.0, float("nan")])
def test_a_quality_limit_not_in_the_table_is_answered_with_those_that_are(limit: float) -> None:
    with pytest.raises(BatchInvalid, match=r"Choose one of 0\.65, 1, 1\.5"):
        sampling_plan(100, limit)


@pytest.mark.parametrize(("inspected", "defective"), [(-1, 0), (5, -1), (3, 4), (21, 0)])
def test_counts_that_cannot_be_are_sent_back(inspected: int, defective: int) -> None:
    with pytest.raises(BatchInvalid):
        lot_decision(100, 2.5, inspected, defective)


@pytest.mark.parametrize("share", [-0.1, 1.1, float("nan")])
def test_a_share_outside_0_to_1_is_a_mistake_of_the_program(share: float) -> None:
    with pytest.raises(ValueError, match="share"):
        probability_of_acceptance(SamplingPlan("A", 2, 0), share)


YES, NO = True, False


@pytest.mark.parametrize(
    ("accepted", "severity"),
    [
        ((), Severity.NORMAL),
        ((NO,), Severity.NORMAL),
        ((NO, YES, YES, YES, NO), Severity.TIGHTENED),
        ((NO, YES, YES, YES, YES, NO), Severity.NORMAL),
        ((NO, NO, YES, YES, YES, YES), Severity.TIGHTENED),
        ((NO, NO, YES, YES, YES, YES, YES), Severity.NORMAL),
        ((NO, NO, YES, YES, YES, YES, NO, YES), Severity.TIGHTENED),
    ],
)
def test_rejected_lots_tighten_inspection_and_five_good_ones_loosen_it(
    accepted: tuple[bool, ...], severity: Severity
) -> None:
    assert inspection_severity(accepted) is severity
