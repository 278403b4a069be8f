"""Lay the artwork into the outline of a thing beside the card, where its details alone do not find it.

A smooth or even artwork has no details to match. The outline then says where the piece lies, and the colours
which way round; what little detail there is refines the place and has the last word.
"""

from collections.abc import Iterator
from dataclasses import replace
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.grading_limits import GradingLimits
from dyecast_inspect.card_sighting import CardSighting
from dyecast_inspect.find_piece import PieceCandidate, find_piece, first_view
from dyecast_inspect.piece_outline import OutlineShape, PieceOutline, find_outlines
from dyecast_inspect.piece_views import lightness_picture
from dyecast_inspect.read_artwork import Artwork, ArtworkOrWait, settled
from dyecast_inspect.register_piece import Registration, register_best
from dyecast_shared.cielab import xyz_to_lab
from dyecast_shared.geometry import apply_homography
from dyecast_shared.photo import Photo

OUTLINES_TRIED: Final = 3
"""The likeliest outlines; on rendered and made scenes the first was the piece in all but one of 89."""

ASPECT_TOLERANCE: Final = 0.1
"""Difference of the sides' ratio that is borne: the side of a thick blank is seen beside its face."""

MIRRORED_LESS: Final = 0.03
"""A mirrored place must be this much likelier: the same both ways is not mirrored."""

BORDER_MORE: Final = 0.005
"""Of a border's inner and outer edge, the inner is taken when the colours are as likely: prints end there."""

UPRIGHT_MORE: Final = 0.001
"""Of places that are as likely, the one that lies upright in the photo is taken."""

LEAST_SCORE: Final = 0.5
"""Score that an outline needs when nothing else tells that the piece lies there."""

ROUND_STEPS: Final = 24
"""Turns tried for a round piece: every 15 degrees; registration turns the rest of the way."""

LIKENESS_PX: Final = 24
"""Side of the small pictures whose colours are compared."""

CLIPPED_FROM: Final = 0.97
"""Share of the code range from which a pixel is glare and not compared."""

LEAST_LIKENESS: Final = 0.35
"""Correlation of colours below which a thing is not the artwork, whichever way it lies."""

REGISTERED_AT_MOST: Final = 4
"""Places that are refined, the likeliest by colour first."""

LITTLE_DETAIL: Final = 3.0
"""Grey levels of 255, root mean square, below which an artwork has hardly any detail: the noise that
registration reckons with. Even colours and gradients have 0 to 0.3, photographs and patterns 12 and more."""

EVEN_LAB: Final = 2.0
"""Spread of an artwork's L*a*b* below which it is one colour and lies the same any way round."""

DETAIL_LONG_SIDE_PX: Final = 128
DETAIL_WINDOW_PX: Final = 15
"""Size of the picture and of the windows in which detail is measured, those of the registration."""


OUTLINE_UNCERTAINTY_MM: Final = 1.0
"""Worst corner of an outline, median over rendered and made scenes (0.9 and 0.6 mm)."""

OUTLINE_NOTE: Final = "The piece was found by its outline, not by the artwork's details."


def registered(
    photo: Photo, card: CardSighting, wanted: ArtworkOrWait, limits: GradingLimits
) -> Registration | None:
    """Return the artwork laid over its print, by its details or else by an outline; None when neither does.

    A place that the details found is taken as it is when its correlation reaches the limit.
    """
    least_correlation, first = limits.least_registration, first_view(photo, card)
    artwork = settled(wanted)
    by_details = register_best(photo, find_piece(photo, card, artwork, first), artwork)
    if by_details is not None and by_details.correlation >= least_correlation:
        return by_details
    return registered_by_outline(photo, card, artwork, least_correlation=least_correlation) or by_details


def place_notes(registration: Registration) -> tuple[str, ...]:
    """Return what a user should know about how the piece was found."""
    return () if registration.outline_score is None else (OUTLINE_NOTE,)


