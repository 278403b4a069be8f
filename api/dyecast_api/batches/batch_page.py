"""A batch as one page that needs nothing else: what the charts say, the charts, every piece in a table."""

import base64
from collections.abc import Mapping
from typing import Final

from dyecast_api.batches.batch_chart_svg import drawing_svg
from dyecast_api.batches.batch_charts import QuantityCharts
from dyecast_api.batches.batch_facts import Facts, batch_facts, recipe_facts
from dyecast_api.batches.batch_series import QUANTITY_WORDS, measured
from dyecast_api.batches.batch_values import BatchPiece
from dyecast_api.batches.batch_words import clock_notes
from dyecast_api.batches.chart_drawing import RULE_LABELS, chart_drawing
from dyecast_api.batches.whole_batch import WholeBatch
from dyecast_api.html_text import html_text
from dyecast_api.printable_text import printable
from dyecast_api.report_page import page_text
from dyecast_api.report_standing_words import page_footer
from dyecast_calibration.batch.chart_signals import MARKER_SHAPES, RULE_SENTENCES, Rule, Signal
from dyecast_calibration.batch.drift import BatchState as ProcessState
from dyecast_calibration.batch.drift import Quantity

STYLE_CLASSES: Final = {
    ProcessState.STEADY: "good",
    ProcessState.PIECE_STANDS_OUT: "under-pressed",
    ProcessState.MOVED: "over-pressed",
}
"""Colours of the page by what the charts say; the words say the same."""

PICTURE_CAPTIONS: Final = {
    "piece": "The first piece as measured from its photo: straightened, corrected by the card.",
    "artwork": "The artwork: what the piece should look like.",
}


def batch_page(whole: WholeBatch, pictures: Mapping[str, bytes]) -> str:
    """Return the page as HTML text; `pictures` are JPEG files of the first piece by name, those there are."""
    finding = whole.charts.finding
    sections = (
        _head(whole),
        _pictures(pictures),
        *map(_chart, whole.charts.quantities),
        _legend(whole),
        _table(whole),
        _facts("How it is pressed", recipe_facts(whole)),
        _facts("The batch", batch_facts(whole)),
    )
    style_class = "good" if finding is None else STYLE_CLASSES[finding.state]
    title = printable(f"Batch {whole.batch.name}")
    body = "\n".join(section for section in sections if section)
    return page_text(title, style_class, body, page_footer(), masthead="Batch")


def _head(whole: WholeBatch) -> str:
    """Say in one place what a person wants to know."""
    first, *more = whole.charts.sentences
    lines = [*more, *whole.next_step, *clock_notes(whole.pieces)]
    items = "".join(f"<li>{_text(line)}</li>" for line in lines)
    return (
        f'<section class="verdict"><h1>{_text(whole.batch.name)}</h1><p class="lead">{_text(first)}</p>'
        f'<ul class="reasons">{items}</ul></section>'
    )


def _pictures(pictures: Mapping[str, bytes]) -> str:
    figures = "".join(
        f'<figure><img src="data:image/jpeg;base64,{base64.b64encode(pictures[name]).decode("ascii")}" '
        f'alt="{html_text(caption)}"><figcaption>{html_text(caption)}</figcaption></figure>'
        for name, caption in PICTURE_CAPTIONS.items()
        if name in pictures
    )
    return figures and f'<section><h2>First piece</h2><div class="pictures">{figures}</div></section>'


def _chart(charts: QuantityCharts) -> str:
    drawing = chart_drawing(charts)
    return (
        f"<section><h2>{html_text(QUANTITY_WORDS[charts.quantity].name)}, "
        f"{html_text(QUANTITY_WORDS[charts.quantity].unit)}</h2><figure>{drawing_svg(drawing)}"
        f"<figcaption>{html_text(drawing.description)}</figcaption></figure></section>"
    )


def _legend(whole: WholeBatch) -> str:
    """Say what the labels and shapes mean that are on the charts."""
    seen = {signal.rule for charts in whole.charts.quantities for signal in charts.signals}
    rows = "".join(
        f"<li><b>{RULE_LABELS[rule]}</b> ({MARKER_SHAPES[rule]}): {html_text(RULE_SENTENCES[rule])}</li>"
        for rule in Rule
        if rule in seen
    )
    words = (
        "Limits come from the scatter of the batch's own first pieces, up to twenty. Rules 1 to 4 and R are "
        "reasons to look; the process is said to have moved only when the weighted average (E) says so."
    )
    return f'<section><h2>Signs on the charts</h2><ul class="reasons">{rows}<li>{words}</li></ul></section>'


def _table(whole: WholeBatch) -> str:
    """List every piece with its figures and signals."""
    signals: dict[int, list[str]] = {}
    for charts in whole.charts.quantities:
        for signal in charts.signals:
            signals.setdefault(signal.piece_number, []).append(signal_words(charts.quantity, signal))
    names = "".join(
        f'<th scope="col">{_SHORT[quantity].capitalize()}, {html_text(words.unit)}</th>'
        for quantity, words in QUANTITY_WORDS.items()
    )
    rows = "".join(_row(piece, signals.get(piece.number, [])) for piece in whole.pieces)
    return (
        '<section><h2>Every piece</h2><div class="wide" tabindex="0" role="region" aria-label="Every piece">'
        '<table><thead><tr><th scope="col">Piece</th><th scope="col">Pressed, UTC</th>'
        f'<th scope="col">Grade</th>{names}<th scope="col">Signals</th></tr></thead>'
        f"<tbody>{rows}</tbody></table></div></section>"
    )


def _row(piece: BatchPiece, signals: list[str]) -> str:
    figures = "".join(f"<td>{html_text(figure_text(quantity, piece))}</td>" for quantity in Quantity)
    one = piece.pressing
    grade = f"{one.grade or 'not graded'} ({one.judged_by})"
    return (
        f'<tr><th scope="row">{piece.number}</th><td>{one.pressed_at:%Y-%m-%d %H:%M}</td>'
        f"<td>{_text(grade)}</td>{figures}<td>{html_text('; '.join(signals))}</td></tr>"
    )


def figure_text(quantity: Quantity, piece: BatchPiece) -> str:
    """Return a figure with its reported standard uncertainty in the shown unit, a dash for none."""
    words = QUANTITY_WORDS[quantity]
    value, own = measured(quantity, piece)
    if value is None:
        return "–"
    about = "" if own is None else f" ± {words.scale * own:.{words.decimals}f}"
    return f"{words.scale * value:.{words.decimals}f}{about}"


def signal_words(quantity: Quantity, signal: Signal) -> str:
    """Return a signal in short: its label, which quantity, and to which side, such as ``E veil above``."""
    return f"{RULE_LABELS[signal.rule]} {_SHORT[quantity]} {signal.side.value}"


_SHORT: Final = {
    Quantity.TRANSFERRED_FRACTION: "ink",
    Quantity.DELTA_E_TO_FIRST_PIECE: "difference",
    Quantity.VEIL: "veil",
    Quantity.COATING_YELLOWING: "yellowing",
}


def _facts(title: str, facts: Facts) -> str:
    rows = "".join(f"<div><dt>{_text(name)}</dt><dd>{_text(words)}</dd></div>" for name, words in facts)
    return f'<section><h2>{html_text(title)}</h2><dl class="rows">{rows}</dl></section>'


def _text(words: str) -> str:
    return html_text(printable(words))
