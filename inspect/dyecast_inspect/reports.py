"""Put what the stages found into the values that travel out."""

from dyecast_calibration.metamerism import metamerism_range
from dyecast_calibration.pressing_model import xyz_from_bands
from dyecast_inspect.compare import Comparison
from dyecast_inspect.explain import retake_advice
from dyecast_inspect.inspection import (
    CardReport,
    Inspection,
    Pictures,
    PieceReport,
    Reason,
    Reference,
    Verdict,
)
from dyecast_inspect.measure_piece import size_mm
from dyecast_inspect.read_artwork import Artwork
from dyecast_inspect.trail import MeasuredPhoto, Trail
from dyecast_shared.encodings import xyz_d50_to_srgb8
from dyecast_shared.errors import Retake
from dyecast_shared.geometry import apply_homography
from dyecast_shared.photo import Photo


def card_report(found: Trail | MeasuredPhoto) -> CardReport | None:
    """Return the card as it was seen, as far as the stages got."""
    card, values, correction = found.card, found.card_values, found.correction
    if card is None or values is None:
        return None
    left_out = () if correction is None else correction.left_out
    return CardReport(
        layout=card.layout.name,
        edition=card.layout.edition,
        trust=values.trust.value,
        corners_px=card.corners_px,
        missing_markers=card.missing_markers,
        pixels_per_mm=card.pixels_per_mm,
        plane_residual_px=card.residual_px,
        correction=None if correction is None else correction.model,
        leave_one_out_mean=None if correction is None else correction.leave_one_out_mean,
        leave_one_out_p95=None if correction is None else correction.leave_one_out_p95,
        left_out_patches=tuple(reason for _, reason in left_out),
        metamerism=metamerism_range(),
    )


def piece_report(found: Trail | MeasuredPhoto) -> PieceReport | None:
    """Return where the piece lies; corners are the artwork's, in full-resolution pixels."""
    photo, card, registration = found.photo, found.card, found.registration
    if photo is None or card is None or registration is None:
        return None
    corners = apply_homography(registration.artwork_to_photo, [[0, 0], [1, 0], [1, 1], [0, 1]])
    width_mm, height_mm = size_mm(card, registration)
    return PieceReport(
        corners_px=photo.to_full(corners),
        width_mm=width_mm,
        height_mm=height_mm,
        mirrored=registration.mirrored,
        registration_mm=registration.uncertainty_px / card.pixels_per_mm,
        hidden_share=None if found.explained is None else found.explained.hidden_share,
    )


def pictures(measured: MeasuredPhoto, comparison: Comparison) -> Pictures:
    """Return the pictures of an inspection, all in the artwork's frame."""
    return Pictures(
        piece=xyz_d50_to_srgb8(xyz_from_bands(measured.explained.bands)),
        intended=xyz_d50_to_srgb8(comparison.intended_xyz),
        delta_e_map=comparison.delta_e_map,
        judged=measured.explained.judged,
    )


def reference_of(artwork: Artwork) -> Reference:
    """Return whether the piece is compared with an artwork or with an approved piece."""
    return Reference.APPROVED_PIECE if artwork.from_approved else Reference.ARTWORK


def notes_of(photo: Photo, artwork: Artwork) -> tuple[str, ...]:
    """Return what a user should know about how the two files were read, each with what it is about."""
    of_photo = tuple(f"Photo: {note}" for note in photo.notes)
    about = "Approved piece" if artwork.from_approved else "Artwork"
    return of_photo + tuple(f"{about}: {note}" for note in artwork.notes)


def retaken(retake: Retake, name: str, artwork: Artwork, trail: Trail) -> Inspection:
    """Return the inspection of a photo that cannot be judged, with what was found until then."""
    return Inspection(
        photo=name,
        artwork=artwork.name,
        verdict=Verdict.RETAKE,
        confidence=1.0,
        near_limit=False,
        probabilities={},
        reasons=(Reason(retake.code, retake.message),),
        advice=retake_advice(retake, None if trail.card_values is None else trail.card_values.trust),
        checks=(),
        notes=() if trail.photo is None else notes_of(trail.photo, artwork),
        card=card_report(trail),
        piece=piece_report(trail),
        compared_with=reference_of(artwork),
    )
