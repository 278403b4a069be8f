"""Find the reference card in a photo: which card, where it lies, and whether it can be measured."""

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.card_layout import CardLayout, known_layouts
from dyecast_inspect.card_assembly import group_markers, printed_part_mm, sight_card
from dyecast_inspect.card_checks import check_inside, check_sharpness, check_sighting
from dyecast_inspect.card_plane import marker_points_mm, project
from dyecast_inspect.card_sighting import CardSighting, SeenMarker
from dyecast_inspect.marker_corners import refine_markers
from dyecast_inspect.marker_detection import detect_markers, detection_sides, grey_of, marker_cells
from dyecast_inspect.photo_sharpness import sharpest_edge_px
from dyecast_shared.errors import CardNotFound, PhotoBlurred, Retake, TwoCards
from dyecast_shared.photo import Photo

MARKERS_LEAST = 3
"""Markers needed. With one of four hidden the worst patch moved by 0.13 mm on flat cards and by 1.2 mm on
curled ones (rendered photos); with two hidden by 3 mm, and nothing in the two left tells when."""

LONE_LIKENESS = 0.85
"""Likeness from which a single marker, with no other to agree with it, is called one of the card's."""

MIRRORED_MARKERS_LEAST = 2
"""Mirrored markers from which the whole card is called mirrored; one could be a chance likeness."""

BLURRED_EDGE_PX = 2.5
"""Edge spread (standard deviation, working pixels) on a photo's sharpest edges from which a card that is not
seen is put down to blur: more than a cell's 0.3 on a card that fills a third of a 2000 px wide photo (4.5
px/mm)."""


def find_card(photo: Photo, layouts: Sequence[CardLayout] | None = None) -> CardSighting:
    """Find the one reference card in a photo.

    Parameters
    ----------
    photo
        Upright, at working resolution.
    layouts
        The cards looked for; None for those that ship with dyecast.

    Raises
    ------
    CardNotFound
        Fewer than three markers of a known card are seen, or they are mirrored.
    TwoCards
        Two cards of one kind, or of two known kinds; also when of the second only a part is seen.
    CardClipped, CardTooSmall, PhotoBlurred, CardBent
        The card is seen but cannot be measured; see `card_checks`.
    """
    complete, parts = _complete_and_parts(photo, layouts)
    sightings = [sight_card(photo, layout, markers) for layout, markers in complete]
    if len(sightings) > 1:
        names = " and ".join(f"'{sighting.layout.name}'" for sighting in sightings)
        raise TwoCards(f"{len(sightings)} cards are in the photo: {names}.", file=photo.name)
    check_alone(photo, complete[0], parts)
    check_sighting(photo, sightings[0], cells_of(sightings[0].layout))
    return sightings[0]


def find_cards(photo: Photo, layouts: Sequence[CardLayout] | None = None) -> tuple[CardSighting, ...]:
    """Find every reference card in a photo that can be measured: at least one, of any of the layouts.

    Parameters and errors are those of `find_card`, but several cards are no error, and a card that cannot be
    measured is one only when there is no other.
    """
    usable, refused = [], []
    for layout, markers in _complete_and_parts(photo, layouts)[0]:
        sighting = sight_card(photo, layout, markers)
        try:
            check_sighting(photo, sighting, cells_of(sighting.layout))
        except Retake as reason:
            refused.append(reason)
        else:
            usable.append(sighting)
    if not usable:
        raise refused[0]
    return tuple(usable)


Card = tuple[CardLayout, tuple[SeenMarker, ...]]
"""A layout and those of its markers that were seen in one place."""


def _complete_and_parts(photo: Photo, layouts: Sequence[CardLayout] | None) -> tuple[list[Card], list[Card]]:
    """Return the cards with enough markers, at least one, and the parts of others."""
    grey = grey_of(photo)
    cards, mirrored = look_for_cards(photo, grey, known_layouts() if layouts is None else layouts)
    complete = [card for card in cards if len(card[1]) >= MARKERS_LEAST]
    if not complete:
        raise why_no_card(photo, grey, cards, mirrored)
    return complete, [card for card in cards if len(card[1]) < MARKERS_LEAST]


def check_alone(photo: Photo, card: Card, parts: Sequence[Card]) -> None:
    """Raise TwoCards for part of another kind of card, or of the same when one of its ids is seen twice.

    A marker of the same kind whose id is still missing may be the card's own, on a corner bent far up.
    """
    ids = {marker.id for marker in card[1]}
    for layout, markers in parts:
        if layout is not card[0] or not ids.isdisjoint(marker.id for marker in markers):
            numbers = ", ".join(str(number) for number in sorted(marker.id for marker in markers))
            raise TwoCards(
                f"Beside the card '{card[0].name}' part of another one, '{layout.name}', is in the photo "
                f"(marker number {numbers}).",
                file=photo.name,
            )


