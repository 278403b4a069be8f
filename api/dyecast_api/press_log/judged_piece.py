"""A pressing's photo inspected: grade, measured transfer and colour difference for the log."""

import hashlib
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from dyecast_api.card_choice import layouts_to_look_for, values_by_layout
from dyecast_api.inspect_stages import InspectStages
from dyecast_api.press_log.log_values import MACHINE, Pressing
from dyecast_inspect.inspection import Inspection, Paper, Verdict
from dyecast_shared.errors import PressLogInvalid

if TYPE_CHECKING:
    from dyecast_inspect.read_artwork import Artwork


def photo_hash(photo: Path) -> str:
    """Return the SHA-256 of the photo's bytes as hex; OSError when it cannot be read."""
    return hashlib.sha256(photo.read_bytes()).hexdigest()


def inspected_piece(
    photo: Path,
    artwork: Path,
    stages: InspectStages,
    *,
    card_values: Sequence[Path],
    shop_profile: Path | None,
) -> Inspection:
    """Inspect one photo as `dyecast inspect` does; raises DyecastError when it cannot be used."""
    layouts = layouts_to_look_for(None)
    wanted: Artwork = stages.read_artwork(artwork)
    return stages.inspect_photo(
        photo,
        lambda: wanted,
        layouts=layouts,
        card_values=values_by_layout(tuple(card_values), layouts),
        approved=None,
        shop=None if shop_profile is None else stages.read_shop_eye(shop_profile),
        paper=Paper.UNKNOWN,
        progress=lambda _stage: None,
    )


def with_inspection(pressing: Pressing, inspection: Inspection) -> Pressing:
    """Return the pressing with what the photo told; a grade that a person gave stays.

    Raises PressLogInvalid when the photo has to be taken again.
    """
    if inspection.verdict is Verdict.RETAKE:
        why = " ".join(reason.sentence for reason in inspection.reasons)
        raise PressLogInvalid(
            f"The photo has to be taken again: {why}",
            advice="Nothing was logged. Take another photo, or grade the piece yourself.",
            file=inspection.photo,
            field="own_grade",
        )
    features, difference = inspection.features, inspection.delta_e_2000
    measured = replace(
        pressing,
        delta_e_2000=None if difference is None else difference.median,
        transferred_fraction=None if features is None else features.transferred_fraction.value,
        transferred_fraction_uncertainty=None
        if features is None
        else features.transferred_fraction.uncertainty,
        veil=None if features is None else features.veil.value,
    )
    if pressing.grade is not None:
        return measured
    return replace(
        measured, grade=inspection.verdict.value, confidence=inspection.confidence, judged_by=MACHINE
    )
