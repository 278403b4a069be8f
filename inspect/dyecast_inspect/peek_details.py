"""Where the artwork's details may show, when only a corner of it does.

The table is seen from above, so a flat print is the artwork turned, shifted and scaled: every matching pair
of details (SIFT: Lowe, IJCV 2004) foretells all of it by itself, from its place, size and direction. Pairs
that foretell the same place vote together, as in Lowe's paper; few are enough, because every place is
verified later by what the photo shows there.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.pressing_model import bands_from_xyz
from dyecast_inspect.find_piece import LARGEST_PIECE_MM, SMALLEST_PIECE_MM, PieceCandidate
from dyecast_inspect.piece_views import grey_8_bit, lightness_picture
from dyecast_inspect.read_artwork import Artwork
from dyecast_inspect.table_view import TableView, similarity, unit_to_pixels
from dyecast_shared.encodings import srgb_encode

VIEW_LONG_SIDE_PX: Final = 1100
"""Long side of the view of the table in which details are looked for."""

ARTWORK_LONG_SIDE_PX: Final = 400
"""Long side of the artwork for the same; 250 and 700 found no more on made peeks."""

WARMTH_LEVELS: Final = 178.0
"""Grey levels per unit of red minus blue: 0.7 in either direction fills the picture's range."""

PHOTO_DETAILS: Final = 4000
ARTWORK_DETAILS: Final = 1500
FAINTEST_DETAIL: Final = 0.015
"""Details kept, and SIFT's contrast threshold: Lowe's 0.03 halved, because an under-pressed piece is pale."""

MATCH_RATIO: Final = 0.92
"""A match counts when it is this much closer than the second best; the vote bears many wrong ones."""

AGREEING_MM: Final = 3.0
"""Matches whose details lie this close to where another foretells them agree: a thick piece seen at a
slant."""

AGREEING_SCALE: Final = 0.35
AGREEING_TURN: Final = 0.35
"""Log of the scale, and radians, by which the matches themselves may differ."""

LEAST_VOTES: Final = 3
"""Three details fix a place with one to spare (Lowe 2004)."""

MOST_PLACES: Final = 8
"""Places returned for each way round."""

Complex = NDArray[np.complex128]


@dataclass(frozen=True, slots=True, eq=False)
class _Matches:
    """Matched details: places on the artwork and in the view, and the turn and scale each pair foretells."""

    artwork: Complex
    view: Complex
    turn_and_scale: Complex

    def foretold(self) -> NDArray[np.bool_]:
        """Return which match (column) agrees with each match (row), apart from where they lie."""
        log = np.log(self.turn_and_scale)
        apart = log[:, np.newaxis] - log[np.newaxis]
        turned = np.abs((apart.imag + np.pi) % (2 * np.pi) - np.pi)
        return np.asarray((np.abs(apart.real) < AGREEING_SCALE) & (turned < AGREEING_TURN))


def places_by_details(view: TableView, artwork: Artwork) -> tuple[PieceCandidate, ...]:
    """Return places where details of the artwork, either way round, agree; those with most votes first."""
    lightness = (grey_8_bit(view.pixels), lightness_picture(artwork.xyz, ARTWORK_LONG_SIDE_PX))
    top = float(np.iinfo(view.pixels.dtype).max)
    warmth = (_warmth(view.pixels / top), _warmth(_encoded_bands(artwork)))
    found = [candidate for pair in (lightness, warmth) for candidate in _places_in(view, *pair)]
    return tuple(sorted(found, key=lambda candidate: -candidate.agreeing))


def _places_in(
    view: TableView, seen: NDArray[np.uint8], intended: NDArray[np.uint8]
) -> Iterator[PieceCandidate]:
    """Yield places where details of one kind of picture agree, either way round."""
    photo = _details(seen, view.seen, PHOTO_DETAILS)
    for mirrored in (False, True):
        shown = np.ascontiguousarray(intended[:, ::-1]) if mirrored else intended
        matches = _matched(_details(shown, None, ARTWORK_DETAILS), photo)
        to_pixels = unit_to_pixels((shown.shape[0], shown.shape[1]), mirrored=mirrored)
        for place, votes in _voted(matches, view, max(shown.shape)):
            yield PieceCandidate(view.to_photo @ place @ to_pixels, mirrored, votes)


