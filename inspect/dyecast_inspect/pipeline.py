"""One photo from file to grade, in the order of the work."""

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

from dyecast_calibration.card_layout import CardLayout, known_layouts
from dyecast_calibration.card_values import CardValues, designed_values
from dyecast_calibration.grading_limits import grading_limits
from dyecast_calibration.pressing_prior import PressingPrior
from dyecast_inspect.approved_piece import ApprovedPiece
from dyecast_inspect.artwork_from_approved import artwork_from_approved
from dyecast_inspect.check_outlined import check_outlined
from dyecast_inspect.correct_colour import correct_colour
from dyecast_inspect.explain_surface import explain_surface
from dyecast_inspect.find_card import find_card
from dyecast_inspect.find_piece import find_piece
from dyecast_inspect.fine_detail import measure_bleed
from dyecast_inspect.inspection import Inspection
from dyecast_inspect.judge import judge
from dyecast_inspect.measure_piece import measure_piece
from dyecast_inspect.photo_checks import check_card, check_piece, check_registration
from dyecast_inspect.piece_by_outline import or_by_outline
from dyecast_inspect.read_artwork import Artwork
from dyecast_inspect.read_photo import read_photo
from dyecast_inspect.register_piece import register_best
from dyecast_inspect.reports import retaken
from dyecast_inspect.trail import MeasuredPhoto, Trail
from dyecast_shared.errors import Retake


def _silent(stage: str) -> None:
    """Tell nobody that a stage begins."""


def inspect_photo(  # noqa: PLR0913 (what a user may set, each by name)
    path: Path,
    artwork: Artwork,
    *,
    layouts: Sequence[CardLayout] | None = None,
    card_values: Mapping[str, CardValues] | None = None,
    approved: ApprovedPiece | None = None,
    progress: Callable[[str], None] = _silent,
) -> Inspection:
    """Inspect one photo against its artwork.

    A photo that can be opened but not judged gives the verdict ``retake`` with its reason; a file that
    cannot be used raises BadInput. `progress` is told each stage's name as it begins.
    """
    trail = Trail()
    try:
        measured = _measure(path, artwork, layouts, card_values, progress, trail)
    except Retake as retake:
        return retaken(retake, path.name, artwork, trail)
    progress("comparing and grading")
    return judge(measured, artwork, approved)


def approved_artwork(
    path: Path,
    *,
    layouts: Sequence[CardLayout] | None = None,
    card_values: Mapping[str, CardValues] | None = None,
) -> Artwork:
    """Read the piece in the photo of an approved one, to inspect others against it without an artwork.

    Raises Retake or BadInput when that cannot be done.
    """
    photo = read_photo(path)
    card = find_card(photo, layouts or known_layouts())
    values = (card_values or {}).get(card.layout.name) or designed_values(card.layout)
    correction = correct_colour(photo, card.card_to_photo, card.layout, values)
    check_card(photo, correction, grading_limits())
    return artwork_from_approved(photo, card, correction)


def measure_approved(
    path: Path,
    artwork: Artwork,
    *,
    layouts: Sequence[CardLayout] | None = None,
    card_values: Mapping[str, CardValues] | None = None,
) -> ApprovedPiece:
    """Measure the photo of a piece a person approved; raises Retake or BadInput when that cannot be done."""
    measured = _measure(path, artwork, layouts, card_values, _silent, Trail())
    return ApprovedPiece(path.name, measured.explained)


def _measure(  # noqa: PLR0913, PLR0917 (the stages' common inputs)
    path: Path,
    artwork: Artwork,
    layouts: Sequence[CardLayout] | None,
    card_values: Mapping[str, CardValues] | None,
    progress: Callable[[str], None],
    trail: Trail,
) -> MeasuredPhoto:
    """Read, find the card, correct colour, find and register the piece, measure and explain it."""
    limits = grading_limits()
    progress("reading the photo")
    trail.photo = photo = read_photo(path)
    progress("finding the card")
    trail.card = card = find_card(photo, layouts or known_layouts())
    trail.card_values = values = (card_values or {}).get(card.layout.name) or designed_values(card.layout)
    progress("correcting colour")
    trail.correction = correction = correct_colour(photo, card.card_to_photo, card.layout, values)
    check_card(photo, correction, limits)
    progress("finding the piece")
    registration = register_best(photo, find_piece(photo, card, artwork), artwork)
    registration = or_by_outline(registration, photo, card, artwork, limits.least_registration)
    trail.registration = registration = check_registration(photo, card, correction, registration, limits)
    progress("measuring the piece")
    trail.piece = piece = measure_piece(photo, card, correction, registration, artwork)
    bleed = measure_bleed(photo, card, registration, artwork)
    told = None if bleed is None else (bleed.value, bleed.uncertainty)
    prior = PressingPrior().informed(card_error=correction.leave_one_out_mean, bleed=told)
    trail.explained = explained = explain_surface(piece, artwork, prior)
    check_outlined(registration, explained, artwork)
    checks = check_piece(card, correction, registration, explained, limits)
    return MeasuredPhoto(photo, card, values, correction, registration, piece, bleed, explained, checks)
