"""What is believed about a pressing before its piece is fitted."""

from dyecast_calibration.pressing_prior import PressingPrior
from dyecast_inspect.correct_colour import ColourCorrection
from dyecast_inspect.inspection import Estimate


def informed_prior(correction: ColourCorrection, bleed: Estimate | None) -> PressingPrior:
    """Return the prior, informed by how well the card was corrected and by the spread of the dyes seen."""
    told = None if bleed is None else (bleed.value, bleed.uncertainty)
    return PressingPrior().informed(card_error=correction.leave_one_out_mean, bleed=told)
