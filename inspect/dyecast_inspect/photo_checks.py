"""The checks a photo must pass before its piece is judged, with value, limit and advice."""

import cv2
import numpy as np

from dyecast_calibration.grading_limits import GradingLimits
from dyecast_inspect.card_checks import edge_width_limit_mm, off_plane_limit_mm
from dyecast_inspect.card_sighting import CardSighting
from dyecast_inspect.correct_colour import ColourCorrection
from dyecast_inspect.explain_surface import ExplainedPiece
from dyecast_inspect.hidden_place import where_hidden
from dyecast_inspect.inspection import PhotoCheck
from dyecast_inspect.marker_detection import marker_cells
from dyecast_inspect.register_piece import Registration
from dyecast_shared.errors import ColourUncertain, PieceClipped, PieceHidden, PieceNotFound
from dyecast_shared.geometry import apply_homography, polygon_area, rectangle_corners
from dyecast_shared.photo import Photo

MOST_GLARE = 0.05
"""Clipped area beside the card, in card areas, from which a piece that is not found may be hidden: a
twentieth of an A6 card is a lamp's reflection of 28 mm across, half of a small magnet."""

GLARE_STEP_PX = 8
"""Every so many pixels are looked at for glare."""

CORNER_SLACK_PX = 2.0
"""Working pixels a corner of the print may lie outside the frame: the registration's own uncertainty."""


def glare_beside_card(photo: Photo, card: CardSighting, correction: ColourCorrection) -> float:
    """Return the area of clipped pixels beside the card, in units of the card's own area."""
    small = photo.pixels[::GLARE_STEP_PX, ::GLARE_STEP_PX]
    clipped = correction.clipped(photo.linear(small)).astype(np.uint8)
    around = rectangle_corners(0.0, 0.0, card.layout.width, card.layout.height)
    outline = apply_homography(card.card_to_photo, around) / GLARE_STEP_PX
    cv2.fillConvexPoly(clipped, np.round(outline).astype(np.int32), 0)
    return float(clipped.sum()) / max(polygon_area(outline), 1.0)


def check_card(photo: Photo, correction: ColourCorrection, limits: GradingLimits) -> None:
    """Refuse a photo in which the card's own colours cannot be foretold well enough."""
    if correction.leave_one_out_mean > limits.most_card_error:
        raise ColourUncertain(
            f"The card's colours come out only to {correction.leave_one_out_mean:.1f} CIEDE2000; "
            f"{limits.most_card_error:.1f} is the limit.",
            file=photo.name,
        )


def matching(registration: Registration) -> float:
    """Return what tells that the piece lies there: likeness, or without detail its outline, 0..1."""
    outline, likeness = registration.outline_score, registration.correlation
    return outline if outline is not None and not np.isfinite(likeness) else likeness


def found_piece(registration: Registration | None, limits: GradingLimits) -> Registration | None:
    """Return the registration if the piece was found by it, else None."""
    found = registration is not None and matching(registration) >= limits.least_registration
    return registration if found else None


def check_registration(
    photo: Photo,
    card: CardSighting,
    correction: ColourCorrection,
    registration: Registration | None,
    limits: GradingLimits,
) -> Registration:
    """Return the registration; refuse a photo in which the artwork was not found, or not as a whole."""
    registration = found_piece(registration, limits)
    if registration is None:
        if glare_beside_card(photo, card, correction) > MOST_GLARE:
            raise PieceHidden("Glare or overexposure hides what lies beside the card.", file=photo.name)
        raise PieceNotFound("Nothing beside the card looks like the artwork.", file=photo.name)
    corners = apply_homography(registration.artwork_to_photo, [[0, 0], [1, 0], [1, 1], [0, 1]])
    height, width = photo.pixels.shape[:2]
    outside = (corners < -CORNER_SLACK_PX) | (
        corners > [width - 1 + CORNER_SLACK_PX, height - 1 + CORNER_SLACK_PX]
    )
    if outside.any():
        raise PieceClipped("Part of the piece lies outside the photo.", file=photo.name)
    return registration


def check_piece(
    card: CardSighting,
    correction: ColourCorrection,
    registration: Registration,
    explained: ExplainedPiece,
    limits: GradingLimits,
) -> tuple[PhotoCheck, ...]:
    """Refuse a piece of which too much is hidden; return every check with its value."""
    hidden = explained.hidden_ink
    if hidden > limits.most_hidden_share:
        raise PieceHidden(
            f"Glare or overexposure hides {100 * hidden:.0f} % of the print, "
            f"mostly {where_hidden(explained)}."
        )
    agreement = float(explained.fit.agreement[explained.fit.agreement > 0].mean())
    if agreement < limits.least_agreement:
        raise PieceHidden(
            "Most of the piece does not look like any pressing of this artwork: something lies over it."
        )
    layout = card.layout
    cells = len(marker_cells(layout.marker_dictionary, layout.markers[0].id))
    return (
        _check(
            "sharpness",
            card.edge_width_px / card.pixels_per_mm,
            edge_width_limit_mm(layout, cells),
            "mm of blur",
            "Hold the phone still and focus.",
        ),
        _check(
            "card-colours",
            correction.leave_one_out_mean,
            limits.most_card_error,
            "CIEDE2000",
            "Use one kind of light.",
        ),
        _check("card-flatness", card.off_plane_mm, off_plane_limit_mm(layout), "mm", "Lay the card flat."),
        _check(
            "hidden-share",
            hidden,
            limits.most_hidden_share,
            "share of the ink",
            "Move the lamp or turn the piece.",
        ),
        _match_check(registration, limits),
    )


def _match_check(registration: Registration, limits: GradingLimits) -> PhotoCheck:
    """Return the check that the artwork, or without detail the outline, is where it is said to be."""
    by_likeness = np.isfinite(registration.correlation)
    return PhotoCheck(
        "artwork-match" if by_likeness else "outline-match",
        matching(registration),
        limits.least_registration,
        "correlation" if by_likeness else "share of full support",
        matching(registration) >= limits.least_registration,
        "Check that the artwork file is the right one.",
        at_least=True,
    )


def _check(name: str, value: float, limit: float, unit: str, advice: str) -> PhotoCheck:
    """Return a check that passes up to its limit."""
    return PhotoCheck(name, value, limit, unit, value <= limit, advice)
