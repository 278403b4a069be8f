"""What a batch's certificate does not say, in plain sentences."""

from typing import Final

from dyecast_api.batches.batch_words import number_spans
from dyecast_api.batches.whole_batch import WholeBatch

NEVER_MEASURED: Final = (
    "Temperature, time and pressure are as the recipe says; nothing in the press was measured.",
    "Colours were measured from photos taken beside a printed card, not with a spectrophotometer.",
    "Wear, washing, scratching, light fastness, adhesion and contact with food were not tested.",
    "The inside and the back of the blanks, their edges and their size in depth were not looked at.",
)
"""What no photo tells."""

TRUST_WORDS: Final = {
    "as designed": (
        "The card's colours were taken as designed; a home printer misses them by an amount that was not "
        "measured. Differences between pieces of this batch do not suffer from that."
    ),
}


def not_measured(whole: WholeBatch) -> tuple[str, ...]:
    """Return everything that was not measured, what is particular to this batch first."""
    return (
        *_pieces_left_out(whole),
        *_figures_left_out(whole),
        *_card(whole),
        *_faults(whole),
        *NEVER_MEASURED,
    )


def _pieces_left_out(whole: WholeBatch) -> list[str]:
    """Say which pieces nobody inspected."""
    planned, inspected = whole.batch.planned_pieces, len(whole.pieces)
    if planned is not None and planned > inspected:
        return [f"{planned - inspected} of {planned} planned pieces were not inspected."]
    if planned is None and whole.batch.every_nth > 1:
        return [
            "Pieces between the inspected ones were not looked at, and how many were pressed in all is not "
            "known."
        ]
    return []


def _figures_left_out(whole: WholeBatch) -> list[str]:
    """Say what could not be measured on pieces that were inspected, and whether there are limits at all."""
    told = []
    missing = [piece.number for piece in whole.counted[1:] if piece.pressing.delta_e_2000_first is None]
    if missing:
        told.append(f"Not compared with the first piece: piece {number_spans(missing)}.")
    told += [
        f"No limits for one quantity: {charts.why_no_limits}"
        for charts in whole.charts.quantities
        if charts.why_no_limits and whole.charts.finding is not None
    ]
    if whole.charts.finding is None:
        told.append(
            f"Whether the process was steady cannot be told: {whole.charts.quantities[0].why_no_limits}"
        )
    return told


def _card(whole: WholeBatch) -> list[str]:
    """Say how the colours of the card are known."""
    trusts = {(piece.document.get("card") or {}).get("trust") for piece in whole.counted}
    return [words for trust, words in TRUST_WORDS.items() if trust in trusts]


def _faults(whole: WholeBatch) -> list[str]:
    """Say which faults could not be looked for, each once."""
    told: dict[str, list[int]] = {}
    for piece in whole.counted:
        for reason in piece.document.get("faults_not_judged") or ():
            told.setdefault(reason["sentence"], []).append(piece.number)
    return [f"{sentence} (piece {number_spans(pieces)})" for sentence, pieces in told.items()]
