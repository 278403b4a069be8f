"""The certificate as a PDF for people: the facts of its JSON document, the pictures and the charts."""

import io
from collections.abc import Mapping, Sequence
from datetime import datetime
from functools import cache, partial
from html import escape
from typing import TYPE_CHECKING, Any, Final

from dyecast_api.batches.batch_chart_pdf import draw_chart
from dyecast_api.batches.batch_page import PICTURE_CAPTIONS
from dyecast_api.batches.batch_series import QUANTITY_WORDS
from dyecast_api.batches.certificate import signal_label
from dyecast_api.batches.chart_drawing import WIDTH, ChartDrawing
from dyecast_calibration.batch.drift import Quantity

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas
    from reportlab.platypus import Flowable

MARGIN: Final = 51.0
"""Points, 18 mm: room for a punch."""

CHARTS_IN_A_ROW: Final = 2
FACT_NAME_WIDTH: Final = 100.0
LEAST_BELOW_TITLE: Final = 80.0
CHART_ROW_HEIGHT: Final = 300.0
"""Points."""

GREY: Final = (0.6, 0.6, 0.6)


def certificate_pdf(
    document: Mapping[str, Any], drawings: Sequence[ChartDrawing], pictures: Mapping[str, bytes]
) -> bytes:
    """Return the PDF, A4; the same input gives the same bytes.

    `pictures` are JPEG files of the first piece by name, those there are. Letters that the font lacks are
    shown as question marks, and the certificate says so.
    """
    from reportlab.platypus import SimpleDocTemplate

    _register_fonts()
    stream = io.BytesIO()
    name = document["batch"]["name"]
    template = SimpleDocTemplate(
        stream,
        leftMargin=MARGIN,
        rightMargin=MARGIN,
        topMargin=MARGIN,
        bottomMargin=MARGIN,
        title=f"Certificate of batch {name}",
        author=document["batch"]["closed_by"],
        creator=document["software"],
        lang="en",
        invariant=1,
    )
    parts = [
        *_heading(document),
        *_pictures(pictures),
        *_facts(document),
        *_charts(drawings, template.width),
        *_limits_of_this(document),
        *_pieces(document, template.width),
    ]
    foot = partial(_foot, f"Batch {name} - {document['software']}")
    template.build(parts, onFirstPage=foot, onLaterPages=foot)
    return stream.getvalue()


def shown(text: str) -> str:
    """Return a text in letters that the font has; others become question marks."""
    return "".join(letter if letter in _letters() else "?" for letter in text.replace("Δ", "\u2206"))


@cache
def _letters() -> frozenset[str]:
    from reportlab.pdfbase.ttfonts import TTFontFile

    return frozenset(map(chr, TTFontFile("Vera.ttf").charToGlyph))


def _register_fonts() -> None:
    from reportlab.pdfbase.pdfmetrics import getRegisteredFontNames, registerFont
    from reportlab.pdfbase.ttfonts import TTFont

    for name in ("Vera", "VeraBd"):
        if name not in getRegisteredFontNames():
            registerFont(TTFont(name, f"{name}.ttf"))


def _paragraph(text: str, size: float = 9.0, *, bold: bool = False, space: float = 3.0) -> "Flowable":
    from reportlab.lib.styles import ParagraphStyle
    from reportlab.platypus import Paragraph

    font = "VeraBd" if bold else "Vera"
    style = ParagraphStyle(
        font, fontName=font, fontSize=size, leading=1.35 * size, spaceAfter=space, splitLongWords=True
    )
    return Paragraph(escape(shown(text)), style)


def _title(text: str, room: float = LEAST_BELOW_TITLE) -> list["Flowable"]:
    """Return a section's title, on the next page when less than `room` points are left on this one."""
    from reportlab.platypus import CondPageBreak, Spacer

    return [CondPageBreak(room), Spacer(1, 9), _paragraph(text, 12.0, bold=True, space=5.0)]


