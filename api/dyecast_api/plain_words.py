"""How verdicts and figures are said in words, the same on the terminal and in the report."""

import math
from dataclasses import dataclass
from typing import Final

from dyecast_inspect.inspection import (
    Estimate,
    Fault,
    Inspection,
    PhotoCheck,
    PressFeatures,
    Reference,
    Verdict,
)

MINUS: Final = "\u2212"

VERDICT_WORDS: Final = {
    Verdict.UNDER_PRESSED: "Under-pressed",
    Verdict.GOOD: "Good",
    Verdict.OVER_PRESSED: "Over-pressed",
    Verdict.RETAKE: "Retake the photo",
}
"""The verdict as a heading."""

VERDICT_MEANING: Final = {
    Verdict.UNDER_PRESSED: "Too little dye reached the piece: too short, too cool, or too little pressure.",
    Verdict.GOOD: "The piece carries the dye the artwork asks for.",
    Verdict.OVER_PRESSED: "The piece was heated too long or too hot.",
    Verdict.RETAKE: "Nothing is said about the piece: this photo cannot be judged.",
}
"""The verdict in one sentence."""

VERDICT_SYMBOL: Final = {
    Verdict.UNDER_PRESSED: "\u25bd",
    Verdict.GOOD: "\u2713",
    Verdict.OVER_PRESSED: "\u25b2",
    Verdict.RETAKE: "\u21ba",
}
"""A shape for each verdict, so that colour is never the only signal: hollow triangle down, tick, full
triangle up, turning arrow."""

FEATURE_NAMES: Final = {
    "transferred_fraction": "Ink that arrived",
    "veil": "Veil of mirrored light",
    "coating_yellowing": "Yellowing by heat",
    "warmth_of_darks": "Warmth of the darks",
    "detail_loss": "Detail lost to blur",
    "unevenness": "Unevenness",
}
"""Plain names of the press features, by field of `PressFeatures`."""

FEATURE_MEANINGS: Final = {
    "transferred_fraction": "share of the artwork's optical density found on the piece; 100 % is all of it",
    "veil": "light the surface mirrors into the camera, as a share of perfect white",
    "coating_yellowing": "CIELAB b* that heat adds to white, coating and ink together; above 0 is yellower",
    "warmth_of_darks": "CIELAB b* of the darks minus what the artwork asks for; above 0 is browner, as "
    "pale darks always are",
    "detail_loss": "blur of the piece beyond the photo's own, standard deviation",
    "unevenness": "spread of the arrived ink over the piece, standard deviation",
}
"""What each figure is, in a few words."""

SHARES: Final = ("transferred_fraction", "veil", "unevenness")
"""Features that are shares of one and read best in percent."""


FAULT_NAMES: Final = {
    "mirrored-print": "Mirrored print",
    "wrong-print-size": "Wrong print size",
    "off-centre": "Off-centre",
    "uneven": "Uneven press",
    "ghosting": "Ghosting",
    "banding": "Banding",
    "lint-or-dust": "Lint or dust",
    "unknown-blemish": "Unknown blemish",
}
"""Plain names of the faults, by code."""

REFERENCE_WORDS: Final = {
    Reference.ARTWORK: "the artwork",
    Reference.APPROVED_PIECE: "the approved piece",
}
"""What a piece was compared with, as it stands in a sentence."""

CHECK_NAMES: Final = {
    "sharpness": "Sharpness",
    "card-colours": "The card's own test",
    "card-flatness": "Flatness of the card",
    "hidden-share": "Hidden part of the print",
    "artwork-match": "Likeness to the artwork",
    "outline-match": "Outline of the piece",
}
"""Plain names of the checks of a photo, by their stable names; any other name is shown as it is."""

UNITS_SAID_FIRST: Final = {"CIEDE2000": "ΔE00", "correlation": "correlation"}
"""Units that are read before the figure, and how they are written there."""

SHARE_UNIT: Final = "share of "
"""Beginning of the unit of a share of one; it reads best in percent of the rest of the unit."""

SUREST_SAID: Final = 0.99
"""Confidence above which no exact figure is claimed. Our own choice."""


@dataclass(frozen=True, slots=True)
class FigureLine:
    """One figure ready to be read: plain name, figure with its uncertainty and unit, what it is."""

    name: str
    figure: str
    meaning: str


