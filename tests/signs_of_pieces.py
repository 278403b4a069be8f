"""Signs of pieces as a clear photo would give them, for tests of grading."""

from math import log

from dyecast_inspect.grading_signs import GradingSigns


def signs_with(fraction: float, yellowing: float = 0.0, bleed: float = 0.0) -> GradingSigns:
    """Return signs: share of the ink, density of the yellowing, mm² of bleed."""
    return GradingSigns(
        ink=log(fraction),
        ink_uncertainty=0.03,
        cyan_lag=0.0,
        yellow_lag=0.0,
        yellowing=yellowing,
        yellowing_uncertainty=0.03,
        bleed=bleed,
        bleed_uncertainty=0.015,
    )
