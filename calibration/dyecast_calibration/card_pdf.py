"""A card as a PDF page in its exact physical size, with crop marks, all in vectors.

Colours are written as DeviceRGB with the card's 8-bit sRGB code values: printing programs and drivers take
untagged RGB for sRGB, or let the user choose the source profile. No picture is embedded, so nothing is
resampled or compressed with loss. TrimBox is the card.
"""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

from dyecast_calibration.card_drawing import (
    BLACK,
    TEXT_COLOUR,
    CardDrawing,
    Colour,
    MarkerCells,
    Rectangle,
    card_drawing,
)
from dyecast_calibration.card_labels import Label, font_bytes, text_width
from dyecast_calibration.card_layout import CardLayout
from dyecast_shared.atomic_write import write_atomically
from dyecast_shared.errors import BadInput

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

POINTS_PER_MM = 72.0 / 25.4
"""PDF points, 1/72 inch, in a millimetre."""

CROP_GAP_MM = 2.0
"""From the card's corner to the nearer end of a crop mark, so that no ink of a mark stays on the card."""

CROP_LENGTH_MM = 5.0
"""Length of a crop mark."""

CROP_LINE_MM = 0.1
"""Thickness of a crop mark; its middle stands on the card's edge."""

NOTE_MM = 2.8
"""Type size (em) of the notes below the card: 8 point."""

NOTE_PITCH_MM = 4.6
"""From one line of the notes to the next."""

NOTE_LINES = 3
"""Most lines of notes there are."""

PRINTER_MARGIN_MM = 5.0
"""Edge of the sheet most desktop printers leave white (common practice, no published source)."""

FONT_NAME = "CardLabels"


class Page(StrEnum):
    """Paper a card is printed on."""

    A4 = "a4"
    A5 = "a5"
    LETTER = "letter"


PAGE_SIZES_MM: dict[Page, tuple[float, float]] = {
    Page.A4: (210.0, 297.0),
    Page.A5: (148.0, 210.0),
    Page.LETTER: (215.9, 279.4),
}
"""Width and height of the upright sheet. Source: ISO 216; ANSI/ASME Y14.1 (8.5 × 11 inch)."""


@dataclass(frozen=True, slots=True)
class _Sheet:
    """A page of `width` × `height` mm and where the card's top-left corner lies on it, y down."""

    width: float
    height: float
    card_x: float
    card_y: float


def draw_card_pdf(
    layout: CardLayout, path: Path, *, mirrored: bool = False, printed_on: date, page: Page = Page.A4
) -> None:
    """Write a one-page PDF of the card; the same arguments give the same bytes.

    Mirrored, the whole card is flipped left to right, for pressing onto a blank; the notes beside the card
    stay readable. The viewer is asked to print without scaling (ViewerPreferences, PrintScaling None).

    Raises BadInput when the page is too small for the card and its crop marks, OutputFailed when the file
    cannot be written; nothing half-written is left behind.
    """
    drawing = card_drawing(layout, printed_on)
    sheet = _sheet_for(layout, page)
    content = BytesIO()
    canvas = _new_canvas(content, sheet, layout)
    _draw_card(canvas, drawing, mirrored)
    _draw_crop_marks(canvas, drawing)
    _draw_notes(canvas, drawing, _notes(layout, mirrored))
    canvas.showPage()
    canvas.save()
    write_atomically(path, content.getvalue())


def _sheet_for(layout: CardLayout, page: Page) -> _Sheet:
    """Take the page upright if the card fits, else on its side; the card stands a little above the middle."""
    marks = CROP_GAP_MM + CROP_LENGTH_MM
    across = layout.width + 2 * (marks + PRINTER_MARGIN_MM)
    down = layout.height + 2 * (marks + PRINTER_MARGIN_MM) + NOTE_LINES * NOTE_PITCH_MM
    upright = PAGE_SIZES_MM[page]
    for width, height in (upright, upright[::-1]):
        if across <= width and down <= height:
            top = marks + PRINTER_MARGIN_MM + (height - down) / 3
            return _Sheet(width, height, (width - layout.width) / 2, top)
    raise BadInput(
        f"Card {layout.name} ({layout.width:g} × {layout.height:g} mm) and its crop marks do not fit on "
        f"{page.value.title()} paper.",
        advice="Choose a larger page.",
    )


