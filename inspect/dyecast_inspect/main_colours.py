"""The few colours an artwork is mainly made of, with plain names."""

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from dyecast_shared.cielab import lab_to_lch

MOST_COLOURS: Final = 6
"""Main colours told apart at most; more cannot be read at a glance."""

LEAST_SHARE: Final = 0.02
"""A colour that covers less of the judged area than this is not a main one."""

SAMPLE_PIXELS: Final = 2000
"""Pixels the grouping looks at; more change nothing but the time."""

NEUTRAL_CHROMA: Final = 8.0
"""CIELAB chroma below which a colour is called white, grey or black."""

HUES: Final = (
    (20.0, "pink"),
    (45.0, "red"),
    (75.0, "orange"),
    (105.0, "yellow"),
    (130.0, "yellow-green"),
    (175.0, "green"),
    (220.0, "teal"),
    (285.0, "blue"),
    (320.0, "violet"),
    (350.0, "magenta"),
    (361.0, "pink"),
)
"""CIELAB hue angle in degrees up to which a word fits; from memory of colour naming, only for reading."""


@dataclass(frozen=True, slots=True, eq=False)
class MainColour:
    """A main colour: its plain name, its share of the judged area in 0..1, and where it is, (h, w) bool."""

    name: str
    share: float
    mask: NDArray[np.bool_]


def main_colours(lab: NDArray[np.float32], judged: NDArray[np.bool_]) -> tuple[MainColour, ...]:
    """Group the judged pixels of a CIELAB picture (h, w, 3) into main colours, the largest first.

    k-means (Lloyd 1982) with a fixed seed on an even sample; the same picture gives the same groups.
    """
    pixels = lab[judged]
    if len(pixels) < MOST_COLOURS:
        return ()
    sample = np.ascontiguousarray(pixels[:: max(1, len(pixels) // SAMPLE_PIXELS)], dtype=np.float32)
    cv2.setRNGSeed(0)
    until = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 20, 0.5)
    _, _, centres = cv2.kmeans(sample, MOST_COLOURS, None, until, 2, cv2.KMEANS_PP_CENTERS)  # type: ignore[call-overload, unused-ignore]
    nearest = ((centres**2).sum(axis=1) - 2.0 * (pixels @ centres.T)).argmin(axis=1)
    found = [_main_colour(place, centres, nearest, judged) for place in range(MOST_COLOURS)]
    return tuple(sorted((colour for colour in found if colour.share >= LEAST_SHARE), key=lambda c: -c.share))


def _main_colour(
    place: int, centres: NDArray[np.float32], nearest: NDArray[np.integer], judged: NDArray[np.bool_]
) -> MainColour:
    """Return one group as a main colour."""
    mask = np.zeros(judged.shape, bool)
    mask[judged] = nearest == place
    return MainColour(colour_name(centres[place]), float((nearest == place).mean()), mask)


def colour_name(lab: NDArray[np.floating]) -> str:
    """Return a plain name such as "dark blue" for a CIELAB colour (3,).

    >>> colour_name(np.array([96.0, 0.0, 0.0])), colour_name(np.array([45.0, 60.0, 30.0]))
    ('white', 'red')
    """
    lightness, chroma, hue = (float(value) for value in np.asarray(lab_to_lch(lab)))
    if chroma < NEUTRAL_CHROMA:
        return "white" if lightness > 92 else "black" if lightness < 18 else f"{_tone(lightness)}grey"
    word = next(name for limit, name in HUES if hue % 360.0 < limit)
    if word in ("orange", "red", "yellow") and lightness < 45 and chroma < 45:
        word = "brown"
    return f"{_tone(lightness)}{word}"


def _tone(lightness: float) -> str:
    """Return the word for a lightness, with a trailing space, or nothing for the middle."""
    return "light " if lightness > 72 else "dark " if lightness < 35 else ""
