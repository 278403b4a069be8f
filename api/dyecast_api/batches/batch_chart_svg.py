"""A quantity's charts as an SVG picture: readable light and dark, by shape and label as well as by colour."""

from collections.abc import Callable
from typing import Final

from dyecast_api.batches.batch_charts import QuantityCharts
from dyecast_api.batches.chart_drawing import WIDTH, ChartDrawing, Label, Line, Marker, chart_drawing
from dyecast_api.html_text import html_text

STYLE: Final = (
    ".batch-chart{--sheet:#fbfbfb;--ink:#1a1a1a;--quiet:#565656;--faint:#dadada;--average:#174f94;"
    "--signal:#96380a}"
    "@media (prefers-color-scheme:dark){.batch-chart{--sheet:#1c1c1c;--ink:#ececec;--quiet:#b0b0b0;"
    "--faint:#3a3a3a;--average:#8fbdf5;--signal:#ffa578}}"
    ".batch-chart .sheet{fill:var(--sheet)}.batch-chart text{fill:var(--ink);font-size:12px}"
    ".batch-chart .tick,.batch-chart .side{fill:var(--quiet);font-size:11px}"
    ".batch-chart .signal{font-weight:700;fill:var(--signal);stroke:var(--sheet);stroke-width:3px;"
    "paint-order:stroke}"
    ".batch-chart polyline,.batch-chart .mark{fill:none;stroke:var(--ink)}"
    ".batch-chart .grid{stroke:var(--faint)}.batch-chart .bar{stroke:var(--quiet);stroke-width:1.2}"
    ".batch-chart .centre{stroke:var(--quiet)}.batch-chart .limit{stroke:var(--quiet);stroke-dasharray:6 4}"
    ".batch-chart .values{stroke:var(--quiet);stroke-width:.8}"
    ".batch-chart .average{stroke:var(--average);stroke-width:2.2}"
    ".batch-chart .dot{fill:var(--ink);stroke:none}"
    ".batch-chart .mark{stroke:var(--signal);stroke-width:1.8}"
)


def batch_chart_svg(charts: QuantityCharts) -> str:
    """Return the picture as SVG text that needs nothing else, named and described for screen readers."""
    return drawing_svg(chart_drawing(charts))


def drawing_svg(drawing: ChartDrawing) -> str:
    """Return a drawing as SVG text."""
    height = f"{drawing.height:g}"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="batch-chart" role="img" '
        f'viewBox="0 0 {WIDTH:g} {height}" width="{2 * WIDTH:g}" style="max-width:100%;height:auto" '
        'font-family="Liberation Sans, Arial, sans-serif">'
        f"<title>{html_text(drawing.title)}</title><desc>{html_text(drawing.description)}</desc>"
        f'<style>{STYLE}</style><rect class="sheet" width="{WIDTH:g}" height="{height}"/>'
        + "".join(map(_line, drawing.lines))
        + "".join(map(_marker, drawing.markers))
        + "".join(map(_label, drawing.labels))
        + "</svg>\n"
    )


def _line(line: Line) -> str:
    points = " ".join(f"{x:.1f},{y:.1f}" for x, y in line.points)
    return f'<polyline class="{line.role}" points="{points}"/>'


def _label(label: Label) -> str:
    place = f'x="{label.x:.1f}" y="{label.y:.1f}" text-anchor="{label.anchor}"'
    return f'<text class="{label.role}" {place}>{html_text(label.text)}</text>'


def _marker(marker: Marker) -> str:
    x, y = marker.x, marker.y
    if marker.shape == "dot":
        return f'<circle class="dot" cx="{x:.1f}" cy="{y:.1f}" r="2.2"/>'
    if marker.shape == "circle":
        return f'<circle class="mark" cx="{x:.1f}" cy="{y:.1f}" r="5.5"/>'
    return f'<path class="mark" d="{_PATHS[marker.shape](x, y)}"/>'


_PATHS: Final[dict[str, Callable[[float, float], str]]] = {
    "triangle": lambda x, y: f"M{x - 6:.1f} {y + 4.5:.1f}h12l-6 -11z",
    "square": lambda x, y: f"M{x - 5:.1f} {y - 5:.1f}h10v10h-10z",
    "diamond": lambda x, y: f"M{x:.1f} {y - 7:.1f}l6 7l-6 7l-6 -7z",
    "cross": lambda x, y: f"M{x - 5:.1f} {y - 5:.1f}l10 10m0 -10l-10 10",
}
