"""Compare, grade and explain a measured piece."""

from dataclasses import replace

from dyecast_calibration.grader_model import trained_grader
from dyecast_calibration.grading_limits import grading_limits
from dyecast_inspect.approved_look import compare_with_look
from dyecast_inspect.approved_piece import ApprovedPiece, compare_with_approved
from dyecast_inspect.compare import Comparison, compare, compare_regions
from dyecast_inspect.explain import advice_for, reasons_for
from dyecast_inspect.explain_faults import advice_for_faults, faults_reason
from dyecast_inspect.faults.find_faults import FaultFindings
from dyecast_inspect.grade import grade_by_signs
from dyecast_inspect.grading_signs import grading_signs
from dyecast_inspect.inspection import ColourDifference, Inspection, Paper, ShopComparison
from dyecast_inspect.piece_by_outline import place_notes
from dyecast_inspect.press_features import press_features, yellowing_density
from dyecast_inspect.read_artwork import Artwork
from dyecast_inspect.reports import card_report, notes_of, pictures, piece_report, reference_of
from dyecast_inspect.shop_eye import ShopEye, in_this_shop
from dyecast_inspect.trail import MeasuredPhoto


def judge(
    measured: MeasuredPhoto,
    artwork: Artwork,
    *,
    approved: ApprovedPiece | None = None,
    shop: ShopEye | None = None,
    paper: Paper = Paper.UNKNOWN,
) -> Inspection:
    """Return the inspection of a measured piece, its faults left out; see `with_faults`.

    It is compared with the approved piece and seen with the shop's eye, if there are any.
    """
    limits = grading_limits()
    comparison = compare(measured.explained, artwork.coarse())
    features = press_features(measured, comparison, limits)
    yellowing = yellowing_density(measured, limits)
    signs = grading_signs(measured, limits)
    grade = grade_by_signs(signs if shop is None else in_this_shop(signs, shop.shift), trained_grader())
    return Inspection(
        photo=measured.photo.name,
        artwork=artwork.name,
        verdict=grade.verdict,
        confidence=grade.confidence,
        near_limit=grade.near_limit,
        probabilities=grade.probabilities,
        reasons=reasons_for(grade, features, yellowing, limits),
        advice=advice_for(grade, paper),
        checks=measured.checks,
        notes=notes_of(measured.photo, artwork) + place_notes(measured.registration),
        delta_e_2000=comparison.summary,
        delta_e_2000_printer=_within_printer(measured, artwork),
        delta_e_2000_approved=None
        if approved is None
        else compare_with_approved(measured.explained, approved),
        shop=None if shop is None else _with_shop_eye(shop, comparison, measured),
        regions=compare_regions(comparison, measured.explained.judged),
        features=features,
        card=card_report(measured),
        piece=piece_report(measured),
        pictures=pictures(measured, comparison),
        compared_with=reference_of(artwork),
    )


def with_faults(inspection: Inspection, findings: FaultFindings) -> Inspection:
    """Return the inspection with the faults that were found, what they mean and what to do about them."""
    return replace(
        inspection,
        reasons=inspection.reasons + faults_reason(inspection.verdict, findings.faults),
        advice=inspection.advice + advice_for_faults(findings.faults),
        faults=findings.faults,
        faults_not_judged=findings.not_judged,
    )


def _with_shop_eye(shop: ShopEye, comparison: Comparison, measured: MeasuredPhoto) -> ShopComparison:
    """Return the piece as the shop sees it."""
    look = shop.look
    return ShopComparison(
        approved=shop.approved,
        labelled=shop.labelled,
        ink_shift=shop.shift.ink,
        yellowing_shift=shop.shift.yellowing,
        bleed_shift=shop.shift.bleed,
        delta_e_2000=None if look is None else compare_with_look(comparison, measured.explained.judged, look),
        spread=None if look is None or shop.approved < 2 else look.spread,
    )


def _within_printer(measured: MeasuredPhoto, artwork: Artwork) -> ColourDifference | None:
    """Return the difference from what the printer can reach, None without its profile."""
    return None if artwork.printer_xyz is None else compare(measured.explained, artwork.printer_xyz).summary
