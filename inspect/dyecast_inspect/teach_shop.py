"""Teaching the shop profile: from a measured piece and what a person says of it to a piece of the profile."""

from dataclasses import asdict
from math import hypot

from dyecast_calibration.grader_model import GRADES
from dyecast_calibration.grading_limits import grading_limits
from dyecast_calibration.shop_profile import APPROVED, LABELLED, ColourPair, ShopPiece, ShopProfile
from dyecast_inspect.compare import compare, compare_regions
from dyecast_inspect.grading_signs import GradingSigns, grading_signs
from dyecast_inspect.read_artwork import Artwork
from dyecast_inspect.shop_eye import signs_of
from dyecast_inspect.trail import MeasuredPhoto
from dyecast_shared.errors import ShopLabelsContradict


def taught(  # noqa: PLR0913 (a piece, and all that is said of it)
    profile: ShopProfile, measured: MeasuredPhoto, artwork: Artwork, grade: str, *, approved: bool, added: str
) -> ShopProfile:
    """Return the profile with one more piece.

    Raises ShopLabelsContradict when the same photo was given another grade before, or a piece that measures
    the same within its uncertainties the opposite one: no shift could make both right.
    """
    piece = _piece(measured, artwork, grade, approved=approved, added=added)
    signs = signs_of(piece)
    for other in profile.pieces:
        opposite = {grade, other.grade} == {GRADES[0], GRADES[-1]}
        same_photo = other.signs == piece.signs and other.grade != grade
        if same_photo or (opposite and _alike(signs, signs_of(other))):
            raise ShopLabelsContradict(
                f"It measures the same as {other.photo}, which is {other.grade} (number {other.number}).",
                file=piece.photo,
            )
    return profile.with_piece(piece)


def _piece(measured: MeasuredPhoto, artwork: Artwork, grade: str, *, approved: bool, added: str) -> ShopPiece:
    """Return what the profile keeps of a piece."""
    colours: tuple[ColourPair, ...] = ()
    if approved:
        comparison = compare(measured.explained, artwork.xyz)
        regions = compare_regions(comparison, measured.explained.judged)
        colours = tuple(ColourPair(region.intended_lab, region.measured_lab) for region in regions)
    return ShopPiece(
        number=0,
        added=added,
        photo=measured.photo.name,
        artwork=artwork.name,
        kind=APPROVED if approved else LABELLED,
        grade=grade,
        card_trust=measured.card_values.trust.value,
        signs=asdict(grading_signs(measured, grading_limits())),
        colours=colours,
    )


def _alike(one: GradingSigns, other: GradingSigns) -> bool:
    """Tell whether two pieces measure the same: all three signs within half their joint uncertainty."""
    return (
        abs(one.ink - other.ink) < 0.5 * hypot(one.ink_uncertainty, other.ink_uncertainty)
        and abs(one.yellowing - other.yellowing)
        < 0.5 * hypot(one.yellowing_uncertainty, other.yellowing_uncertainty)
        and abs(one.bleed - other.bleed) < 0.5 * hypot(one.bleed_uncertainty, other.bleed_uncertainty)
    )