def _warmth(encoded: NDArray[np.floating]) -> NDArray[np.uint8]:
    """Return red minus blue of encoded colours in 0..1 as a picture: blue on red of one lightness shows."""
    difference = encoded[..., 0] - encoded[..., 2]
    return np.asarray(np.clip(128.0 + WARMTH_LEVELS * difference, 0.0, 255.0), np.uint8)


def _encoded_bands(artwork: Artwork) -> NDArray[np.float64]:
    """Return the artwork's light in the three bands, encoded as sRGB does, small."""
    height, width = artwork.xyz.shape[:2]
    ratio = min(1.0, ARTWORK_LONG_SIDE_PX / max(height, width))
    size = (max(8, round(width * ratio)), max(8, round(height * ratio)))
    bands = bands_from_xyz(cv2.resize(artwork.xyz, size, interpolation=cv2.INTER_AREA))
    return np.asarray(srgb_encode(np.clip(bands, 0.0, 1.0)), np.float64)


@dataclass(frozen=True, slots=True, eq=False)
class _Details:
    """Details: places x + iy, sizes and directions as one complex number, descriptors (N, 128) or None."""

    places: Complex
    sizes: Complex
    descriptors: NDArray[np.float32] | None


def _details(grey: NDArray[np.uint8], seen: NDArray[np.bool_] | None, most: int) -> _Details:
    """Find and describe details."""
    finder = cv2.SIFT.create(nfeatures=most, contrastThreshold=FAINTEST_DETAIL)
    mask = None if seen is None else seen.astype(np.uint8) * 255
    points, descriptors = finder.detectAndCompute(grey, mask)
    places = np.array([complex(*point.pt) for point in points], np.complex128)
    turns = np.deg2rad([point.angle for point in points])
    sizes = np.array([point.size for point in points]) * np.exp(1j * turns)
    return _Details(places, sizes, None if descriptors is None else np.asarray(descriptors, np.float32))


def _matched(artwork: _Details, view: _Details) -> _Matches:
    """Match each detail of the artwork with the likest in the view."""
    if artwork.descriptors is None or view.descriptors is None or len(view.descriptors) < 2:
        return _Matches(*[np.zeros(0, np.complex128)] * 3)
    pairs = cv2.BFMatcher(cv2.NORM_L2).knnMatch(artwork.descriptors, view.descriptors, k=2)
    kept = [best for best, second in pairs if best.distance < MATCH_RATIO * second.distance]
    ours, theirs = [match.queryIdx for match in kept], [match.trainIdx for match in kept]
    scale = view.sizes[theirs] / artwork.sizes[ours]
    return _Matches(artwork.places[ours], view.places[theirs], scale)


def _voted(matches: _Matches, view: TableView, long_side_px: int) -> list[tuple[NDArray[np.float64], int]]:
    """Return the places with most votes as similarities (3, 3), each with its votes."""
    if len(matches.view) < LEAST_VOTES:
        return []
    near = AGREEING_MM * view.pixels_per_mm
    shift = matches.view - matches.turn_and_scale * matches.artwork
    reached = matches.turn_and_scale[:, np.newaxis] * matches.artwork[np.newaxis] + shift[:, np.newaxis]
    agreeing = matches.foretold() & (np.abs(reached - matches.view[np.newaxis]) < near)
    long_sides = np.abs(matches.turn_and_scale) * long_side_px / view.pixels_per_mm
    votes = agreeing.sum(axis=1) * ((long_sides > SMALLEST_PIECE_MM) & (long_sides < LARGEST_PIECE_MM))
    places: list[tuple[NDArray[np.float64], int]] = []
    heard = np.zeros(len(votes), np.bool_)
    for first in np.argsort(-votes):
        if votes[first] < LEAST_VOTES or len(places) == MOST_PLACES:
            break
        if not heard[first]:
            heard |= agreeing[first]
            places.append((_fitted(matches, agreeing[first], near), int(votes[first])))
    return places


def _fitted(matches: _Matches, agreeing: NDArray[np.bool_], near: float) -> NDArray[np.float64]:
    """Fit one similarity to the agreeing matches by least squares, twice."""
    chosen = agreeing
    for _ in range(2):
        terms = np.stack([matches.artwork[chosen], np.ones(int(chosen.sum()))], axis=1)
        scale, shift = np.linalg.lstsq(terms, matches.view[chosen], rcond=None)[0]
        closer = np.abs(scale * matches.artwork + shift - matches.view) < near
        chosen = closer if closer.sum() >= LEAST_VOTES else chosen
    return similarity(complex(scale), complex(shift))
