"""How wide the white border is on each side of a print: the photo read outwards from the print's edges."""

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from dyecast_inspect.card_sighting import CardSighting
from dyecast_inspect.measure_piece import MeasuredPiece
from dyecast_inspect.register_piece import Registration
from dyecast_shared.geometry import apply_homography
from dyecast_shared.photo import Photo

SAMPLES_PER_MM: Final = 5
"""Samples along each line outwards: finer than a pixel of most photos."""

OUTWARDS_MM: Final = 25.0
"""The border is looked for this far: wider ones are no border but a smaller picture on the blank."""

LINES: Final = 40
"""Lines a side, whose median is taken; they stand in the middle third, where a round piece is widest."""

BEGIN_MM: Final = 0.8
"""Where the coating is read first: past the soft edge of the print."""

LEAST_BORDER_MM: Final = 1.6
"""A narrower border is not told from a soft edge."""

LEAST_FALL: Final = 0.04
"""Step in cube roots of light (4 in lightness) within a millimetre that ends a border: the rim, its shadow or
the table. Until then the coating must not drift as far."""

LEAST_WHITE: Final = 0.75
"""Cube root of the border's light over that of the card's white paper, at least: 0.42 of its light."""

CEILING: Final = 0.985
"""Cube root of the photo's light, in any channel, from which the coating is overexposed (code 250 of 255):
where it ends cannot be told then, as its rim is white too."""

MOST_DISAGREEMENT: Final = 0.12
"""The coating's brightness may differ this much between sides, relative cube roots: uneven light."""

SIDES: Final = ("left", "right", "top", "bottom")


@dataclass(frozen=True, slots=True)
class Borders:
    """Width of the unprinted border on each side of the artwork, mm; None where it was not seen."""

    left: float | None
    right: float | None
    top: float | None
    bottom: float | None


def measure_borders(
    photo: Photo, card: CardSighting, registration: Registration, piece: MeasuredPiece
) -> Borders:
    """Measure the border on each of the artwork's sides."""
    white = _card_white(photo, card)
    found = [_border(_profile(photo, registration, piece, side), white) for side in SIDES]
    levels = [level for level, _ in found if level > 0.0]
    usual = float(np.median(levels)) if levels else 0.0
    left, right, top, bottom = (
        width if usual and abs(level / usual - 1.0) < MOST_DISAGREEMENT else None for level, width in found
    )
    return Borders(left, right, top, bottom)


def _card_white(photo: Photo, card: CardSighting) -> float:
    """Return the cube root of the light (mean of R, G, B) on the card's white areas."""
    middles = [[area.x + area.width / 2, area.y + area.height / 2] for area in card.layout.white_areas]
    places = np.round(apply_homography(card.card_to_photo, middles)).astype(int)
    height, width = photo.pixels.shape[:2]
    codes = photo.pixels[np.clip(places[:, 1], 0, height - 1), np.clip(places[:, 0], 0, width - 1)]
    return float(np.cbrt(photo.linear(codes)).mean())


def _profile(
    photo: Photo, registration: Registration, piece: MeasuredPiece, side: str
) -> NDArray[np.float32]:
    """Return cube roots of light, (n, 3), median over the lines, outwards from the print's edge."""
    width, height = piece.width_mm, piece.height_mm
    along = (height if side in {"left", "right"} else width) / 3
    step, apart = 1.0 / SAMPLES_PER_MM, along / LINES
    outwards = -step if side in {"left", "top"} else step
    edge = {"left": 0.0, "right": width, "top": 0.0, "bottom": height}[side] + outwards / 2
    lines = np.array([[outwards, 0.0, edge], [0.0, apart, along], [0.0, 0.0, 1.0]])
    if side in {"top", "bottom"}:
        lines = lines[[1, 0, 2]]
    from_mm = registration.artwork_to_photo @ np.diag([1.0 / width, 1.0 / height, 1.0])
    size = (round(OUTWARDS_MM * SAMPLES_PER_MM), LINES)
    flags = cv2.WARP_INVERSE_MAP | cv2.INTER_LINEAR
    codes = cv2.warpPerspective(photo.pixels, from_mm @ lines, size, flags=flags)
    light = photo.linear(np.asarray(codes, photo.pixels.dtype))
    return np.asarray(np.median(np.cbrt(light), axis=0), np.float32)


def _border(profile: NDArray[np.float32], white: float) -> tuple[float, float | None]:
    """Return the coating's brightness (0 when it is not seen) and the border's width in mm, if it ends."""
    begin = round(BEGIN_MM * SAMPLES_PER_MM)
    level = np.median(profile[begin : begin + 3], axis=0)
    if float(level.mean()) < LEAST_WHITE * white or float(level.max()) >= CEILING:
        return 0.0, None
    steps = np.abs(profile[begin + SAMPLES_PER_MM :] - profile[begin:-SAMPLES_PER_MM]).max(axis=1)
    beyond = np.flatnonzero(steps > LEAST_FALL)
    if not len(beyond):
        return float(level.mean()), None
    end = begin + int(beyond[0])
    drift = float(np.abs(profile[end] - level).max())
    width = _half_way(profile, profile[end], end) / SAMPLES_PER_MM
    is_border = width >= LEAST_BORDER_MM and drift < LEAST_FALL
    return float(level.mean()), width if is_border else None


def _half_way(profile: NDArray[np.float32], level: NDArray[np.float32], end: int) -> float:
    """Return the place, in samples, where the edge that begins at `end` is half-way down."""
    falls = np.abs(profile[end : end + 2 * SAMPLES_PER_MM] - level).max(axis=1)
    half = float(falls.max()) / 2
    after = int(np.flatnonzero(falls >= half)[0])
    before = falls[after - 1] if after else np.abs(profile[end - 1] - level).max()
    share = (half - before) / max(float(falls[after] - before), 1e-6)
    return end + after + float(np.clip(share, 0.0, 1.0)) - 0.5