def _heading(document: Mapping[str, Any]) -> list["Flowable"]:
    """Say what this is, how the batch came out, and what the charts said."""
    counts, acceptance = document["counts"], document["acceptance"]
    told = (
        f"{counts['inspected']} pieces inspected: {counts['good']} good, "
        f"{counts['under_pressed']} under-pressed, {counts['over_pressed']} over-pressed."
    )
    lines = [told, *([acceptance["sentence"]] if acceptance else []), *document["process"]["sentences"]]
    return [
        _paragraph(f"Certificate of batch {document['batch']['name']}", 18.0, bold=True, space=8.0),
        *(_paragraph(line, 10.0) for line in lines),
    ]


def _pictures(pictures: Mapping[str, bytes]) -> list["Flowable"]:
    """Show the first piece beside the artwork, each with its caption."""
    from reportlab.lib.utils import ImageReader
    from reportlab.platypus import Image, Table

    cells = []
    for name, caption in PICTURE_CAPTIONS.items():
        if name in pictures:
            width, height = ImageReader(io.BytesIO(pictures[name])).getSize()
            scale = min(230.0 / width, 190.0 / height)
            picture = Image(io.BytesIO(pictures[name]), width * scale, height * scale)
            cells.append([picture, _paragraph(caption, 8.0)])
    if not cells:
        return [_paragraph("The first piece's pictures are no longer in the shop's store.")]
    return [
        *_title("First piece"),
        Table([cells], hAlign="LEFT", style=[("VALIGN", (0, 0), (-1, -1), "TOP")]),
    ]


def _facts(document: Mapping[str, Any]) -> list["Flowable"]:
    """List who decided what, how the pieces were pressed, and how far the card is trusted."""
    from reportlab.platypus import Table

    rows = [[_paragraph(name, bold=True), _paragraph(words)] for name, words in fact_rows(document)]
    style = [("VALIGN", (0, 0), (-1, -1), "TOP"), ("LINEABOVE", (0, 0), (-1, -1), 0.5, GREY)]
    style += [("TOPPADDING", (0, 0), (-1, -1), 2), ("BOTTOMPADDING", (0, 0), (-1, -1), 1)]
    table = Table(rows, colWidths=[FACT_NAME_WIDTH, None], style=style, hAlign="LEFT")
    return [*_title("The batch"), table]


def fact_rows(document: Mapping[str, Any]) -> list[tuple[str, str]]:
    """Return the facts of a certificate as pairs of name and words."""
    batch, first, recipe = document["batch"], document["first_piece"], document["recipe"]
    because = f": {first['reason']}" if first["reason"] else ""
    fahrenheit = recipe["temperature_c"] * 1.8 + 32.0
    pressed = f"{recipe['temperature_c']:.0f} °C ({fahrenheit:.0f} °F) for {recipe['time_s']:g} s"
    blank = f"{recipe['blank']}, {recipe['material']}, {recipe['thickness_mm']:g} mm"
    rows = [
        ("Started", _moment(batch["started_at"])),
        ("Closed", f"{_moment(batch['closed_at'])} by {batch['closed_by']}"),
        (
            "First piece",
            f"piece {first['piece_number']}, {first['grade']}, approved by {first['approved_by']} "
            f"{_moment(first['approved_at'])}{because}",
        ),
        ("Artwork", f"{document['artwork']['name']}, SHA-256 {document['artwork']['sha256']}"),
        ("Recipe", f"{recipe['name']} on press {recipe['press']}: {pressed}"),
        ("Blank", f"{blank}, coated on the {recipe['coating_side']}"),
    ]
    given = {
        name: recipe[name.lower().replace(" ", "_")] for name in ("Ink", "Paper", "Protective sheet", "Pad")
    }
    rows += [(name, words) for name, words in given.items() if words]
    rows += [("Card", _card_words(document["card"])), ("Software", document["software"])]
    return rows + [("What happened", line) for line in document["notes"]]


def _card_words(card: Mapping[str, Any]) -> str:
    told = [f"{one['layout']}, edition {one['edition']}, colours {one['trust']}" for one in card["cards"]]
    errors = card["own_error_delta_e_2000"]
    if errors:
        told.append(
            f"error on its own patches ΔE00 {errors['lowest']:.1f} to {errors['highest']:.1f} on average"
        )
    return "; ".join(told) or "not known"


def _moment(text: str | None) -> str:
    return "" if text is None else f"{datetime.fromisoformat(text):%Y-%m-%d %H:%M} UTC"