def look_for_cards(
    photo: Photo, grey: NDArray[np.uint8], layouts: Sequence[CardLayout]
) -> tuple[list[Card], list[SeenMarker]]:
    """Return the cards seen, however incomplete, and the mirrored markers.

    The first size in which every card seen is whole is enough; otherwise the size that shows most counts.
    `grey` is the photo as `grey_of` gives it.
    """
    best: tuple[list[Card], list[SeenMarker]] = ([], [])
    for long_side in detection_sides(grey):
        seen = detect_markers(grey, layouts, long_side)
        cards = [(x, group) for x in layouts for group in group_markers(x, _refined(photo, x, seen), least=1)]
        cards = [(x, group) for x, group in cards if len(group) > 1 or group[0].likeness >= LONE_LIKENESS]
        mirrored = [marker for marker in seen if marker.mirrored and marker.likeness >= LONE_LIKENESS]
        best = max(best, (cards, mirrored), key=_most_markers)
        if cards and all(len(markers) == len(layout.markers) for layout, markers in cards):
            break
    return best


def _most_markers(looked: tuple[list[Card], list[SeenMarker]]) -> tuple[int, int]:
    return sum(len(markers) for _, markers in looked[0]), len(looked[1])


def _refined(photo: Photo, layout: CardLayout, seen: Sequence[SeenMarker]) -> list[SeenMarker]:
    """Return this layout's markers, corners refined, that can be followed along all four sides."""
    mine = [
        marker
        for marker in seen
        if marker.dictionary == layout.marker_dictionary
        and marker.id in layout.marker_ids()
        and not marker.mirrored
    ]
    return refine_markers(photo, mine, cells_of(layout))


def cells_of(layout: CardLayout) -> int:
    """Return the cells along one side of a card's markers, border included."""
    return len(marker_cells(layout.marker_dictionary, layout.markers[0].id))


def why_no_card(
    photo: Photo, grey: NDArray[np.uint8], cards: Sequence[Card], mirrored: Sequence[SeenMarker]
) -> CardNotFound | PhotoBlurred:
    """Return why there is no card, or raise what is wrong with the part of one that is seen."""
    if cards:
        layout, markers = max(cards, key=lambda card: len(card[1]))
        _check_part(photo, layout, markers)
        numbers = ", ".join(str(number) for number in sorted(marker.id for marker in markers))
        return CardNotFound(
            f"Only {len(markers)} of the {len(layout.markers)} markers of the card '{layout.name}' "
            f"can be seen (number {numbers}); {MARKERS_LEAST} are needed.",
            advice="Uncover the markers in the card's corners and keep glare off them.",
            file=photo.name,
        )
    if len({marker.id for marker in mirrored}) >= MIRRORED_MARKERS_LEAST:
        return CardNotFound(
            "The card is seen mirrored.",
            advice="Photograph the card itself, not its reflection; turn off the camera's mirror setting.",
            file=photo.name,
        )
    width = sharpest_edge_px(grey)
    if width is not None and width > BLURRED_EDGE_PX:
        return PhotoBlurred(
            f"No marker can be read; even the sharpest edges are blurred by {width:.1f} pixels or "
            f"more (at most {BLURRED_EDGE_PX:.1f} are usable).",
            file=photo.name,
        )
    return CardNotFound("No marker of a known reference card was seen.", file=photo.name)


def _check_part(photo: Photo, layout: CardLayout, markers: Sequence[SeenMarker]) -> None:
    """Raise CardClipped or PhotoBlurred when that explains why only some markers are seen."""
    if len(markers) > 1:
        sighting = sight_card(photo, layout, markers)
        printed = project(sighting.card_to_photo, printed_part_mm(layout))
        check_inside(photo, layout, printed, sighting.pixels_per_mm)
        check_sharpness(photo, sighting, cells_of(layout))
        return
    affine, _ = cv2.estimateAffine2D(marker_points_mm(layout, markers[0].id), markers[0].corners_px)
    printed = printed_part_mm(layout) @ affine[:, :2].T + affine[:, 2]
    check_inside(photo, layout, printed, float(np.sqrt(abs(np.linalg.det(affine[:, :2])))))
