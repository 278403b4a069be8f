"""Put what the stages found into the values that travel out."""

from dataclasses import dataclass

import cv2
import numpy as np

from dyecast_calibration.card_values import CardValues
from dyecast_calibration.pressing_model import xyz_from_bands
from dyecast_inspect.card_sighting import CardSighting
from dyecast_inspect.compare import Comparison
from dyecast_inspect.correct_colour import ColourCorrection
from dyecast_inspect.explain import retake_advice
from dyecast_inspect.explain_surface import ExplainedPiece
from dyecast_inspect.inspection import CardReport, Inspection, PhotoCheck, Pictures, PieceReport, Reason, Verdict
from dyecast_inspect.measure_piece import MeasuredPiece
from dyecast_inspect.read_artwork import Artwork
from dyecast_inspect.register_piece import Registration
from dyecast_shared.encodings import xyz_d50_to_srgb8
from dyecast_shared.errors import Retake
from dyecast_shared.geometry import apply_homography
from dyecast_shared.photo import Photo


@dataclass(frozen=True, slots=True, eq=False)
class MeasuredPhoto:
    """All that was measured in one photo, stage by stage."""

    photo: Photo
    card: CardSighting
    card_values: CardValues
    correction: ColourCorrection
    registration: Registration
    piece: MeasuredPiece
    explained: ExplainedPiece
    checks: tuple[PhotoCheck, ...]


def card_report(measured: MeasuredPhoto) -> CardReport:
    """Return the card as it was seen."""
    card, correction = measured.card, measured.correction
    return CardReport(
        layout=card.layout.name,
        edition=card.layout.edition,
        trust=measured.card_values.trust.value,
        corners_px=card.corners_px,
        missing_markers=card.missing_markers,
        pixels_per_mm=card.pixels_per_mm,
        plane_residual_px=card.residual_px,
        correction=correction.model,
        leave_one_out_mean=correction.leave_one_out_mean,
        leave_one_out_p95=correction.leave_one_out_p95,
        left_out_patches=tuple(Reason(reason.code, reason.sentence) for _, reason in correction.left_out),
    )


def piece_report(measured: MeasuredPhoto) -> PieceReport:
    """Return where the piece lies; corners are the artwork's, in full-resolution pixels."""
    registration = measured.registration
    corners = apply_homography(registration.artwork_to_photo, [[0, 0], [1, 0], [1, 1], [0, 1]])
    return PieceReport(
        corners_px=measured.photo.to_full(corners),
        width_mm=measured.piece.width_mm,
        height_mm=measured.piece.height_mm,
        mirrored=registration.mirrored,
        registration_mm=registration.uncertainty_px / measured.card.pixels_per_mm,
        hidden_share=measured.explained.hidden_share,
    )


def pictures(measured: MeasuredPhoto, comparison: Comparison, artwork: Artwork) -> Pictures:
    """Return the pictures of an inspection, all in the artwork's frame."""
    height, width = measured.explained.judged.shape
    intended = cv2.resize(artwork.xyz, (width, height), interpolation=cv2.INTER_AREA)
    return Pictures(
        piece=xyz_d50_to_srgb8(xyz_from_bands(measured.explained.bands)),
        intended=xyz_d50_to_srgb8(np.asarray(intended, np.float32)),
        delta_e_map=comparison.delta_e_map,
        judged=measured.explained.judged,
    )


def retaken(retake: Retake, photo: str, artwork: Artwork) -> Inspection:
    """Return the inspection of a photo that cannot be judged."""
    return Inspection(
        photo=photo,
        artwork=artwork.name,
        verdict=Verdict.RETAKE,
        confidence=1.0,
        near_limit=False,
        probabilities={},
        reasons=(Reason(retake.code, retake.message),),
        advice=(retake_advice(retake),),
        checks=(),
        notes=(),
    )
