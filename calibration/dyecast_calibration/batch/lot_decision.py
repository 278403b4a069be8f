"""Accept a lot, reject it, or inspect more of it; and how strictly to inspect the next one."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from dyecast_calibration.batch.acceptance_sampling import SamplingPlan, Severity, sampling_plan
from dyecast_shared.errors import BatchInvalid

REJECTED_TO_TIGHTEN: Final = 2
"""Lots rejected, among `LOTS_TO_LOOK_AT` or fewer in a row, that tighten inspection (source as below)."""

LOTS_TO_LOOK_AT: Final = 5
"""Lots in a row, for tightening as for going back to normal (ISO 2859-1, switching rules; from memory)."""


class LotAction(StrEnum):
    """What to do with the lot now."""

    INSPECT_MORE = "inspect-more"
    ACCEPT = "accept"
    REJECT = "reject"


@dataclass(frozen=True, slots=True)
class LotDecision:
    """The action, the plan behind it, and how many pieces of the sample are still to be inspected."""

    action: LotAction
    plan: SamplingPlan
    still_to_inspect: int


def lot_decision(
    lot_size: int,
    quality_limit_percent: float,
    inspected: int,
    defective: int,
    severity: Severity = Severity.NORMAL,
) -> LotDecision:
    """Return what to do with a lot of which `inspected` random pieces held `defective` ones so far.

    Rejected as soon as the rejection number is reached, accepted only after the whole sample, as its
    remaining pieces still tell about the process. Pieces beyond the sample are not allowed: going on until
    the count suits would change the plan.

    Raises
    ------
    BatchInvalid
        Counts that are negative, contradict each other or exceed the sample; or as `sampling_plan`.
    """
    plan = sampling_plan(lot_size, quality_limit_percent, severity)
    _check_counts(plan, inspected, defective)
    remaining = plan.sample_size - inspected
    if defective >= plan.rejection_number:
        return LotDecision(LotAction.REJECT, plan, 0)
    if remaining > 0:
        return LotDecision(LotAction.INSPECT_MORE, plan, remaining)
    return LotDecision(LotAction.ACCEPT, plan, 0)


def _check_counts(plan: SamplingPlan, inspected: int, defective: int) -> None:
    if inspected < 0 or defective < 0:
        raise BatchInvalid("The number of pieces inspected or defective is negative.")
    if defective > inspected:
        raise BatchInvalid(f"{defective} of {inspected} inspected pieces cannot be defective.")
    if inspected > plan.sample_size:
        raise BatchInvalid(
            f"{inspected} pieces were inspected, but the sample is {plan.sample_size}.",
            advice=f"Count only the {plan.sample_size} pieces drawn for the sample.",
        )


def inspection_severity(accepted: Sequence[bool]) -> Severity:
    """Return how strictly to inspect the next lot, from whether each lot so far was accepted at first sight.

    Normal at first; tightened after two of five or fewer lots in a row were rejected; normal again after five
    accepted in a row (ISO 2859-1, switching rules; from memory). Lots from before a switch do not count
    after it. That the standard stops acceptance after five lots rejected on tightened inspection is left to
    the shop.
    """
    severity, recent = Severity.NORMAL, list[bool]()
    for was_accepted in accepted:
        recent = [*recent, was_accepted][-LOTS_TO_LOOK_AT:]
        if severity is Severity.NORMAL and recent.count(False) >= REJECTED_TO_TIGHTEN:
            severity, recent = Severity.TIGHTENED, []
        elif severity is Severity.TIGHTENED and recent.count(True) == LOTS_TO_LOOK_AT:
            severity, recent = Severity.NORMAL, []
    return severity