def check_words(check: PhotoCheck) -> str:
    """Say what a check of the photo measured and its limit, e.g. `0.1 mm of blur, at most 0.6`."""
    bound = "at least" if check.at_least else "at most"
    if check.unit.startswith(SHARE_UNIT):
        whole = check.unit.removeprefix(SHARE_UNIT)
        return f"{percent_words(check.value)} of {whole}, {bound} {percent_words(check.limit)}"
    value, limit = _three_figures(check.value), _three_figures(check.limit)
    if check.unit in UNITS_SAID_FIRST:
        return f"{UNITS_SAID_FIRST[check.unit]} {value}, {bound} {limit}"
    unit = check.unit if math.isfinite(check.value) else ""
    return f"{value} {unit}".strip() + f", {bound} {limit}"


def _three_figures(value: float) -> str:
    """Say a number with two decimals at most, whole from 100 on, without zeros at the end."""
    if not math.isfinite(value) or abs(value) >= 100.0:
        return number_words(value, 0)
    return number_words(value, 2).rstrip("0").rstrip(".")


def number_words(value: float, decimals: int = 1) -> str:
    """Say a number with a true minus sign; what is not finite is `not measured`."""
    if not math.isfinite(value):
        return "not measured"
    text = f"{value:.{decimals}f}"
    is_zero = float(text) == 0.0
    return text.lstrip("-") if is_zero else text.replace("-", MINUS)


def signed_words(value: float, decimals: int = 1) -> str:
    """Say a difference with its sign always shown, except for zero."""
    text = number_words(value, decimals)
    shows_sign = text.startswith(MINUS) or not math.isfinite(value) or float(text) == 0.0
    return text if shows_sign else f"+{text}"


def percent_words(share: float, decimals: int = 0) -> str:
    """Say a share of one in percent."""
    return f"{number_words(100.0 * share, decimals)} %" if math.isfinite(share) else "not measured"


def fault_sizes_words(fault: Fault) -> str:
    """Say the sizes of a fault, each with its name and unit."""
    return ", ".join(f"{size.name} {number_words(size.value, 1)} {size.unit}" for size in fault.sizes)


def confidence_words(inspection: Inspection) -> str:
    """Say how sure the verdict is, and what else it could be when it is near a limit."""
    words = _sure_words(inspection.confidence)
    others = {name: share for name, share in inspection.probabilities.items() if name != inspection.verdict}
    if inspection.near_limit and others:
        runner_up = max(others, key=lambda name: others[name])
        words += f"; close to the limit, could also be {runner_up} ({percent_words(others[runner_up])})"
    elif inspection.near_limit:
        words += "; close to the limit"
    return words


def _sure_words(confidence: float) -> str:
    if not math.isfinite(confidence):
        return "confidence not known"
    return f"{percent_words(confidence)} sure" if confidence <= SUREST_SAID else "more than 99 % sure"


def odds_words(share: float) -> str:
    """Say how likely a verdict is in percent, without claiming certainty."""
    if share > SUREST_SAID:
        return "over 99 %"
    return "under 1 %" if share < 1.0 - SUREST_SAID else percent_words(share)


def estimate_words(name: str, estimate: Estimate) -> str:
    """Say a feature with its standard uncertainty and unit; shares of one in percent."""
    if not math.isfinite(estimate.value):
        return "not measured"
    is_share = name in SHARES
    factor = 100.0 if is_share else 1.0
    decimals = _decimals_for(estimate.uncertainty * factor)
    unit = "%" if is_share else estimate.unit
    figure = number_words(estimate.value * factor, decimals)
    if math.isfinite(estimate.uncertainty):
        figure += f" ± {number_words(estimate.uncertainty * factor, decimals)}"
    return f"{figure} {unit}".strip()


def _decimals_for(uncertainty: float) -> int:
    """Return the decimals that show one or two figures of the uncertainty, and never more than three."""
    if not math.isfinite(uncertainty) or uncertainty <= 0.0:
        return 1
    return min(3, max(0, math.ceil(-math.log10(uncertainty / 3.0))))


def feature_lines(features: PressFeatures) -> tuple[FigureLine, ...]:
    """Return every press feature as a line to read, the most telling first."""
    estimates = {
        "transferred_fraction": features.transferred_fraction,
        "veil": features.veil,
        "coating_yellowing": features.coating_yellowing,
        "warmth_of_darks": features.warmth_of_darks,
        "detail_loss": features.detail_loss,
        "unevenness": Estimate(features.unevenness, math.nan),
    }
    return tuple(
        FigureLine(FEATURE_NAMES[name], estimate_words(name, estimate), FEATURE_MEANINGS[name])
        for name, estimate in estimates.items()
    )
