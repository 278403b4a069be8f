"""The certificate a batch closes with, as a JSON document: `certificate.schema.json` describes every key."""

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import asdict, replace
from importlib.resources import files
from statistics import fmean, stdev
from typing import Any, Final

from dyecast_api.batches.batch_charts import QuantityCharts
from dyecast_api.batches.batch_series import QUANTITY_WORDS, measured
from dyecast_api.batches.batch_steps import Decision
from dyecast_api.batches.batch_values import BatchPiece
from dyecast_api.batches.batch_words import clock_notes
from dyecast_api.batches.chart_drawing import RULE_LABELS
from dyecast_api.batches.lot_acceptance import acceptance_of
from dyecast_api.batches.not_measured import not_measured
from dyecast_api.batches.whole_batch import WholeBatch
from dyecast_api.printable_text import printable
from dyecast_api.version import SOFTWARE
from dyecast_calibration.batch.drift import Hint, Quantity
from dyecast_calibration.batch.drift_sentences import drift_sentences
from dyecast_shared.errors import BatchInvalid
from dyecast_shared.units import kelvin_to_celsius

FORMAT: Final = "dyecast-batch-certificate"
FORMAT_VERSION: Final = 1
"""Grows when a key is renamed, removed or given another meaning; a new key alone does not change it."""

DECIMALS: Final = 6


def certificate_schema() -> str:
    """Return the JSON Schema (draft 2020-12) of the document, as text."""
    return (files("dyecast_api.batches") / "certificate.schema.json").read_text(encoding="utf-8")


def certificate_document(whole: WholeBatch, closing: Decision) -> dict[str, Any]:
    """Return the certificate of a batch that somebody closes now.

    What to do about a drift is left out: that is for whoever presses.

    Raises BatchInvalid while no first piece is approved.
    """
    first = whole.first_piece
    if first is None or not whole.counted:
        raise BatchInvalid(
            f"Batch '{whole.batch.name}' has no approved first piece, so there is nothing to certify.",
            advice="Approve one, or give the batch up and say why.",
            field="give_up",
        )
    document = {
        "format": FORMAT,
        "format_version": FORMAT_VERSION,
        "software": SOFTWARE,
        "batch": _batch(whole, closing),
        "recipe": _recipe(whole),
        "artwork": {"name": whole.batch.artwork_name, "sha256": whole.batch.artwork_sha256},
        "first_piece": _first_piece(whole, first),
        "counts": _counts(whole),
        "process": _process(whole),
        "acceptance": _acceptance(whole),
        "quantities": [_quantity(charts) for charts in whole.charts.quantities],
        "pieces": [_piece(whole, piece) for piece in whole.pieces],
        "card": _cards(whole.counted),
        "not_measured": list(not_measured(whole)),
        "notes": [*whole.batch.notes.splitlines(), *clock_notes(whole.pieces)],
    }
    return {name: _clean(value) for name, value in document.items()}


def _batch(whole: WholeBatch, closing: Decision) -> dict[str, Any]:
    batch = whole.batch
    return {
        "name": batch.name,
        "started_at": batch.started_at.isoformat(),
        "closed_at": closing.at.isoformat(),
        "closed_by": closing.by,
        "planned_pieces": batch.planned_pieces,
        "every_nth": batch.every_nth,
    }


def _recipe(whole: WholeBatch) -> dict[str, Any]:
    recipe, blank = whole.recipe, whole.blank
    return {
        "name": recipe.name,
        "press": whole.press.name,
        "blank": blank.name,
        "material": blank.material,
        "thickness_mm": blank.thickness_mm,
        "coating_side": blank.coating_side,
        "temperature_c": round(kelvin_to_celsius(recipe.temperature_k), 2),
        "time_s": recipe.time_s,
        "pressure_kpa": recipe.pressure_kpa,
        "ink": recipe.ink,
        "paper": recipe.paper,
        "protective_sheet": recipe.protective_sheet,
        "pad": recipe.pad,
        "through_blank": recipe.through_blank,
    }


def _first_piece(whole: WholeBatch, first: BatchPiece) -> dict[str, Any]:
    decided_at = whole.batch.decided_at
    return {
        "piece_number": first.number,
        "grade": first.pressing.grade,
        "approved_by": whole.batch.decided_by,
        "approved_at": None if decided_at is None else decided_at.isoformat(),
        "reason": whole.batch.decision_reason,
        "pictures": {name: first.pictures[name] for name in ("piece", "artwork") if name in first.pictures},
    }