def _charts(drawings: Sequence[ChartDrawing], width: float) -> list["Flowable"]:
    """Show the charts two in a row, each with its description."""
    from reportlab.platypus import Table

    if not drawings:
        return []
    cells: list[Any] = [
        [
            _paragraph(one.title, bold=True),
            _chart(one, width / CHARTS_IN_A_ROW - 14),
            _paragraph(one.description, 7.0),
        ]
        for one in drawings
    ]
    rows = [cells[start : start + CHARTS_IN_A_ROW] for start in range(0, len(cells), CHARTS_IN_A_ROW)]
    rows = [row + [""] * (CHARTS_IN_A_ROW - len(row)) for row in rows]
    return [
        *_title("Charts", CHART_ROW_HEIGHT),
        Table(rows, hAlign="LEFT", style=[("VALIGN", (0, 0), (-1, -1), "TOP")]),
    ]


def _chart(drawing: ChartDrawing, width: float) -> "Flowable":
    from reportlab.platypus import Flowable

    class Chart(Flowable):  # type: ignore[misc]  # reportlab ships no types
        """A chart as a block of the page."""

        def wrap(self, *_: float) -> tuple[float, float]:
            """Return the block's size, points."""
            return width, drawing.height * width / WIDTH

        def draw(self) -> None:
            """Draw it."""
            draw_chart(self.canv, drawing, width, shown)

    return Chart()


def _pieces(document: Mapping[str, Any], width: float) -> list["Flowable"]:
    """List every piece; the heading row is repeated on every page."""
    from reportlab.platypus import LongTable

    heads = ["Piece", "Pressed, UTC", "Grade"]
    heads += [f"{words.name}, {words.unit}" for words in QUANTITY_WORDS.values()] + ["Signals"]
    rows = [[_paragraph(head, 7.0, bold=True) for head in heads]]
    rows += [
        [_paragraph(cell, 7.0, space=0.0) for cell in piece_cells(piece)] for piece in document["pieces"]
    ]
    shares = (0.07, 0.17, 0.16, 0.13, 0.13, 0.13, 0.12, 0.09)
    style = [("VALIGN", (0, 0), (-1, -1), "TOP"), ("LINEABOVE", (0, 0), (-1, -1), 0.4, GREY)]
    style += [("TOPPADDING", (0, 0), (-1, -1), 1), ("BOTTOMPADDING", (0, 0), (-1, -1), 1)]
    return [
        *_title("Every piece"),
        LongTable(rows, colWidths=[width * share for share in shares], repeatRows=1, style=style),
    ]


def piece_cells(piece: Mapping[str, Any]) -> list[str]:
    """Return a piece of a certificate as the cells of its row."""
    cells = [f"{piece['piece_number']}", _moment(piece["pressed_at"]).removesuffix(" UTC")]
    cells.append(f"{piece['grade']} ({piece['judged_by']}){', lost' if piece['lost'] else ''}")
    for quantity in Quantity:
        words, told = QUANTITY_WORDS[quantity], piece["measured"][quantity.value]
        own = told["standard_uncertainty"]
        about = "" if own is None else f" ± {words.scale * own:.{words.decimals}f}"
        value = told["value"]
        cells.append("-" if value is None else f"{words.scale * value:.{words.decimals}f}{about}")
    labels = dict.fromkeys(signal_label(signal["rule"]) for signal in piece["signals"])
    return [*cells, ", ".join(labels)]


def _limits_of_this(document: Mapping[str, Any]) -> list["Flowable"]:
    """Say what was not measured, and of letters that could not be shown."""
    lines = list(document["not_measured"])
    if "?" in shown(repr(document)).replace("?", "", repr(document).count("?")):
        lines.append("Letters that this file's font lacks are shown as question marks; the JSON has them.")
    lines.append("Signals: 1 to 4 Western Electric zone rules, R moving range, E weighted average (EWMA).")
    return [*_title("What was not measured"), *(_paragraph(f"•  {line}") for line in lines)]


def _foot(words: str, canvas: "Canvas", _template: object) -> None:
    canvas.setFont("Vera", 8.0)
    canvas.drawString(MARGIN, 28.0, shown(words))
    canvas.drawRightString(canvas._pagesize[0] - MARGIN, 28.0, f"page {canvas.getPageNumber()}")
