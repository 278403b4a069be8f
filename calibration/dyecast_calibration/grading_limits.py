"""The limits that word a grade's reasons and refuse photos, from one data file with their sources."""

import json
from dataclasses import dataclass, fields
from functools import cache
from importlib.resources import files


@dataclass(frozen=True, slots=True)
class GradingLimits:
    """Limits; the data file gives unit, reason and source of each.

    Attributes
    ----------
    least_transferred_fraction
        Share of the intended optical density below which a piece is under-pressed.
    most_yellowing
        Density of the coating in the short band above which it is over-pressed.
    most_bleed
        Variance of the dyes' bleed, mm², above which it is over-pressed.
    fraction_uncertainty, yellowing_uncertainty_per_delta_e
        Standard uncertainties added to the fit's own; the second per CIEDE2000 of the card's error.
    most_opposite_probability
        Probability of under-pressed from which a piece is not called over-pressed, and the reverse.
    most_hidden_share, most_card_error, least_registration, least_agreement
        Beyond these a photo cannot be judged.
    """

    least_transferred_fraction: float
    most_yellowing: float
    most_bleed: float
    fraction_uncertainty: float
    yellowing_uncertainty_per_delta_e: float
    most_opposite_probability: float
    most_hidden_share: float
    most_card_error: float
    least_registration: float
    least_agreement: float


@cache
def grading_limits() -> GradingLimits:
    """Return the limits that ship with dyecast."""
    text = files("dyecast_calibration").joinpath("grading_limits.json").read_text(encoding="utf-8")
    limits = json.loads(text)["limits"]
    return GradingLimits(
        **{field.name: float(limits[field.name]["value"]) for field in fields(GradingLimits)}
    )
