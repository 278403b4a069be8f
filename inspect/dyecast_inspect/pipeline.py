"""One photo from file to grade, in the order of the work."""

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from pathlib import Path

from dyecast_calibration.card_layout import CardLayout
from dyecast_calibration.card_values import CardValues
from dyecast_calibration.grading_limits import grading_limits
from dyecast_inspect.approved_piece import ApprovedPiece
from dyecast_inspect.check_outlined import check_outlined
from dyecast_inspect.explain_surface import explain_surface
from dyecast_inspect.faults.fault_views import fault_views
from dyecast_inspect.faults.find_faults import find_faults, freed_of_faults
from dyecast_inspect.fine_detail import measure_bleed
from dyecast_inspect.grade import check_heat_told
from dyecast_inspect.informed_prior import informed_prior
from dyecast_inspect.inspection import Inspection, Paper
from dyecast_inspect.judge import judge, with_faults
from dyecast_inspect.measure_piece import measure_piece
from dyecast_inspect.photo_checks import check_card, check_piece, check_registration, found_piece
from dyecast_inspect.piece_by_outline import registered
from dyecast_inspect.read_artwork import ArtworkOrWait, settled
from dyecast_inspect.read_card import correct_by_card, see_card
from dyecast_inspect.reports import retaken
from dyecast_inspect.shop_eye import ShopEye
from dyecast_inspect.soft_glare import check_soft_glare
from dyecast_inspect.trail import MeasuredPhoto, Trail
from dyecast_shared.errors import Retake
from dyecast_shared.meanwhile import meanwhile


def inspect_photo(  # noqa: PLR0913 (what a user may set, each by name)
    path: Path,
    artwork: ArtworkOrWait,
    *,
    layouts: Sequence[CardLayout] | None = None,
    card_values: Mapping[str, CardValues] | None = None,
    approved: ApprovedPiece | None = None,
    shop: ShopEye | None = None,
    paper: Paper = Paper.UNKNOWN,
    progress: Callable[[str], None] = lambda _: None,
) -> Inspection:
    """Inspect one photo against its artwork.

    A photo that can be opened but not judged gives the verdict ``retake`` with its reason; a file that
    cannot be used raises BadInput. `progress` is told each stage's name as it begins.
    """
    limits, trail = grading_limits(), Trail()
    try:
        measured = measure_photo(
            path, artwork, layouts=layouts, card_values=card_values, progress=progress, trail=trail
        )
        wanted = settled(artwork)
        judging = partial(judge, artwork=wanted, approved=approved, shop=shop, paper=paper)
        progress("looking for faults")
        with meanwhile(partial(judging, measured)) as judged:
            findings = find_faults(measured, wanted)
        progress("comparing and grading")
        evened = freed_of_faults(measured, findings, wanted)
        told = with_faults(judged() if evened is measured else judging(evened), findings)
        check_heat_told(told.verdict, told.probabilities, limits.most_opposite_probability)
    except Retake as retake:
        return retaken(retake, path.name, settled(artwork), trail)
    return told


def measure_photo(  # noqa: PLR0913 (what a user may set, each by name)
    path: Path,
    artwork: ArtworkOrWait,
    *,
    layouts: Sequence[CardLayout] | None = None,
    card_values: Mapping[str, CardValues] | None = None,
    progress: Callable[[str], None] = lambda _: None,
    trail: Trail | None = None,
) -> MeasuredPhoto:
    """Measure one photo, `trail` keeping each stage's findings; raises Retake or BadInput when it cannot."""
    limits, trail = grading_limits(), trail or Trail()
    photo, card = see_card(path, layouts, progress, trail)
    with meanwhile(partial(registered, photo, card, artwork, limits)) as laid:
        values, correction = correct_by_card(photo, card, card_values, progress, trail)
        progress("finding the piece")
        trail.registration = place = found_piece(laid(), limits)
    artwork = settled(artwork)
    check_card(photo, correction, limits)
    trail.registration = registration = check_registration(photo, card, correction, place, limits)
    progress("measuring the piece")
    with meanwhile(partial(measure_bleed, photo, card, registration, artwork)) as bleed_measured:
        trail.piece = piece = measure_piece(photo, card, correction, registration, artwork)
    prior = informed_prior(correction, bleed := bleed_measured())
    with meanwhile(partial(fault_views, photo, card, registration, piece, artwork)) as look:
        trail.explained = explained = explain_surface(piece, artwork, prior)
    check_outlined(registration, explained, artwork)
    check_soft_glare(piece, explained, limits.least_transferred_fraction)
    checks = check_piece(card, correction, registration, explained, limits)
    return MeasuredPhoto(
        photo, card, values, correction, registration, piece, bleed, explained, checks, look()
    )
