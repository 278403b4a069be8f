"""What the stages have found so far: the one value that grows while a photo is measured.

It lives for one photo. When a stage refuses the photo, what was found until then still goes into the answer.
"""

from dataclasses import dataclass

from dyecast_calibration.card_values import CardValues
from dyecast_inspect.card_sighting import CardSighting
from dyecast_inspect.correct_colour import ColourCorrection
from dyecast_inspect.explain_surface import ExplainedPiece
from dyecast_inspect.faults.fault_views import FaultViews
from dyecast_inspect.inspection import Estimate, PhotoCheck
from dyecast_inspect.measure_piece import MeasuredPiece
from dyecast_inspect.register_piece import Registration
from dyecast_shared.photo import Photo


@dataclass(slots=True, eq=False)
class Trail:
    """The findings of each stage, None where no stage got to."""

    photo: Photo | None = None
    card: CardSighting | None = None
    card_values: CardValues | None = None
    correction: ColourCorrection | None = None
    registration: Registration | None = None
    piece: MeasuredPiece | None = None
    explained: ExplainedPiece | None = None


@dataclass(frozen=True, slots=True, eq=False)
class MeasuredPhoto:
    """All that was measured in one photo, stage by stage; `fault_views` is None for a peek."""

    photo: Photo
    card: CardSighting
    card_values: CardValues
    correction: ColourCorrection
    registration: Registration
    piece: MeasuredPiece
    bleed: Estimate | None
    explained: ExplainedPiece
    checks: tuple[PhotoCheck, ...]
    fault_views: FaultViews | None = None