def registered_by_outline(
    photo: Photo, card: CardSighting, artwork: Artwork, *, least_correlation: float
) -> Registration | None:
    """Return the artwork laid into the likeliest outline beside the card; None when nothing there fits it.

    With detail, the registration's correlation must reach `least_correlation`. Without, correlation slides
    along the gradient and says nothing: the outline is taken as it is, and `correlation` is NaN.
    """
    little = detail(artwork) < LITTLE_DETAIL
    for outline in find_outlines(photo, card)[:OUTLINES_TRIED]:
        places = sorted(_places(photo, card, outline, artwork), key=lambda place: -place[0])
        likely = [candidate for _, candidate in places[:REGISTERED_AT_MOST]]
        if little and likely and outline.score >= LEAST_SCORE:
            return _as_outlined(likely[0], card, outline)
        best = None if little else register_best(photo, likely, artwork)
        if best is not None and best.correlation >= least_correlation:
            return replace(best, outline_score=outline.score)
    return None


def detail(artwork: Artwork) -> float:
    """Return the root mean square of what the artwork has beyond a smooth run of grey, levels of 255.

    Grey minus its mean in windows: an even colour or a straight gradient has none.
    """
    grey = lightness_picture(artwork.xyz, DETAIL_LONG_SIDE_PX).astype(np.float32)
    fine = grey - cv2.boxFilter(grey, -1, (DETAIL_WINDOW_PX, DETAIL_WINDOW_PX))
    margin = min(DETAIL_WINDOW_PX // 2, min(grey.shape) // 4)
    return float(np.sqrt((fine[margin:-margin, margin:-margin] ** 2).mean()))


def _as_outlined(candidate: PieceCandidate, card: CardSighting, outline: PieceOutline) -> Registration:
    """Take an outline as the artwork's place; its uncertainty is what outlines were found to have."""
    return Registration(
        artwork_to_photo=candidate.artwork_to_photo / candidate.artwork_to_photo[2, 2],
        mirrored=candidate.mirrored,
        correlation=float("nan"),
        uncertainty_px=OUTLINE_UNCERTAINTY_MM * card.pixels_per_mm,
        outline_score=outline.score,
    )


def _places(
    photo: Photo, card: CardSighting, outline: PieceOutline, artwork: Artwork
) -> Iterator[tuple[float, PieceCandidate]]:
    """Yield every way the artwork may lie in an outline, with how likely it is by its colours."""
    lab = _artwork_lab(artwork)
    even = float(np.linalg.norm(lab.reshape(-1, 3).std(axis=0))) < EVEN_LAB
    for quadrangle, mirrored, bonus in _quadrangles(outline):
        candidate = _candidate(card, quadrangle, mirrored=mirrored)
        if not _has_aspect(card, candidate, artwork):
            continue
        likeness = 1.0 if even else _likeness(photo, candidate, lab, outline.shape)
        if likeness >= LEAST_LIKENESS:
            yield likeness + bonus + UPRIGHT_MORE * _uprightness(candidate), candidate


def _uprightness(candidate: PieceCandidate) -> float:
    """Return 1 when the artwork lies upright in the photo, -1 when it stands on its head."""
    start, right = apply_homography(candidate.artwork_to_photo, [[0.0, 0.5], [1.0, 0.5]])
    return float((right - start)[0] / np.linalg.norm(right - start))


def _quadrangles(outline: PieceOutline) -> Iterator[tuple[NDArray[np.float64], bool, float]]:
    """Yield corners (4, 2) card mm for the artwork's top left, top right, bottom right, bottom left.

    With each, whether it is mirrored, and what speaks for or against it beforehand.
    """
    insets = {outline.border_mm: BORDER_MORE, 0.0: 0.0} if outline.border_mm else {0.0: 0.0}
    for margin_mm, bonus in insets.items():
        corners = outline.inset(margin_mm)
        for start in range(4) if outline.shape is OutlineShape.RECTANGLE else range(ROUND_STEPS):
            turned = _turned(corners, start, outline.shape)
            yield turned, False, bonus
            yield turned[[1, 0, 3, 2]], True, bonus - MIRRORED_LESS


def _turned(corners: NDArray[np.float64], step: int, shape: OutlineShape) -> NDArray[np.float64]:
    """Turn a rectangle by right angles, a round thing's square by `ROUND_STEPS` to a turn."""
    if shape is OutlineShape.RECTANGLE:
        return np.roll(corners, step, axis=0)
    angle, middle = 2 * np.pi * step / ROUND_STEPS, corners.mean(axis=0)
    turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    return np.asarray((corners - middle) @ turn + middle)


def _candidate(card: CardSighting, quadrangle: NDArray[np.float64], *, mirrored: bool) -> PieceCandidate:
    """Return the artwork's unit square laid into a quadrangle on the table."""
    unit = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], np.float32)
    to_card = cv2.getPerspectiveTransform(unit, quadrangle.astype(np.float32))
    return PieceCandidate(np.asarray(card.card_to_photo @ to_card, np.float64), mirrored, agreeing=0)


