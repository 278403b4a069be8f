"""The part of a report that shows the faults of a piece: a picture with numbered places, and a table.

Every place has a number in a shape, so that colour is never the only signal: a circle beside a dashed outline
for a part of the piece, a square for what concerns all of it.
"""

from typing import Final

from dyecast_api.html_text import html_text
from dyecast_api.plain_words import FAULT_NAMES, fault_sizes_words, percent_words
from dyecast_api.report_pictures import ReportPicture, ReportPictures
from dyecast_inspect.explain_faults import EVERYWHERE, place_words
from dyecast_inspect.inspection import Fault, Inspection

MARK_SHARE: Final = 0.045
"""Half the size of a number's shape, as a share of the picture's short side."""


def faults_section(inspection: Inspection, pictures: ReportPictures | None) -> str:
    """Show what is wrong with the piece beside its pressing, and what could not be looked for."""
    if not inspection.faults and not inspection.faults_not_judged:
        return ""
    told = "".join(
        f"<li>Not judged. {html_text(reason.sentence)}</li>" for reason in inspection.faults_not_judged
    )
    not_judged = f'<ul class="notes">{told}</ul>' if told else ""
    if not inspection.faults:
        return f"<section><h2>Faults</h2><p>None was seen.</p>{not_judged}</section>"
    marked = _marked(pictures.piece, inspection.faults) if pictures is not None else ""
    return f"<section><h2>Faults</h2>{marked}{_table(inspection.faults)}{not_judged}</section>"


def _marked(picture: ReportPicture, faults: tuple[Fault, ...]) -> str:
    """Draw the numbered places over the piece."""
    width, height = picture.width, picture.height
    drawn = "".join(_mark(number, fault, width, height) for number, fault in enumerate(faults, start=1))
    caption = "The piece with its faults: " + "; ".join(
        f"{number} {FAULT_NAMES[fault.code].lower()}, {place_words(fault.place)}"
        for number, fault in enumerate(faults, start=1)
    )
    return (
        f'<figure class="marked"><svg viewBox="0 0 {width} {height}" role="img" '
        f'aria-label="{html_text(caption)}.">'
        f'<image href="{picture.data_uri}" width="{width}" height="{height}"/>{drawn}</svg>'
        f"<figcaption>{html_text(caption)}.</figcaption></figure>"
    )


def _mark(number: int, fault: Fault, width: int, height: int) -> str:
    """Draw one place and its number; what concerns the whole piece is numbered along the upper edge."""
    size = MARK_SHARE * min(width, height)
    if place_words(fault.place) == EVERYWHERE:
        x, y = min(2.4 * size * (number - 0.4), width - 1.2 * size), 1.2 * size
        shape = (
            f'<rect x="{x - size:.1f}" y="{y - size:.1f}" width="{2 * size:.1f}" height="{2 * size:.1f}"/>'
        )
        return _numbered(shape, x, y, number, size)
    corners = [(min(max(x, 0.0), 1.0) * width, min(max(y, 0.0), 1.0) * height) for x, y in fault.place]
    points = " ".join(f"{x:.1f},{y:.1f}" for x, y in corners)
    outline = "".join(f'<polygon class="{style}" points="{points}"/>' for style in ("under", "over"))
    right, top = max(x for x, _ in corners), min(y for _, y in corners)
    x, y = min(right + size, width - size), max(top, 1.1 * size)
    return outline + _numbered(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{size:.1f}"/>', x, y, number, size)


def _numbered(shape: str, x: float, y: float, number: int, size: float) -> str:
    return (
        f'<g class="number">{shape}<text x="{x:.1f}" y="{y:.1f}" font-size="{1.5 * size:.1f}" '
        f'text-anchor="middle" dominant-baseline="central">{number}</text></g>'
    )


def _table(faults: tuple[Fault, ...]) -> str:
    rows = "".join(_row(number, fault) for number, fault in enumerate(faults, start=1))
    return (
        '<div class="wide"><table><thead><tr><th>No.</th><th>Fault</th><th>Where</th><th>Size</th>'
        f"<th>How sure</th></tr></thead><tbody>{rows}</tbody></table></div>"
    )


def _row(number: int, fault: Fault) -> str:
    name = f"<b>{html_text(FAULT_NAMES[fault.code])}</b><br>{html_text(fault.sentence)}"
    cells = (place_words(fault.place), fault_sizes_words(fault), percent_words(fault.confidence))
    rest = "".join(f"<td>{html_text(cell)}</td>" for cell in cells)
    return f"<tr><td>{number}</td><td>{name}</td>{rest}</tr>"
