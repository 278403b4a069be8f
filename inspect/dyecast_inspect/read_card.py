"""The first half of every inspection, before the artwork is needed: photo, card, colour."""

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

from dyecast_calibration.card_layout import CardLayout, known_layouts
from dyecast_calibration.card_values import CardValues, designed_values
from dyecast_inspect.card_sighting import CardSighting
from dyecast_inspect.correct_colour import ColourCorrection, correct_colour
from dyecast_inspect.find_card import find_card
from dyecast_inspect.read_photo import read_photo
from dyecast_inspect.trail import Trail
from dyecast_shared.photo import Photo


def read_card(
    path: Path,
    layouts: Sequence[CardLayout] | None,
    card_values: Mapping[str, CardValues] | None,
    progress: Callable[[str], None],
    trail: Trail,
) -> tuple[Photo, CardSighting, CardValues, ColourCorrection]:
    """Read the photo, find its card and correct its colours; raises Retake or BadInput."""
    photo, card = see_card(path, layouts, progress, trail)
    values, correction = correct_by_card(photo, card, card_values, progress, trail)
    return photo, card, values, correction


def see_card(
    path: Path,
    layouts: Sequence[CardLayout] | None,
    progress: Callable[[str], None],
    trail: Trail,
) -> tuple[Photo, CardSighting]:
    """Read the photo and find its card; raises Retake or BadInput."""
    progress("reading the photo")
    trail.photo = photo = read_photo(path)
    progress("finding the card")
    trail.card = card = find_card(photo, layouts or known_layouts())
    return photo, card


def correct_by_card(
    photo: Photo,
    card: CardSighting,
    card_values: Mapping[str, CardValues] | None,
    progress: Callable[[str], None],
    trail: Trail,
) -> tuple[CardValues, ColourCorrection]:
    """Correct the photo's colours by its card; raises Retake."""
    trail.card_values = values = (card_values or {}).get(card.layout.name) or designed_values(card.layout)
    progress("correcting colour")
    trail.correction = correction = correct_colour(photo, card.card_to_photo, card.layout, values)
    return values, correction
