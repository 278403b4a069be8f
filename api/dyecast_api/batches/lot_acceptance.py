"""Accepting the whole batch by its inspected pieces (ISO 2859-1), for shops that want that."""

from collections.abc import Sequence
from typing import Final

from dyecast_api.batches.batch_values import Batch, BatchPiece, Sampling
from dyecast_calibration.batch.acceptance_sampling import SamplingPlan, Severity, sampling_plan
from dyecast_calibration.batch.lot_decision import LotAction, LotDecision, lot_decision
from dyecast_shared.errors import BatchInvalid

ACTION_WORDS: Final = {
    LotAction.ACCEPT: "The lot is accepted",
    LotAction.REJECT: "The lot is rejected",
    LotAction.INSPECT_MORE: "The lot is not decided yet",
}


def entered_sampling(
    quality_limit_percent: float | None, planned_pieces: int | None, *, tightened: bool
) -> Sampling | None:
    """Return how the lot is to be accepted, None when nobody asked for it.

    Raises BatchInvalid without a number of pieces, and where there is no plan.
    """
    if quality_limit_percent is None:
        if tightened:
            raise BatchInvalid(
                "Tightened inspection needs a quality limit.",
                advice="Give the limit, or leave tightened inspection out.",
                field="quality_limit_percent",
            )
        return None
    if planned_pieces is None:
        raise BatchInvalid(
            "To accept a lot its number of pieces must be known.",
            advice="Say how many pieces there are to be.",
            field="planned_pieces",
        )
    severity = Severity.TIGHTENED if tightened else Severity.NORMAL
    sampling_plan(planned_pieces, quality_limit_percent, severity)
    return Sampling(quality_limit_percent, severity.value)


def every_nth_for(sampling: Sampling | None, planned_pieces: int | None) -> int:
    """Return which pieces to inspect so that the sample is spread over the lot; 1 without sampling."""
    if sampling is None or planned_pieces is None:
        return 1
    return max(1, planned_pieces // plan_of(sampling, planned_pieces).sample_size)


def plan_of(sampling: Sampling, planned_pieces: int) -> SamplingPlan:
    """Return the plan of a lot."""
    return sampling_plan(planned_pieces, sampling.quality_limit_percent, Severity(sampling.severity))


def sampling_words(batch: Batch) -> str:
    """Say how the lot is accepted; empty without sampling."""
    if batch.sampling is None or batch.planned_pieces is None:
        return ""
    plan = plan_of(batch.sampling, batch.planned_pieces)
    return (
        f"Lot acceptance by ISO 2859-1, general level II, {batch.sampling.severity} inspection, quality "
        f"limit {batch.sampling.quality_limit_percent:g} %: {plan.sample_size} of {batch.planned_pieces} "
        f"pieces are looked at; up to {plan.acceptance_number} that are not good are borne."
    )


def acceptance_of(batch: Batch, pieces: Sequence[BatchPiece]) -> LotDecision | None:
    """Return what the inspected pieces say of the lot, None without sampling.

    The sample is the pieces inspected first, from the approved first piece on, as many as the plan asks for.
    """
    if batch.sampling is None or batch.planned_pieces is None:
        return None
    sample = pieces[: plan_of(batch.sampling, batch.planned_pieces).sample_size]
    return lot_decision(
        batch.planned_pieces,
        batch.sampling.quality_limit_percent,
        len(sample),
        sum(not piece.is_good for piece in sample),
        Severity(batch.sampling.severity),
    )


def acceptance_words(decision: LotDecision, pieces: Sequence[BatchPiece]) -> str:
    """Say what was decided of the lot, and on which count."""
    sample = pieces[: decision.plan.sample_size]
    defective = sum(not piece.is_good for piece in sample)
    more = f", {decision.still_to_inspect} still to inspect" if decision.still_to_inspect else ""
    return (
        f"{ACTION_WORDS[decision.action]}: {defective} of {len(sample)} inspected pieces of the sample are "
        f"not good; up to {decision.plan.acceptance_number} of {decision.plan.sample_size} are borne{more}."
    )
