"""An inspection as a JSON document: the same facts as the report, for programs.

`inspection.schema.json` describes every key. Numbers that are not known are null; NaN and Infinity, which
JSON does not have, never appear. A retake carries no figure about the piece.
"""

import json
import math
from collections.abc import Mapping
from importlib.resources import files
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dyecast_api.printable_text import printable
from dyecast_api.version import SOFTWARE
from dyecast_inspect.explain_faults import place_words
from dyecast_inspect.inspection import (
    Advice,
    CardReport,
    ColourDifference,
    Estimate,
    Fault,
    Inspection,
    PeekReport,
    PhotoCheck,
    PieceReport,
    PressFeatures,
    Reason,
    RegionDifference,
    ShopComparison,
    Verdict,
)
from dyecast_shared.errors import DyecastError

FORMAT: Final = "dyecast-inspection"
FORMAT_VERSION: Final = 1
"""Grows when a key is renamed, removed or given another meaning; a new key alone does not change it."""

DECIMALS: Final = 6
"""Decimals kept: beyond what any figure here means, and short enough to read."""


def inspection_schema() -> str:
    """Return the JSON Schema (draft 2020-12) of the document, as text."""
    return (files("dyecast_api") / "inspection.schema.json").read_text(encoding="utf-8")


def inspection_document(inspection: Inspection, *, error: DyecastError | None = None) -> dict[str, Any]:
    """Return an inspection as a value that JSON can hold.

    `error` is the trouble with a photo that could not be used at all; its code, message, advice and file
    become the key ``error``, which is null otherwise.
    """
    document = _raw_document(inspection, error)
    return {name: _with_clean_text(value) for name, value in document.items()}


def _with_clean_text(value: Any) -> Any:  # noqa: ANN401 (any JSON value, given back as the same kind)
    """Replace in every text what UTF-8 cannot hold or a terminal would obey."""
    if isinstance(value, str):
        return printable(value)
    if isinstance(value, list):
        return [_with_clean_text(item) for item in value]
    if isinstance(value, dict):
        return {name: _with_clean_text(item) for name, item in value.items()}
    return value


def _raw_document(inspection: Inspection, error: DyecastError | None) -> dict[str, Any]:
    judged = inspection.verdict is not Verdict.RETAKE
    return {
        "format": FORMAT,
        "format_version": FORMAT_VERSION,
        "software": SOFTWARE,
        "photo": inspection.photo,
        "artwork": inspection.artwork,
        "compared_with": inspection.compared_with.value,
        "verdict": inspection.verdict.value,
        "confidence": _finite(inspection.confidence),
        "near_limit": bool(inspection.near_limit),
        "probabilities": _numbers(inspection.probabilities),
        "reasons": [_reason(reason) for reason in inspection.reasons],
        "advice": [_advice(advice) for advice in inspection.advice],
        "checks": [_check(check) for check in inspection.checks],
        "delta_e_2000": _difference(inspection.delta_e_2000 if judged else None),
        "delta_e_2000_approved": _difference(inspection.delta_e_2000_approved if judged else None),
        "delta_e_2000_printer": _difference(inspection.delta_e_2000_printer if judged else None),
        "shop": _shop(inspection.shop if judged else None),
        "regions": [_region(region) for region in inspection.regions] if judged else [],
        "features": _features(inspection.features if judged else None),
        "card": _card(inspection.card),
        "piece": _piece(inspection.piece),
        "faults": [_fault(fault) for fault in inspection.faults] if judged else [],
        "faults_not_judged": [_reason(reason) for reason in inspection.faults_not_judged],
        "notes": list(inspection.notes),
        "peek": _peek(inspection.peek),
        "error": None if error is None else _error(error),
    }


def document_line(inspection: Inspection, *, error: DyecastError | None = None) -> str:
    """Return the document as one line of ASCII JSON, safe in any terminal's encoding."""
    return json.dumps(inspection_document(inspection, error=error), allow_nan=False)


def _finite(value: float | None) -> float | None:
    """Return the number rounded, or None for what JSON has no number for."""
    if value is None or not math.isfinite(value):
        return None
    return round(float(value), DECIMALS)


def _numbers(values: Mapping[str, float]) -> dict[str, float | None]:
    return {name: _finite(value) for name, value in values.items()}


def _shop(shop: ShopComparison | None) -> dict[str, Any] | None:
    """Return what the shop's own pieces made of it; None without a profile."""
    if shop is None:
        return None
    return {
        "approved": shop.approved,
        "labelled": shop.labelled,
        "ink_shift": _finite(shop.ink_shift),
        "yellowing_shift": _finite(shop.yellowing_shift),
        "bleed_shift": _finite(shop.bleed_shift),
        "delta_e_2000": _difference(shop.delta_e_2000),
        "spread": _finite(shop.spread),
    }


