"""One photo from file to grade, in the order of the work."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from dyecast_calibration.card_layout import CardLayout, known_layouts
from dyecast_calibration.card_values import CardValues, designed_values
from dyecast_calibration.grading_limits import grading_limits
from dyecast_calibration.pressing_prior import PressingPrior
from dyecast_inspect.approved_piece import ApprovedPiece, compare_with_approved
from dyecast_inspect.compare import compare, compare_regions
from dyecast_inspect.correct_colour import correct_colour
from dyecast_inspect.explain import advice_for, reasons_for
from dyecast_inspect.explain_surface import explain_surface
from dyecast_inspect.find_card import find_card
from dyecast_inspect.find_piece import find_piece
from dyecast_inspect.grade import grade_by_limits
from dyecast_inspect.inspection import Inspection
from dyecast_inspect.measure_piece import measure_piece
from dyecast_inspect.photo_checks import check_card, check_piece, check_registration
from dyecast_inspect.press_features import press_features, yellowing_density
from dyecast_inspect.read_artwork import Artwork
from dyecast_inspect.read_photo import read_photo
from dyecast_inspect.register_piece import register_best
from dyecast_inspect.reports import MeasuredPhoto, card_report, piece_report, pictures, retaken
from dyecast_shared.errors import Retake


def inspect_photo(
    path: Path,
    artwork: Artwork,
    *,
    layouts: Sequence[CardLayout] | None = None,
    card_values: Mapping[str, CardValues] | None = None,
    approved: ApprovedPiece | None = None,
    progress: Callable[[str], None] = lambda stage: None,
) -> Inspection:
    """Inspect one photo against its artwork.

    A photo that can be opened but not judged gives the verdict ``retake`` with its reason; a file that
    cannot be used raises BadInput. `progress` is told each stage's name as it begins.
    """
    try:
        measured = measure_photo(path, artwork, layouts=layouts, card_values=card_values, progress=progress)
    except Retake as retake:
        return retaken(retake, path.name, artwork)
    return _judged(measured, artwork, approved, progress)


def measure_photo(
    path: Path,
    artwork: Artwork,
    *,
    layouts: Sequence[CardLayout] | None = None,
    card_values: Mapping[str, CardValues] | None = None,
    progress: Callable[[str], None] = lambda stage: None,
) -> MeasuredPhoto:
    """Measure the piece in one photo; raises Retake or BadInput when that cannot be done."""
    limits = grading_limits()
    progress("reading the photo")
    photo = read_photo(path)
    progress("finding the card")
    card = find_card(photo, layouts or known_layouts())
    progress("correcting colour")
    values = (card_values or {}).get(card.layout.name) or designed_values(card.layout)
    correction = correct_colour(photo, card.card_to_photo, card.layout, values)
    check_card(card, correction, limits)
    progress("finding the piece")
    registration = register_best(photo, find_piece(photo, card, artwork), artwork)
    check_registration(photo, registration, limits)
    progress("measuring the piece")
    piece = measure_piece(photo, card, correction, registration, artwork)
    explained = explain_surface(piece, artwork, PressingPrior(), correction.leave_one_out_mean)
    checks = check_piece(card, correction, registration, explained, limits)
    return MeasuredPhoto(photo, card, values, correction, registration, piece, explained, checks)


def _judged(
    measured: MeasuredPhoto, artwork: Artwork, approved: ApprovedPiece | None, progress: Callable[[str], None]
) -> Inspection:
    """Compare, grade and explain a measured piece."""
    limits, card_error = grading_limits(), measured.correction.leave_one_out_mean
    progress("comparing with the artwork")
    comparison = compare(measured.explained, artwork.xyz)
    progress("grading")
    features = press_features(measured.explained, comparison, artwork, card_error, limits)
    yellowing = yellowing_density(measured.explained, card_error, limits)
    grade = grade_by_limits(features.transferred_fraction, yellowing, limits)
    mirrored = measured.registration.mirrored
    inspection = Inspection(
        photo=measured.photo.name,
        artwork=artwork.name,
        verdict=grade.verdict,
        confidence=grade.confidence,
        near_limit=grade.near_limit,
        probabilities=grade.probabilities,
        reasons=reasons_for(grade, features, yellowing, limits, mirrored=mirrored),
        advice=advice_for(grade, features, mirrored=mirrored),
        checks=measured.checks,
        notes=measured.photo.notes + artwork.notes,
        delta_e_2000=comparison.summary,
        regions=compare_regions(comparison, measured.explained.judged),
        features=features,
        card=card_report(measured),
        piece=piece_report(measured),
        pictures=pictures(measured, comparison, artwork),
    )
    if artwork.printer_xyz is not None:
        inspection = replace(inspection, delta_e_2000_printer=compare(measured.explained, artwork.printer_xyz).summary)
    if approved is not None:
        inspection = replace(inspection, delta_e_2000_approved=compare_with_approved(measured.explained, approved))
    return inspection


def measure_approved(
    path: Path,
    artwork: Artwork,
    *,
    layouts: Sequence[CardLayout] | None = None,
    card_values: Mapping[str, CardValues] | None = None,
) -> ApprovedPiece:
    """Measure the photo of a piece a person approved; raises Retake or BadInput when that cannot be done."""
    measured = measure_photo(path, artwork, layouts=layouts, card_values=card_values)
    return ApprovedPiece(path.name, measured.explained)
