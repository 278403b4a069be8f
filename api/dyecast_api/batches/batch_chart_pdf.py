"""A quantity's charts drawn on paper: the primitives of `chart_drawing` as vectors of a PDF."""

from collections.abc import Callable
from typing import TYPE_CHECKING, Final

from dyecast_api.batches.chart_drawing import WIDTH, ChartDrawing, Label, Line, Marker

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

INK, QUIET, FAINT, AVERAGE, SIGNAL = (
    (0.1, 0.1, 0.1),
    (0.34,) * 3,
    (0.85,) * 3,
    (0.09, 0.31, 0.58),
    (0.59, 0.22, 0.04),
)
"""DeviceRGB, 0 to 1: the colours that the page has when it is light."""

LINE_STYLES: Final = {
    "axis": (INK, 1.0, ()),
    "grid": (FAINT, 0.6, ()),
    "centre": (QUIET, 1.0, ()),
    "limit": (QUIET, 1.0, (6, 4)),
    "values": (QUIET, 0.8, ()),
    "average": (AVERAGE, 2.2, ()),
    "bar": (QUIET, 1.2, ()),
}
"""By role: colour, width, dashes; units of the drawing."""

LABEL_STYLES: Final = {
    "title": (INK, 12.0),
    "tick": (QUIET, 11.0),
    "side": (QUIET, 11.0),
    "signal": (SIGNAL, 12.0),
}
"""By role: colour, letter size in units of the drawing."""


def draw_chart(canvas: "Canvas", drawing: ChartDrawing, width: float, shown: Callable[[str], str]) -> None:
    """Draw onto a canvas whose origin is the drawing's lower left corner, `width` points wide.

    `shown` turns a text into letters that the font has.
    """
    canvas.saveState()
    canvas.scale(width / WIDTH, width / WIDTH)
    for line in drawing.lines:
        _draw_line(canvas, drawing, line)
    for marker in drawing.markers:
        _draw_marker(canvas, drawing, marker)
    for label in drawing.labels:
        _draw_label(canvas, drawing, label, shown)
    canvas.restoreState()


def _draw_line(canvas: "Canvas", drawing: ChartDrawing, line: Line) -> None:
    colour, width, dashes = LINE_STYLES[line.role]
    canvas.setStrokeColorRGB(*colour)
    canvas.setLineWidth(width)
    canvas.setDash(*dashes)
    path = canvas.beginPath()
    (x, y), *rest = line.points
    path.moveTo(x, drawing.height - y)
    for x, y in rest:
        path.lineTo(x, drawing.height - y)
    canvas.drawPath(path)


def _draw_marker(canvas: "Canvas", drawing: ChartDrawing, marker: Marker) -> None:
    """Draw a dot, or an open shape in the colour of signals."""
    x, y = marker.x, drawing.height - marker.y
    canvas.setDash()
    if marker.shape == "dot":
        canvas.setFillColorRGB(*INK)
        canvas.circle(x, y, 2.2, stroke=0, fill=1)
        return
    canvas.setStrokeColorRGB(*SIGNAL)
    canvas.setLineWidth(1.8)
    if marker.shape == "circle":
        canvas.circle(x, y, 5.5)
        return
    path = canvas.beginPath()
    for stroke in _STROKES[marker.shape]:
        path.moveTo(x + stroke[0][0], y + stroke[0][1])
        for right, up in stroke[1:]:
            path.lineTo(x + right, y + up)
    canvas.drawPath(path)


_STROKES: Final = {
    "triangle": (((-6.0, -4.5), (6.0, -4.5), (0.0, 6.5), (-6.0, -4.5)),),
    "square": (((-5.0, -5.0), (5.0, -5.0), (5.0, 5.0), (-5.0, 5.0), (-5.0, -5.0)),),
    "diamond": (((0.0, -7.0), (6.0, 0.0), (0.0, 7.0), (-6.0, 0.0), (0.0, -7.0)),),
    "cross": (((-5.0, -5.0), (5.0, 5.0)), ((-5.0, 5.0), (5.0, -5.0))),
}
"""Shapes as strokes around their middle, up being positive."""


def _draw_label(canvas: "Canvas", drawing: ChartDrawing, label: Label, shown: Callable[[str], str]) -> None:
    colour, size = LABEL_STYLES[label.role]
    canvas.setFillColorRGB(*colour)
    canvas.setFont("VeraBd" if label.role == "signal" else "Vera", size * 0.9)  # Vera's letters are wide
    write = {
        "start": canvas.drawString,
        "middle": canvas.drawCentredString,
        "end": canvas.drawRightString,
    }[label.anchor]
    write(label.x, drawing.height - label.y, shown(label.text))
