"""Find and register a piece of which only a part shows."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.pressing_model import bands_from_xyz
from dyecast_calibration.pressing_prior import PressingPrior
from dyecast_inspect.card_sighting import CardSighting
from dyecast_inspect.correct_colour import ColourCorrection
from dyecast_inspect.find_piece import PieceCandidate
from dyecast_inspect.fold_line import beyond_fold
from dyecast_inspect.measure_piece import MeasuredPiece, measure_piece
from dyecast_inspect.peek_details import VIEW_LONG_SIDE_PX, places_by_details
from dyecast_inspect.peek_search import MM_PER_PIXEL, distinct_places, places_by_colours
from dyecast_inspect.peek_visible import LEAST_SLOPE, VisiblePart, pattern_evidence, visible_part
from dyecast_inspect.read_artwork import Artwork
from dyecast_inspect.register_piece import Registration, register_piece
from dyecast_inspect.table_view import table_view
from dyecast_shared.geometry import apply_homography
from dyecast_shared.photo import Photo

MIRROR: Final = np.array([[-1.0, 0.0, 1.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]])
"""The unit square mirrored left to right."""

GLANCE_LONG_SIDE_PX: Final = 64
"""Long side of the frame in which a place is first glanced at."""

MOST_REGISTERED: Final = 3
"""Places, the likeliest at a glance, that are registered and fitted."""

LEAST_PATTERN: Final = 0.5
"""How well what shows follows the artwork, -1 to 1 (see `pattern_evidence`), below which it is another
picture; right places of made peeks reach 0.7 and more."""

LEAST_SOFT_PATTERN: Final = 0.7
"""The same for a place found by its colours: out of a thousand tried, some fit by chance."""

LEAST_CORRELATION: Final = 0.7
"""Correlation of photo and artwork in small windows where the picture shows, from which it counts as
recognised: half of the variance is then shared."""

MOST_UNCERTAIN: Final = 0.02
"""Standard uncertainty of the place as a share of the long side. A plain gradient fits in many places and
comes out at 0.05; right places of made peeks at 0.01 and less."""


SURE_VOTES: Final = 12
"""Agreeing details from which a place stands although its lightness alone does not hold it: colours of
one lightness, such as blue on red, leave the registration too little. Our choice."""


@dataclass(frozen=True, slots=True, eq=False)
class PeekedPlace:
    """The artwork laid over what shows of its print: place, light and the part."""

    registration: Registration
    piece: MeasuredPiece
    part: VisiblePart


@dataclass(frozen=True, slots=True, eq=False)
class PeekScene:
    """What finding a peek needs: photo, card, colours, artwork, and the priors of pressing and light."""

    photo: Photo
    card: CardSighting
    correction: ColourCorrection
    artwork: Artwork
    prior: PressingPrior


def find_peek(scene: PeekScene) -> PeekedPlace | None:
    """Return the place where the artwork shows best, registered on what shows; None without any.

    A coated glass lies with its coated side up, so its print runs the other way round; and the flap shows the
    ghost of the print, mirrored. Both ways round are tried therefore, and what holds too little ink to be a
    print is passed over.
    """
    photo, card, artwork = scene.photo, scene.card, scene.artwork
    view = table_view(photo, card, long_side_px=VIEW_LONG_SIDE_PX, most_per_mm=4.0)
    found = _best_of(scene, places_by_details(view, artwork), LEAST_PATTERN)
    if found is not None:
        return found
    coarse = table_view(photo, card, long_side_px=VIEW_LONG_SIDE_PX, most_per_mm=1.0 / MM_PER_PIXEL)
    soft = places_by_colours(photo, coarse, artwork)
    return _best_of(scene, [*soft, *map(_other_way_round, soft)], LEAST_SOFT_PATTERN)


def _best_of(
    scene: PeekScene, candidates: Sequence[PieceCandidate], least_pattern: float
) -> PeekedPlace | None:
    """Return the candidate that shows the artwork best, registered on what shows of it."""
    likeliest = sorted(candidates, key=lambda candidate: -glance(scene, candidate))
    places = [
        (_laid(scene, candidate, None), candidate.agreeing)
        for candidate in distinct_places(likeliest, MOST_REGISTERED)
    ]
    prints = [(place, votes) for place, votes in places if _is_print(place, least_pattern)]
    if not prints:
        return None
    best, votes = max(prints, key=lambda found: found[0].part.evidence)
    again = PieceCandidate(best.registration.artwork_to_photo, best.registration.mirrored, votes)
    refined = _laid(scene, again, best.part.mask)
    if _is_print(refined, least_pattern) and _is_sure(refined.registration):
        return refined
    return best if votes >= SURE_VOTES and _is_print(best, LEAST_SOFT_PATTERN) else None


def _other_way_round(candidate: PieceCandidate) -> PieceCandidate:
    """Return the mirror image in the same place: soft pictures are often nearly their own mirror image."""
    return PieceCandidate(candidate.artwork_to_photo @ MIRROR, not candidate.mirrored, candidate.agreeing)


def _is_print(place: PeekedPlace, least_pattern: float) -> bool:
    """Tell a print of the artwork from its ghost and from other things."""
    return place.part.fraction > LEAST_SLOPE and place.part.pattern > least_pattern


def _is_sure(registration: Registration) -> bool:
    """Tell whether the artwork was recognised, and could lie nowhere else."""
    corners = apply_homography(registration.artwork_to_photo, [[0, 0], [1, 0], [1, 1], [0, 1]])
    long_side = float(np.linalg.norm(corners - np.roll(corners, -1, axis=0), axis=1).max())
    sure = registration.uncertainty_px < MOST_UNCERTAIN * long_side
    return sure and registration.correlation > LEAST_CORRELATION


def glance(scene: PeekScene, candidate: PieceCandidate) -> float:
    """Return how much of the artwork's pattern shows at a place, beyond the best fold; 0 for none."""
    height, width = scene.artwork.xyz.shape[:2]
    ratio = GLANCE_LONG_SIDE_PX / max(height, width)
    size = (max(8, round(width * ratio)), max(8, round(height * ratio)))
    intended = bands_from_xyz(cv2.resize(scene.artwork.xyz, size, interpolation=cv2.INTER_AREA))
    evidence = pattern_evidence(_light(scene.photo, candidate, size), intended)
    return beyond_fold(evidence)[1]


def _light(photo: Photo, candidate: PieceCandidate, size: tuple[int, int]) -> NDArray[np.float32]:
    """Return the photo's linear light in a small frame of the artwork, read twice as fine and averaged."""
    fine = (2 * size[0], 2 * size[1])
    frame = np.array([[1 / fine[0], 0, 0.5 / fine[0]], [0, 1 / fine[1], 0.5 / fine[1]], [0, 0, 1]])
    flags = cv2.WARP_INVERSE_MAP | cv2.INTER_LINEAR
    pixels = cv2.warpPerspective(photo.pixels, candidate.artwork_to_photo @ frame, fine, flags=flags)
    light = photo.linear(np.asarray(pixels, photo.pixels.dtype))
    return np.asarray(cv2.resize(light, size, interpolation=cv2.INTER_AREA), np.float32)


def _laid(scene: PeekScene, candidate: PieceCandidate, say: NDArray[np.bool_] | None) -> PeekedPlace:
    """Register a candidate, where `say` allows, measure its frame and find what shows."""
    registration = register_piece(scene.photo, candidate, scene.artwork, say)
    piece = measure_piece(scene.photo, scene.card, scene.correction, registration, scene.artwork)
    return PeekedPlace(registration, piece, visible_part(piece, scene.artwork, scene.prior))
