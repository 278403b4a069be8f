"""A card layout as a short list of things to draw, the same for every file format.

Coordinates are millimetres from the card's top-left corner, x right, y down. Everything is a filled
rectangle, a marker's cells or a line of text, so a back end stays small and two back ends cannot disagree.
"""

from dataclasses import dataclass
from datetime import date

from dyecast_calibration.card_labels import Label, card_labels
from dyecast_calibration.card_layout import RULER_DEPTH_MM, CardLayout, Marker, Ruler

Colour = tuple[int, int, int]
"""8-bit sRGB (IEC 61966-2-1)."""

BLACK: Colour = (0, 0, 0)

TEXT_COLOUR: Colour = (51, 51, 51)
"""Of every label: dark enough to read, lighter than what is measured."""

RULER_LINE_MM = 0.3
"""Thickness of the ruler's line, which hangs below the ruler's y."""

TICK_WIDTH_MM = 0.25
"""Thickness of a tick; its middle stands on the exact length."""

INNER_TICK_MM = 2.0
"""Length of the ticks between the ends, from the ruler's y downwards."""


@dataclass(frozen=True, slots=True)
class Rectangle:
    """A filled rectangle without outline; x, y, width, height in mm, colour in 8-bit sRGB."""

    x: float
    y: float
    width: float
    height: float
    colour: Colour


@dataclass(frozen=True, slots=True)
class MarkerCells:
    """A marker as equal square cells: rows of True for white, black border included; mm."""

    x: float
    y: float
    size: float
    white: tuple[tuple[bool, ...], ...]

    @property
    def cell(self) -> float:
        """Side of one cell, mm."""
        return self.size / len(self.white)


@dataclass(frozen=True, slots=True)
class CardDrawing:
    """All that is printed on a card of `width` × `height` mm of white paper."""

    width: float
    height: float
    rectangles: tuple[Rectangle, ...]
    markers: tuple[MarkerCells, ...]
    labels: tuple[Label, ...]


def card_drawing(layout: CardLayout, printed_on: date) -> CardDrawing:
    """Turn a layout into what is to be drawn, with its name, edition and print date."""
    patches = tuple(Rectangle(p.x, p.y, p.width, p.height, p.srgb) for p in layout.patches)
    return CardDrawing(
        width=layout.width,
        height=layout.height,
        rectangles=(*patches, *(_ruler_rectangles(layout.ruler) if layout.ruler else ())),
        markers=tuple(marker_cells(marker, layout.marker_dictionary) for marker in layout.markers),
        labels=card_labels(layout, printed_on),
    )


def marker_cells(marker: Marker, dictionary_name: str) -> MarkerCells:
    """Return the cells of a marker of a predefined OpenCV dictionary, its one-cell black border included."""
    import cv2

    dictionary = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, dictionary_name))
    cells = cv2.aruco.generateImageMarker(dictionary, marker.id, dictionary.markerSize + 2, borderBits=1)
    white = tuple(tuple(bool(value) for value in row) for row in cells > 0)
    return MarkerCells(marker.x, marker.y, marker.size, white)


def _ruler_rectangles(ruler: Ruler) -> tuple[Rectangle, ...]:
    half = TICK_WIDTH_MM / 2
    line = Rectangle(ruler.x - half, ruler.y, ruler.length + TICK_WIDTH_MM, RULER_LINE_MM, BLACK)
    steps = range(1, int(ruler.length / ruler.tick) + 1)
    inner = [ruler.tick * step for step in steps if ruler.tick * step < ruler.length]
    lengths = {0.0: RULER_DEPTH_MM, **dict.fromkeys(inner, INNER_TICK_MM), ruler.length: RULER_DEPTH_MM}
    ticks = [
        Rectangle(ruler.x + place - half, ruler.y, TICK_WIDTH_MM, length, BLACK)
        for place, length in lengths.items()
    ]
    return (line, *ticks)
