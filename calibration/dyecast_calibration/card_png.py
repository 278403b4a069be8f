"""A card as a picture: for printing programs that take no PDF, and for tests.

Code values are 8-bit sRGB. Edges that fall inside a pixel are mixed by covered area, in code values, so
every edge stands where the layout says, to a fraction of a pixel, at any resolution.
"""

from datetime import date
from io import BytesIO
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.card_drawing import TEXT_COLOUR, CardDrawing, MarkerCells, Rectangle, card_drawing
from dyecast_calibration.card_labels import Label, font_bytes
from dyecast_calibration.card_layout import CardLayout
from dyecast_shared.atomic_write import write_atomically
from dyecast_shared.errors import BadInput

MILLIMETRES_PER_INCH = 25.4

DPI_RANGE = (50.0, 1200.0)
"""Below, a marker's cells melt; above, no printer shows the difference and the picture outgrows memory."""

PERCEPTUAL_INTENT = 0
"""Of the PNG's sRGB chunk. Source: PNG specification, sRGB chunk."""

Canvas = NDArray[np.float32]
"""(H, W, 3) code values in 0..255 while a card is being drawn."""


def draw_card_png(
    layout: CardLayout, dpi: float, *, mirrored: bool = False, printed_on: date
) -> NDArray[np.uint8]:
    """Draw a card at `dpi` pixels per inch: (H, W, 3) uint8, R, G, B, 8-bit sRGB.

    The picture is the card's size rounded to whole pixels; places keep the exact scale. Mirrored, the whole
    card is flipped left to right, for pressing onto a blank.

    Raises BadInput when `dpi` is out of range.
    """
    if not DPI_RANGE[0] <= dpi <= DPI_RANGE[1]:
        raise BadInput(
            f"A card cannot be drawn at {dpi:g} dpi.",
            advice=f"Choose between {DPI_RANGE[0]:g} and {DPI_RANGE[1]:g} dpi.",
        )
    drawing = card_drawing(layout, printed_on)
    pixels = _draw(drawing, dpi / MILLIMETRES_PER_INCH)
    return np.ascontiguousarray(pixels[:, ::-1]) if mirrored else pixels


def write_card_png(
    path: Path, layout: CardLayout, dpi: float, *, mirrored: bool = False, printed_on: date
) -> None:
    """Write a card as a PNG that says its resolution (pHYs) and that it is sRGB (sRGB chunk).

    Raises BadInput when `dpi` is out of range, OutputFailed when the file cannot be written; nothing
    half-written is left behind.
    """
    from PIL import Image, PngImagePlugin

    pixels = draw_card_png(layout, dpi, mirrored=mirrored, printed_on=printed_on)
    chunks = PngImagePlugin.PngInfo()
    chunks.add(b"sRGB", bytes([PERCEPTUAL_INTENT]))
    content = BytesIO()
    Image.fromarray(pixels).save(content, "PNG", dpi=(dpi, dpi), pnginfo=chunks)
    write_atomically(path, content.getvalue())


def _draw(drawing: CardDrawing, pixels_per_mm: float) -> NDArray[np.uint8]:
    height, width = (max(1, round(side * pixels_per_mm)) for side in (drawing.height, drawing.width))
    canvas = np.full((height, width, 3), 255.0, dtype=np.float32)
    for rectangle in drawing.rectangles:
        _fill_rectangle(canvas, rectangle, pixels_per_mm)
    for marker in drawing.markers:
        _fill_marker(canvas, marker, pixels_per_mm)
    _write_labels(canvas, drawing.labels, pixels_per_mm)
    return np.rint(canvas).astype(np.uint8)


def _coverage(start: float, end: float, first: int, last: int) -> NDArray[np.float64]:
    """Return the share of each pixel first..last-1 that lies between two places, both in pixels."""
    edges = np.arange(first, last + 1)
    covered = np.minimum(end, edges[1:]) - np.maximum(start, edges[:-1])
    return np.asarray(np.clip(covered, 0.0, 1.0), dtype=np.float64)


def _fill_rectangle(canvas: Canvas, rectangle: Rectangle, pixels_per_mm: float) -> None:
    left, right = rectangle.x * pixels_per_mm, (rectangle.x + rectangle.width) * pixels_per_mm
    top, bottom = rectangle.y * pixels_per_mm, (rectangle.y + rectangle.height) * pixels_per_mm
    rows = slice(int(top), min(int(np.ceil(bottom)), canvas.shape[0]))
    columns = slice(int(left), min(int(np.ceil(right)), canvas.shape[1]))
    covered = np.outer(
        _coverage(top, bottom, rows.start, rows.stop), _coverage(left, right, columns.start, columns.stop)
    )
    _mix(canvas, (rows, columns), covered, rectangle.colour)


def _fill_marker(canvas: Canvas, marker: MarkerCells, pixels_per_mm: float) -> None:
    """Darken each pixel by the black area in it, all cells at once, so that no seams show between cells."""
    black = ~np.array(marker.white)
    row_shares = _cell_shares(marker.y, marker, pixels_per_mm, canvas.shape[0])
    column_shares = _cell_shares(marker.x, marker, pixels_per_mm, canvas.shape[1])
    rows = slice(int(marker.y * pixels_per_mm), int(marker.y * pixels_per_mm) + row_shares.shape[1])
    columns = slice(int(marker.x * pixels_per_mm), int(marker.x * pixels_per_mm) + column_shares.shape[1])
    _mix(canvas, (rows, columns), row_shares.T @ black @ column_shares, (0, 0, 0))


def _cell_shares(start: float, marker: MarkerCells, pixels_per_mm: float, limit: int) -> NDArray[np.float64]:
    """Return (cells, pixels): how much of each pixel along one side each cell covers."""
    first = int(start * pixels_per_mm)
    last = min(int(np.ceil((start + marker.size) * pixels_per_mm)), limit)
    places = [(start + index * marker.cell) * pixels_per_mm for index in range(len(marker.white) + 1)]
    return np.stack([_coverage(places[i], places[i + 1], first, last) for i in range(len(marker.white))])


def _mix(
    canvas: Canvas, place: tuple[slice, slice], covered: NDArray[np.floating], colour: tuple[int, int, int]
) -> None:
    share = covered[..., np.newaxis].astype(np.float32)
    canvas[place] += share * (np.array(colour, dtype=np.float32) - canvas[place])


def _write_labels(canvas: Canvas, labels: tuple[Label, ...], pixels_per_mm: float) -> None:
    from PIL import Image, ImageDraw, ImageFont

    mask = Image.new("L", (canvas.shape[1], canvas.shape[0]), 0)
    pen = ImageDraw.Draw(mask)
    for label in labels:
        font = ImageFont.truetype(
            BytesIO(font_bytes()), label.size * pixels_per_mm, layout_engine=ImageFont.Layout.BASIC
        )
        place = (label.x * pixels_per_mm, label.y * pixels_per_mm)
        pen.text(place, label.text, fill=255, font=font, anchor="ls")
    _mix(canvas, (slice(None), slice(None)), np.asarray(mask, dtype=np.float32) / 255.0, TEXT_COLOUR)
