"""A glance at a viewfinder's frame: is the card in it, whole, near and sharp enough, and is there glare.

A frame has fewer pixels than the photo that the shutter takes. What depends on pixels, the size of a patch
and the sharpness, is therefore judged by what the photo will have, not by what the frame has.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from dyecast_calibration.card_layout import CardLayout, known_layouts
from dyecast_inspect.card_assembly import printed_part_mm, sight_card
from dyecast_inspect.card_checks import (
    PATCH_SIDE_PX_LEAST,
    check_flatness,
    check_inside,
    edge_width_limit_mm,
    shortest_patch_side_px,
)
from dyecast_inspect.card_plane import marker_points_mm, project
from dyecast_inspect.card_sighting import CardSighting
from dyecast_inspect.find_card import (
    MARKERS_LEAST,
    Card,
    cells_of,
    check_alone,
    look_for_cards,
    why_no_card,
)
from dyecast_inspect.frame_places import direction_in_frame
from dyecast_inspect.glare_in_frame import FrameGlare, find_glare
from dyecast_inspect.marker_detection import grey_of
from dyecast_inspect.read_photo import working_factor
from dyecast_shared.errors import CardTooSmall, PhotoBlurred, Retake, TwoCards
from dyecast_shared.photo import Photo

FRAME_EDGE_PX: Final = 0.6
"""Edge spread (standard deviation) that a sharp edge has in a frame, px: the pixels' own width, the drawing
into the canvas and the compression. Sharp rendered photos reduced to 960 px measured 0.60 to 0.75; a photo of
full size spreads an edge over less of the card, so this much is taken off in quadrature."""


@dataclass(frozen=True, slots=True)
class Glance:
    """What a frame shows.

    Attributes
    ----------
    layout
        Name of the card of which at least one marker is seen; None when there is none.
    usable
        True when the photo's card could be measured as far as a frame tells.
    missing
        Where the card's corners lie whose markers are not seen, from the card's middle, in words as the frame
        is held; all of them when there are too few to tell where.
    missing_count
        How many markers are not seen; 0 without a card.
    pixels_per_mm
        Of the frame; None without a card.
    too_far
        True when the photo would have too few pixels on a patch.
    blurred
        True when its edges are too wide, or even the sharpest edges of a frame without a card are.
    trouble
        Why the card cannot be measured, with a retake's code and words; None when it can.
    glare
        What is clipped.
    """

    layout: str | None
    usable: bool
    missing: tuple[str, ...]
    missing_count: int
    pixels_per_mm: float | None
    too_far: bool
    blurred: bool
    trouble: Retake | None
    glare: FrameGlare


def glance_at(
    frame: Photo, photo_long_side: int | None = None, layouts: Sequence[CardLayout] | None = None
) -> Glance:
    """Tell what a frame shows.

    Parameters
    ----------
    frame
        Upright, as small as one likes.
    photo_long_side
        Long side of the photo that the shutter would take, px; None for the frame's own.
    layouts
        The cards looked for; None for those that ship with dyecast.
    """
    grey = grey_of(frame)
    cards, mirrored = look_for_cards(frame, grey, known_layouts() if layouts is None else layouts)
    complete = [card for card in cards if len(card[1]) >= MARKERS_LEAST]
    if not complete:
        try:
            trouble: Retake = why_no_card(frame, grey, cards, mirrored)
        except Retake as reason:
            trouble = reason
        return _without_card(frame, cards, trouble)
    sighting = sight_card(frame, *complete[0])
    scale = _photo_pixels_per_frame_pixel(frame, photo_long_side)
    trouble_found = _trouble(frame, sighting, cards, scale)
    missing = missing_places(sighting)
    return Glance(
        layout=sighting.layout.name,
        usable=trouble_found is None,
        missing=missing,
        missing_count=len(missing),
        pixels_per_mm=sighting.pixels_per_mm,
        too_far=isinstance(trouble_found, CardTooSmall),
        blurred=isinstance(trouble_found, PhotoBlurred),
        trouble=trouble_found,
        glare=find_glare(frame, sighting),
    )


def missing_places(card: CardSighting) -> tuple[str, ...]:
    """Name the corners whose markers are not seen, from the card's middle, as the frame is held."""
    middle = project(card.card_to_photo, np.array([[card.layout.width / 2, card.layout.height / 2]]))[0]
    places = []
    for identity in card.missing_markers:
        marker = project(card.card_to_photo, marker_points_mm(card.layout, identity)).mean(axis=0)
        places.append(direction_in_frame(float(marker[0] - middle[0]), float(marker[1] - middle[1])))
    return tuple(places)


def _without_card(frame: Photo, cards: Sequence[Card], trouble: Retake) -> Glance:
    """Tell what a frame shows in which no card is seen, or too few of its markers."""
    seen = max(cards, key=lambda card: len(card[1]), default=None)
    missing: tuple[str, ...] = ()
    if seen is not None and len(seen[1]) > 1:
        missing = missing_places(sight_card(frame, *seen))
    return Glance(
        layout=None if seen is None else seen[0].name,
        usable=False,
        missing=missing,
        missing_count=0 if seen is None else len(seen[0].markers) - len(seen[1]),
        pixels_per_mm=None,
        too_far=False,
        blurred=isinstance(trouble, PhotoBlurred),
        trouble=trouble,
        glare=find_glare(frame, None),
    )


def _photo_pixels_per_frame_pixel(frame: Photo, photo_long_side: int | None) -> float:
    """Return how many working pixels of the photo a pixel of the frame stands for, 1 or more."""
    frame_side = int(max(frame.pixels.shape[:2]))
    photo_side = max(photo_long_side or frame_side, frame_side)
    return photo_side / working_factor(photo_side, photo_side) / frame_side


def _trouble(frame: Photo, card: CardSighting, cards: Sequence[Card], scale: float) -> Retake | None:
    """Return the first reason for which the card could not be measured in the photo."""
    complete = [each for each in cards if len(each[1]) >= MARKERS_LEAST]
    try:
        if len(complete) > 1:
            raise TwoCards(f"{len(complete)} cards are in the frame.")
        check_alone(frame, complete[0], [each for each in cards if len(each[1]) < MARKERS_LEAST])
        printed = project(card.card_to_photo, printed_part_mm(card.layout))
        check_inside(frame, card.layout, printed, card.pixels_per_mm)
        _check_size(card, scale)
        _check_sharpness(card)
        check_flatness(frame, card)
    except Retake as reason:
        return reason
    return None


def _check_size(card: CardSighting, scale: float) -> None:
    """Raise CardTooSmall when the photo would have too few pixels on a patch."""
    shortest = scale * shortest_patch_side_px(card)
    if shortest < PATCH_SIDE_PX_LEAST:
        raise CardTooSmall(
            f"The smallest patch of the card would be {shortest:.0f} pixels wide; "
            f"{PATCH_SIDE_PX_LEAST:.0f} are needed."
        )


def _check_sharpness(card: CardSighting) -> None:
    """Raise PhotoBlurred when edges are wider than the frame's own pixels and the limit together explain."""
    own_px = float(np.sqrt(max(card.edge_width_px**2 - FRAME_EDGE_PX**2, 0.0)))
    width_mm = own_px / card.pixels_per_mm
    limit_mm = edge_width_limit_mm(card.layout, cells_of(card.layout))
    if width_mm > limit_mm:
        raise PhotoBlurred(
            f"Edges on the card are blurred by {width_mm:.2f} mm; at most {limit_mm:.2f} mm can be measured."
        )
