"""The lines of text on a card: what they say and where they disturb nothing that is measured."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING

import numpy as np

from dyecast_calibration.card_layout import RULER_DEPTH_MM, CardLayout, Ruler

if TYPE_CHECKING:
    from PIL.ImageFont import FreeTypeFont

Box = tuple[float, float, float, float]
"""left, top, right, bottom; mm."""

FONT_FILE = "Vera.ttf"
"""The typeface of every label; it comes with the PDF library and its licence allows embedding."""

ASCENT = 0.76
"""Height of b and d over the baseline, in em of that typeface."""

DESCENT = 0.24
"""Depth of g and p below the baseline, in em of that typeface."""

LENGTH_TEXT_MM = 2.2
"""Type size (em) of the ruler's length."""

SMALL_TEXT_MM = 1.7
"""Type size (em) of everything else on the card: 4.8 point, the size of small print."""

CLEARANCES_MM = (2.0, 1.5, 1.0, 0.7)
"""Space above and below the card's name, tried widest first; a card without that much gets no name."""

SIDE_CLEARANCE_MM = 1.0
"""Space to the left and right of the card's name."""

LABEL_CLEARANCE_MM = 0.5
"""Space a label beside the ruler keeps to everything but the ruler."""

QUIET_CELLS = 1.0
"""White cells kept around a marker (common practice, no published source)."""

STEP_MM = 0.1
"""How finely the free margin for the card's name is searched."""


@dataclass(frozen=True, slots=True)
class Label:
    """One line of text that starts at x, on the baseline y, with an em of `size`; mm."""

    text: str
    x: float
    y: float
    size: float

    @property
    def box(self) -> Box:
        """The space it takes up, mm, from the tops of b and d to the feet of g and p."""
        right = self.x + text_width(self.text, self.size)
        return (self.x, self.y - ASCENT * self.size, right, self.y + DESCENT * self.size)


def card_labels(layout: CardLayout, printed_on: date) -> tuple[Label, ...]:
    """Return the ruler's length and check, and the card's name, edition and print date.

    A label that would come too near to a marker, patch or white area, or leave the card, is left out.
    """
    taken = measured_boxes(layout)
    labels = [
        label
        for label in (_ruler_labels(layout.ruler) if layout.ruler else ())
        if _is_free(_grown(label.box, LABEL_CLEARANCE_MM), taken, layout)
    ]
    if layout.ruler:
        taken.append(_ruler_box(layout.ruler))
    taken += [label.box for label in labels]
    name = (
        f"dyecast reference card {layout.name} · edition {layout.edition} · printed {printed_on.isoformat()}"
    )
    return (*labels, *_placed(name, SMALL_TEXT_MM, taken, layout))


def measured_boxes(layout: CardLayout) -> list[Box]:
    """Return the boxes, mm, where nothing else may be printed: markers with quiet zone, patches, whites."""
    boxes = [(p.x, p.y, p.x + p.width, p.y + p.height) for p in layout.patches]
    boxes += [(a.x, a.y, a.x + a.width, a.y + a.height) for a in layout.white_areas]
    for marker in layout.markers:
        cells = _cells_across(layout.marker_dictionary)
        corner, opposite = marker.corners()[0], marker.corners()[2]
        boxes.append(_grown((*corner, *opposite), QUIET_CELLS * marker.size / cells))
    return boxes


def _cells_across(dictionary_name: str) -> int:
    """Return how many cells a marker of an OpenCV dictionary has on a side, black border included."""
    import cv2

    return int(cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, dictionary_name)).markerSize) + 2


def text_width(text: str, size: float) -> float:
    """Return how wide a line of text is when its em is `size`; in the unit of `size`."""
    return _font_of_1000().getlength(text) / 1000.0 * size


@cache
def font_bytes() -> bytes:
    """Return the TrueType file all labels are set in."""
    return (files("reportlab") / "fonts" / FONT_FILE).read_bytes()


@cache
def _font_of_1000() -> "FreeTypeFont":
    from io import BytesIO

    from PIL import ImageFont

    return ImageFont.truetype(BytesIO(font_bytes()), 1000, layout_engine=ImageFont.Layout.BASIC)


def _ruler_labels(ruler: Ruler) -> tuple[Label, Label]:
    length = f"{ruler.length:g} mm"
    check = f"Measure this line: {length}. If it is not, print again at 100 %."
    return (
        Label(length, ruler.x + ruler.length + 1.0, ruler.y + RULER_DEPTH_MM, LENGTH_TEXT_MM),
        Label(
            check,
            ruler.x + (ruler.length - text_width(check, SMALL_TEXT_MM)) / 2,
            ruler.y + RULER_DEPTH_MM + 1.0 + ASCENT * SMALL_TEXT_MM,
            SMALL_TEXT_MM,
        ),
    )


def _ruler_box(ruler: Ruler) -> Box:
    return (ruler.x, ruler.y, ruler.x + ruler.length, ruler.y + RULER_DEPTH_MM)


def _placed(text: str, size: float, taken: Sequence[Box], layout: CardLayout) -> tuple[Label, ...]:
    """Place a line near the upper or lower edge, as clear of all else as can be; nothing if none fits."""
    width, height = text_width(text, size), (ASCENT + DESCENT) * size
    last = layout.height - height
    tops = sorted(np.arange(0.0, last, STEP_MM).tolist(), key=lambda top: min(top, last - top))
    for clearance in CLEARANCES_MM:
        for top in tops:
            if not clearance <= top <= last - clearance:
                continue
            band = (top - clearance, top + height + clearance)
            left = _left_of_widest_gap(band, width, taken, layout.width)
            if left is not None:
                return (Label(text, left, top + ASCENT * size, size),)
    return ()


def _left_of_widest_gap(
    band: tuple[float, float], width: float, taken: Sequence[Box], card_width: float
) -> float | None:
    """Return where to start to stand in the middle of the band's widest gap, or None if it is too narrow."""
    gap_start, widest = 0.0, (0.0, 0.0)
    in_band = sorted(
        (left, right) for left, top, right, bottom in taken if top < band[1] and bottom > band[0]
    )
    for left, right in [*in_band, (card_width, card_width)]:
        if left - gap_start > widest[1] - widest[0]:
            widest = (gap_start, left)
        gap_start = max(gap_start, right)
    spare = widest[1] - widest[0] - width
    return widest[0] + spare / 2 if spare >= 2 * SIDE_CLEARANCE_MM else None


def _is_free(box: Box, taken: Sequence[Box], layout: CardLayout) -> bool:
    inside = box[0] >= 0 and box[1] >= 0 and box[2] <= layout.width and box[3] <= layout.height
    return inside and not any(
        box[0] < other[2] and other[0] < box[2] and box[1] < other[3] and other[1] < box[3] for other in taken
    )


def _grown(box: Box, margin: float) -> Box:
    return (box[0] - margin, box[1] - margin, box[2] + margin, box[3] + margin)