def _new_canvas(content: BytesIO, sheet: _Sheet, layout: CardLayout) -> "Canvas":
    """Return a reportlab canvas whose unit is a millimetre, origin at the card's top left, y downwards."""
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont
    from reportlab.pdfgen.canvas import Canvas

    if FONT_NAME not in pdfmetrics.getRegisteredFontNames():
        pdfmetrics.registerFont(TTFont(FONT_NAME, BytesIO(font_bytes())))
    size = (sheet.width * POINTS_PER_MM, sheet.height * POINTS_PER_MM)
    canvas = Canvas(content, pagesize=size, invariant=1, pageCompression=1, initialFontName=FONT_NAME)
    canvas.setTitle(f"dyecast reference card {layout.name}, edition {layout.edition}")
    canvas.setSubject("Print at 100 %, source colours sRGB")
    canvas.setAuthor("dyecast")
    canvas.setCreator("dyecast")
    canvas.setViewerPreference("PrintScaling", "None")
    left, bottom = sheet.card_x, sheet.height - sheet.card_y - layout.height
    trim = (left, bottom, left + layout.width, bottom + layout.height)
    canvas.setTrimBox(tuple(side * POINTS_PER_MM for side in trim))
    canvas.translate(left * POINTS_PER_MM, (bottom + layout.height) * POINTS_PER_MM)
    canvas.scale(POINTS_PER_MM, -POINTS_PER_MM)
    return canvas


def _draw_card(canvas: "Canvas", drawing: CardDrawing, mirrored: bool) -> None:
    canvas.saveState()
    if mirrored:
        canvas.translate(drawing.width, 0)
        canvas.scale(-1, 1)
    for rectangle in drawing.rectangles:
        _draw_rectangle(canvas, rectangle)
    for marker in drawing.markers:
        _draw_marker(canvas, marker)
    for label in drawing.labels:
        _draw_label(canvas, label)
    canvas.restoreState()


def _draw_rectangle(canvas: "Canvas", rectangle: Rectangle) -> None:
    _set_fill(canvas, rectangle.colour)
    canvas.rect(rectangle.x, rectangle.y, rectangle.width, rectangle.height, stroke=0, fill=1)


def _draw_marker(canvas: "Canvas", marker: MarkerCells) -> None:
    """Fill the black square, then all white cells as one path, which leaves no seams between cells."""
    _draw_rectangle(canvas, Rectangle(marker.x, marker.y, marker.size, marker.size, BLACK))
    _set_fill(canvas, (255, 255, 255))
    path = canvas.beginPath()
    for row, cells in enumerate(marker.white):
        for column, is_white in enumerate(cells):
            if is_white:
                place = (marker.x + column * marker.cell, marker.y + row * marker.cell)
                path.rect(*place, marker.cell, marker.cell)
    canvas.drawPath(path, stroke=0, fill=1)


def _draw_label(canvas: "Canvas", label: Label) -> None:
    """Write a label; text is turned over again, for the y of this canvas runs down."""
    _set_fill(canvas, TEXT_COLOUR)
    canvas.saveState()
    canvas.translate(label.x, label.y)
    canvas.scale(1, -1)
    canvas.setFont(FONT_NAME, label.size)
    canvas.drawString(0, 0, label.text)
    canvas.restoreState()


def _draw_crop_marks(canvas: "Canvas", drawing: CardDrawing) -> None:
    canvas.setStrokeColorRGB(0, 0, 0)
    canvas.setLineWidth(CROP_LINE_MM)
    near, far = CROP_GAP_MM, CROP_GAP_MM + CROP_LENGTH_MM
    for x, outwards in ((0.0, -1.0), (drawing.width, 1.0)):
        for y in (0.0, drawing.height):
            canvas.line(x + outwards * near, y, x + outwards * far, y)
    for y, outwards in ((0.0, -1.0), (drawing.height, 1.0)):
        for x in (0.0, drawing.width):
            canvas.line(x, y + outwards * near, x, y + outwards * far)


def _notes(layout: CardLayout, mirrored: bool) -> list[str]:
    notes = [
        f"Card {layout.name}: {layout.width:g} × {layout.height:g} mm, cut along the crop marks.",
        "Print at 100 % with your usual colour settings, source sRGB, no automatic enhancement.",
    ]
    if mirrored:
        notes.append("Mirrored for transfer: once pressed onto a blank, the card reads the right way round.")
    return notes


def _draw_notes(canvas: "Canvas", drawing: CardDrawing, notes: list[str]) -> None:
    first = drawing.height + CROP_GAP_MM + CROP_LENGTH_MM + NOTE_PITCH_MM
    for index, text in enumerate(notes):
        left = (drawing.width - text_width(text, NOTE_MM)) / 2
        _draw_label(canvas, Label(text, left, first + index * NOTE_PITCH_MM, NOTE_MM))


def _set_fill(canvas: "Canvas", colour: Colour) -> None:
    canvas.setFillColorRGB(*(level / 255.0 for level in colour))