def _has_aspect(card: CardSighting, candidate: PieceCandidate, artwork: Artwork) -> bool:
    """Tell whether a place has the artwork's ratio of sides."""
    to_card = np.linalg.inv(card.card_to_photo) @ candidate.artwork_to_photo
    start, right, below = apply_homography(to_card, [[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]])
    height, width = artwork.xyz.shape[:2]
    ratio = np.linalg.norm(right - start) / np.linalg.norm(below - start) * height / width
    return bool(abs(np.log(ratio)) < ASPECT_TOLERANCE)


def _artwork_lab(artwork: Artwork) -> NDArray[np.float32]:
    """Return the artwork's L*a*b* (D50, 2 degree), small and square."""
    small = cv2.resize(artwork.xyz, (LIKENESS_PX, LIKENESS_PX), interpolation=cv2.INTER_AREA)
    return np.asarray(xyz_to_lab(small), np.float32)


def _likeness(
    photo: Photo, candidate: PieceCandidate, lab: NDArray[np.float32], shape: OutlineShape
) -> float:
    """Return the correlation of the photo's colours with the artwork's, all three of L*a*b* pooled, -1..1.

    Pressing, exposure and a veil shift and scale colours, which a correlation does not see.
    """
    fine = 4 * LIKENESS_PX
    to_photo = candidate.artwork_to_photo @ np.diag([1 / fine, 1 / fine, 1.0])
    pixels, flags = photo.pixels, cv2.WARP_INVERSE_MAP | cv2.INTER_LINEAR
    seen = cv2.warpPerspective(pixels, to_photo, (fine, fine), flags=flags, borderMode=cv2.BORDER_REPLICATE)
    top = np.float32(255 if pixels.dtype == np.uint8 else 65535)
    small = cv2.resize(np.asarray(seen, np.float32) / top, (LIKENESS_PX,) * 2, interpolation=cv2.INTER_AREA)
    seen_lab = cv2.cvtColor(np.asarray(small, np.float32), cv2.COLOR_RGB2Lab)
    inside = _face(shape) & (small.max(axis=2) < CLIPPED_FROM)
    if inside.sum() < LIKENESS_PX:
        return 0.0
    ours, theirs = lab[inside], seen_lab[inside]
    ours, theirs = ours - ours.mean(axis=0), theirs - theirs.mean(axis=0)
    return float((ours * theirs).sum() / max(float(np.linalg.norm(ours) * np.linalg.norm(theirs)), 1e-6))


def _face(shape: OutlineShape) -> NDArray[np.bool_]:
    """Return what of the small picture is compared: away from the edge, and within a round piece's circle."""
    place = (np.arange(LIKENESS_PX) + 0.5) / LIKENESS_PX * 2 - 1
    if shape is OutlineShape.ROUND:
        return np.asarray(np.hypot(place[:, np.newaxis], place) < 0.9)
    within = np.abs(place) < 0.92
    return np.asarray(within[:, np.newaxis] & within)