def _reason(reason: Reason) -> dict[str, Any]:
    return {"code": reason.code, "sentence": reason.sentence}


def _advice(advice: Advice) -> dict[str, Any]:
    return {
        "code": advice.code,
        "sentence": advice.sentence,
        "because": advice.because,
        "caution": advice.caution or None,
    }


def _check(check: PhotoCheck) -> dict[str, Any]:
    return {
        "name": check.name,
        "value": _finite(check.value),
        "limit": _finite(check.limit),
        "limit_is": "at least" if check.at_least else "at most",
        "unit": check.unit,
        "passed": bool(check.passed),
        "advice": check.advice,
    }


def _difference(difference: ColourDifference | None) -> dict[str, Any] | None:
    if difference is None:
        return None
    return {
        "mean": _finite(difference.mean),
        "median": _finite(difference.median),
        "p95": _finite(difference.p95),
    }


def _region(region: RegionDifference) -> dict[str, Any]:
    return {
        "name": region.name,
        "area_share": _finite(region.area_share),
        "intended_lab": [_finite(value) for value in region.intended_lab],
        "measured_lab": [_finite(value) for value in region.measured_lab],
        "delta_lightness": _finite(region.delta_lightness),
        "delta_chroma": _finite(region.delta_chroma),
        "delta_hue": _finite(region.delta_hue),
        "delta_e_2000": _finite(region.delta_e_2000),
    }


def _estimate(estimate: Estimate) -> dict[str, Any]:
    return {
        "value": _finite(estimate.value),
        "uncertainty": _finite(estimate.uncertainty),
        "unit": estimate.unit,
    }


def _features(features: PressFeatures | None) -> dict[str, Any] | None:
    if features is None:
        return None
    return {
        "transferred_fraction": _estimate(features.transferred_fraction),
        "transferred_by_dye": _numbers(features.transferred_by_dye),
        "transferred_by_tone": _numbers(features.transferred_by_tone),
        "veil": _estimate(features.veil),
        "coating_yellowing": _estimate(features.coating_yellowing),
        "warmth_of_darks": _estimate(features.warmth_of_darks),
        "detail_loss": _estimate(features.detail_loss),
        "unevenness": _estimate(Estimate(features.unevenness, math.nan)),
    }


def _corners(corners_px: NDArray[np.float64]) -> list[list[float | None]]:
    return [[_finite(float(x)), _finite(float(y))] for x, y in corners_px]


def _card(card: CardReport | None) -> dict[str, Any] | None:
    if card is None:
        return None
    return {
        "layout": card.layout,
        "edition": int(card.edition),
        "trust": str(card.trust),
        "corners_px": _corners(card.corners_px),
        "missing_markers": [int(marker) for marker in card.missing_markers],
        "pixels_per_mm": _finite(card.pixels_per_mm),
        "plane_residual_px": _finite(card.plane_residual_px),
        "correction": card.correction,
        "leave_one_out_mean": _finite(card.leave_one_out_mean),
        "leave_one_out_p95": _finite(card.leave_one_out_p95),
        "metamerism_delta_e_2000": {
            "low": _finite(card.metamerism.low),
            "high": _finite(card.metamerism.high),
        },
        "left_out_patches": [_reason(reason) for reason in card.left_out_patches],
    }


def _piece(piece: PieceReport | None) -> dict[str, Any] | None:
    if piece is None:
        return None
    return {
        "corners_px": _corners(piece.corners_px),
        "width_mm": _finite(piece.width_mm),
        "height_mm": _finite(piece.height_mm),
        "mirrored": bool(piece.mirrored),
        "registration_mm": _finite(piece.registration_mm),
        "hidden_share": _finite(piece.hidden_share),
    }


def _peek(peek: PeekReport | None) -> dict[str, Any] | None:
    if peek is None:
        return None
    return {
        "answer": peek.answer.value,
        "visible_share": _finite(peek.visible_share),
        "confidence": _finite(peek.confidence),
    }


def _fault(fault: Fault) -> dict[str, Any]:
    return {
        "code": fault.code,
        "sentence": fault.sentence,
        "confidence": _finite(fault.confidence),
        "where": place_words(fault.place),
        "place": [[_finite(x), _finite(y)] for x, y in fault.place],
        "sizes": [
            {"name": size.name, "value": _finite(size.value), "unit": size.unit} for size in fault.sizes
        ],
    }


def _error(error: DyecastError) -> dict[str, Any]:
    return {
        "code": error.code,
        "message": error.message,
        "advice": error.advice,
        "file": error.file,
    }