def _counts(whole: WholeBatch) -> dict[str, Any]:
    grades = Counter(piece.pressing.grade for piece in whole.counted)
    return {
        "inspected": len(whole.counted),
        "good": grades["good"],
        "under_pressed": grades["under-pressed"],
        "over_pressed": grades["over-pressed"],
        "before_first_piece": len(whole.pieces) - len(whole.counted),
        "not_inspected": _not_inspected(whole),
    }


def _not_inspected(whole: WholeBatch) -> int | None:
    planned = whole.batch.planned_pieces
    return None if planned is None else max(0, planned - len(whole.pieces))


def _process(whole: WholeBatch) -> dict[str, Any]:
    finding = whole.charts.finding
    return {
        "state": None if finding is None else finding.state.value,
        "sentences": list(
            whole.charts.sentences if finding is None else drift_sentences(replace(finding, hint=Hint.NONE))
        ),
        "provisional": None if finding is None else finding.provisional,
    }


def _acceptance(whole: WholeBatch) -> dict[str, Any] | None:
    """Return the lot's acceptance, None where nobody asked for it."""
    decision, sampling = acceptance_of(whole.batch, whole.counted), whole.batch.sampling
    if decision is None or sampling is None:
        return None
    return {
        "standard": "ISO 2859-1, single sampling, general inspection level II",
        **asdict(sampling),
        "sample_size": decision.plan.sample_size,
        "acceptance_number": decision.plan.acceptance_number,
        "action": decision.action.value,
        "still_to_inspect": decision.still_to_inspect,
        "sentence": whole.acceptance_sentence,
    }


def _quantity(charts: QuantityCharts) -> dict[str, Any]:
    values, individuals = charts.series.values, charts.individuals
    return {
        "name": charts.quantity.value,
        "meaning": QUANTITY_WORDS[charts.quantity].name,
        "pieces": len(values),
        "mean": fmean(values),
        "standard_deviation": stdev(values) if len(values) > 1 else None,
        "lowest": min(values),
        "highest": max(values),
        "centre": None if individuals is None else individuals.baseline.centre,
        "lower_limit": None if individuals is None else individuals.lower_limits[-1],
        "upper_limit": None if individuals is None else individuals.upper_limits[-1],
        "baseline_pieces": None if individuals is None else individuals.baseline.pieces,
    }


def _piece(whole: WholeBatch, piece: BatchPiece) -> dict[str, Any]:
    one = piece.pressing
    return {
        "piece_number": one.piece_number,
        "pressed_at": one.pressed_at.isoformat(),
        "grade": one.grade,
        "judged_by": one.judged_by,
        "confidence": one.confidence,
        "photo_sha256": one.photo_sha256,
        "delta_e_2000_artwork": one.delta_e_2000,
        "measured": {quantity.value: _estimate(quantity, piece) for quantity in Quantity},
        "signals": [
            {"quantity": charts.quantity.value, "rule": signal.rule.value, "side": signal.side.value}
            for charts in whole.charts.quantities
            for signal in charts.signals
            if signal.piece_number == piece.number
        ],
        "faults": [fault["code"] for fault in piece.document.get("faults") or ()],
        "lost": one.lost,
        "note": one.note,
    }


def _estimate(quantity: Quantity, piece: BatchPiece) -> dict[str, float | None]:
    value, uncertainty = measured(quantity, piece)
    return {"value": value, "standard_uncertainty": uncertainty}


def _cards(pieces: Sequence[BatchPiece]) -> dict[str, Any]:
    """Return how far the cards in the photos could be trusted."""
    cards = [card for piece in pieces if (card := piece.document.get("card"))]
    errors = [card["leave_one_out_mean"] for card in cards if card["leave_one_out_mean"] is not None]
    known = {(card["layout"], card["edition"], card["trust"]) for card in cards}
    return {
        "cards": [
            {"layout": layout, "edition": edition, "trust": trust} for layout, edition, trust in sorted(known)
        ],
        "own_error_delta_e_2000": {"lowest": min(errors), "highest": max(errors)} if errors else None,
    }


def signal_label(rule_value: str) -> str:
    """Return the label of a rule as the charts show it."""
    return next(label for rule, label in RULE_LABELS.items() if rule.value == rule_value)


def _clean(value: Any) -> Any:  # noqa: ANN401 (any JSON value, given back as the same kind)
    """Round numbers, put null for what JSON has no number for, and take control characters out of texts."""
    if isinstance(value, float):
        return round(value, DECIMALS) if math.isfinite(value) else None
    if isinstance(value, str):
        return printable(value)
    if isinstance(value, list):
        return [_clean(item) for item in value]
    if isinstance(value, dict):
        return {name: _clean(item) for name, item in value.items()}
    return value
