"""Compare, grade and explain a measured piece."""

from dyecast_calibration.grading_limits import grading_limits
from dyecast_inspect.approved_piece import ApprovedPiece, compare_with_approved
from dyecast_inspect.compare import compare, compare_regions
from dyecast_inspect.explain import advice_for, reasons_for
from dyecast_inspect.grade import grade_by_limits
from dyecast_inspect.inspection import ColourDifference, Inspection
from dyecast_inspect.piece_by_outline import place_notes
from dyecast_inspect.press_features import bleed_variance, press_features, yellowing_density
from dyecast_inspect.read_artwork import Artwork
from dyecast_inspect.reports import card_report, notes_of, pictures, piece_report, reference_of
from dyecast_inspect.trail import MeasuredPhoto


def judge(measured: MeasuredPhoto, artwork: Artwork, approved: ApprovedPiece | None) -> Inspection:
    """Return the inspection of a measured piece, beside the approved one if there is one."""
    limits = grading_limits()
    comparison = compare(measured.explained, artwork.xyz)
    features = press_features(measured, comparison, artwork, limits)
    yellowing = yellowing_density(measured, limits)
    grade = grade_by_limits(features.transferred_fraction, yellowing, bleed_variance(measured), limits)
    mirrored = measured.registration.mirrored
    return Inspection(
        photo=measured.photo.name,
        artwork=artwork.name,
        verdict=grade.verdict,
        confidence=grade.confidence,
        near_limit=grade.near_limit,
        probabilities=grade.probabilities,
        reasons=reasons_for(grade, features, yellowing, limits, mirrored=mirrored),
        advice=advice_for(grade, features, mirrored=mirrored),
        checks=measured.checks,
        notes=notes_of(measured.photo, artwork) + place_notes(measured.registration),
        delta_e_2000=comparison.summary,
        delta_e_2000_printer=_within_printer(measured, artwork),
        delta_e_2000_approved=None
        if approved is None
        else compare_with_approved(measured.explained, approved),
        regions=compare_regions(comparison, measured.explained.judged),
        features=features,
        card=card_report(measured),
        piece=piece_report(measured),
        pictures=pictures(measured, comparison, artwork),
        compared_with=reference_of(artwork),
    )


def _within_printer(measured: MeasuredPhoto, artwork: Artwork) -> ColourDifference | None:
    """Return the difference from what the printer can reach, None without its profile."""
    return None if artwork.printer_xyz is None else compare(measured.explained, artwork.printer_xyz).summary
