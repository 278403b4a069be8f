"""The report page of one inspection: a single HTML file that needs nothing else to be read.

The page carries its style and its pictures inside, has no script and asks nothing of any server. Every text
that comes from a photo, an artwork or an inspection is escaped.
"""

from functools import cache
from importlib.resources import files
from string import Template
from typing import Final

from dyecast_api.html_text import html_text
from dyecast_api.plain_words import (
    VERDICT_MEANING,
    VERDICT_WORDS,
    confidence_words,
    number_words,
    percent_words,
    printable,
)
from dyecast_api.report_evidence import (
    card_section,
    checks_section,
    colours_section,
    difference_section,
    figures_section,
    notes_section,
    pictures_section,
)
from dyecast_api.report_pictures import report_pictures
from dyecast_api.version import SOFTWARE
from dyecast_inspect.inspection import Advice, Inspection, Verdict

SYMBOL_PATHS: Final = {
    Verdict.UNDER_PRESSED: '<path d="M14 22h36L32 50z" fill="none" stroke-width="5" '
    'stroke-linejoin="round"/>',
    Verdict.GOOD: '<path d="M15 33l12 12 23-25" fill="none" stroke-width="7" stroke-linecap="square"/>',
    Verdict.OVER_PRESSED: '<path d="M14 45h36L32 15z" fill="currentColor" stroke-width="5" '
    'stroke-linejoin="round"/>',
    Verdict.RETAKE: '<path d="M46 24a17 17 0 1 0 3 11" fill="none" stroke-width="5"/>'
    '<path d="M49 11v15H34z" fill="currentColor" stroke="none"/>',
}
"""Inside of the verdict's symbol, drawn in a 64 × 64 square: hollow triangle down (more is needed), tick,
full triangle up (too much), turning arrow. The shapes differ, not only their colour."""

PHOTO_STEPS: Final = (
    "Lay the card flat beside the piece, both on the same surface, close but not touching.",
    "Use one even light. Switch the flash off and keep shadows off card and piece.",
    "Look at the piece from where the phone will be: turn it, or move, until no lamp or window mirrors "
    "in it.",
    "Hold the phone level above them, with the whole card and the whole piece in the frame.",
    "Tap the piece to focus, hold still, and send the photo as the phone wrote it.",
)
"""How to take a photo that can be judged. Common practice, no published source."""

SAFETY: Final = (
    "The press works near 200 °C and stays hot after it is switched off: heat-proof gloves, sleeves down, "
    "nobody else's hands near it.",
    "Glass keeps its heat and may break when it is heated or cooled quickly, or pressed unevenly: let it "
    "cool where nobody touches it, and protect your eyes.",
    "Transfer paper, inks and coatings give off fumes when heated: air the room.",
    "Small loose magnets are dangerous when swallowed: keep them from children, and if one is missing and "
    "may have been swallowed, get medical help at once.",
    "Where these words and the sheets of the suppliers of press, blank, ink or paper differ, follow the "
    "sheets.",
)
"""The safety words at the foot of every page."""


def report_page(inspection: Inspection) -> str:
    """Return the report page of an inspection as HTML text."""
    is_retake = inspection.verdict is Verdict.RETAKE
    sections = _retake_sections(inspection) if is_retake else _judged_sections(inspection)
    return Template(_packaged_text("report.html")).substitute(
        software=html_text(SOFTWARE),
        title=html_text(f"{VERDICT_WORDS[inspection.verdict]}: {printable(inspection.photo)}"),
        style=_packaged_text("report.css"),
        verdict_class=inspection.verdict.value,
        wordmark=WORDMARK,
        sections="\n".join(section for section in sections if section),
        footer=_footer(),
    )


WORDMARK: Final = (
    '<div class="wordmark"><svg viewBox="0 0 32 32" aria-hidden="true">'
    '<circle cx="16" cy="11" r="9" fill="#00a0c8"/><circle cx="10.5" cy="20.5" r="9" fill="#d81b78" '
    'fill-opacity=".82"/><circle cx="21.5" cy="20.5" r="9" fill="#f2c400" fill-opacity=".82"/></svg>'
    "<b>dyecast</b></div>"
)
"""The name beside three overlapping spots of dye."""


@cache
def _packaged_text(name: str) -> str:
    return (files("dyecast_api") / "report_files" / name).read_text(encoding="utf-8")


def _judged_sections(inspection: Inspection) -> tuple[str, ...]:
    pictures = report_pictures(inspection)
    return (
        _verdict_section(inspection),
        _steps_section("What to do next", inspection.advice),
        pictures_section(pictures),
        difference_section(inspection),
        colours_section(inspection.regions),
        figures_section(inspection.features),
        _reasons_section("Why this verdict", inspection),
        checks_section(inspection.checks),
        card_section(inspection),
        notes_section(inspection.notes),
    )


def _retake_sections(inspection: Inspection) -> tuple[str, ...]:
    """Say what went wrong and how to do better; leave out every figure about the piece."""
    return (
        _verdict_section(inspection),
        _reasons_section("All that went wrong", inspection) if len(inspection.reasons) > 1 else "",
        _steps_section("What to do now", inspection.advice),
        _photo_steps_section(),
        checks_section(inspection.checks),
        card_section(inspection),
        notes_section(inspection.notes),
    )


def _verdict_section(inspection: Inspection) -> str:
    verdict = inspection.verdict
    return (
        f'<section class="verdict"><div class="verdict-head">{_symbol(verdict)}'
        f"<div><h1>{VERDICT_WORDS[verdict]}</h1>{_sure(inspection)}</div></div>"
        f"{_lead(inspection)}{_difference_in_short(inspection)}{_odds(inspection)}"
        f'<p class="names">Photo: {_named(inspection.photo)}<br>Artwork: {_named(inspection.artwork)}</p>'
        "</section>"
    )


def _symbol(verdict: Verdict) -> str:
    return (
        '<svg viewBox="0 0 64 64" aria-hidden="true" stroke="currentColor">'
        '<rect x="2.5" y="2.5" width="59" height="59" fill="none" stroke-width="5"/>'
        f"{SYMBOL_PATHS[verdict]}</svg>"
    )


def _sure(inspection: Inspection) -> str:
    if inspection.verdict is Verdict.RETAKE:
        return ""
    return f'<p class="sure">{html_text(confidence_words(inspection))}</p>'


def _lead(inspection: Inspection) -> str:
    """Say the weightiest reason; a retake adds that nothing is claimed about the piece."""
    meaning = VERDICT_MEANING[inspection.verdict]
    lead = inspection.reasons[0].sentence if inspection.reasons else meaning
    added = f"<p>{html_text(meaning)}</p>" if inspection.verdict is Verdict.RETAKE and lead != meaning else ""
    return f'<p class="lead">{html_text(lead)}</p>{added}'


def _difference_in_short(inspection: Inspection) -> str:
    difference = inspection.delta_e_2000
    if difference is None or inspection.verdict is Verdict.RETAKE:
        return ""
    mean = number_words(difference.mean)
    return f"<p>Colour difference from the artwork: <b>\u0394E00 {mean}</b> on average.</p>"


def _named(name: str) -> str:
    return html_text(printable(name)) or "not named"


def _odds(inspection: Inspection) -> str:
    """Draw one bar per verdict, each with its name and its percentage in words."""
    if not inspection.probabilities or inspection.verdict is Verdict.RETAKE:
        return ""
    rows = "".join(_odds_row(Verdict(name), share) for name, share in inspection.probabilities.items())
    return f'<ul class="odds" aria-label="How likely each verdict is">{rows}</ul>'


def _odds_row(verdict: Verdict, share: float) -> str:
    width = 100.0 * min(max(share, 0.0), 1.0)
    return (
        f"<li><span>{VERDICT_WORDS[verdict]}</span>"
        f'<span class="share">{html_text(percent_words(share))}</span>'
        f'<span class="bar" aria-hidden="true"><i style="width:{width:.1f}%"></i></span></li>'
    )


def _steps_section(title: str, steps: tuple[Advice, ...]) -> str:
    if not steps:
        return ""
    items = "".join(f"<li><div>{_step(step)}</div></li>" for step in steps)
    return f'<section><h2>{html_text(title)}</h2><ol class="steps">{items}</ol></section>'


def _step(step: Advice) -> str:
    because = f"<p>{html_text(step.because)}</p>" if step.because else ""
    caution = (
        f'<p class="caution"><b>\u26a0\ufe0e Caution:</b> {html_text(step.caution)}</p>'
        if step.caution
        else ""
    )
    return f'<p class="what">{html_text(step.sentence)}</p>{because}{caution}'


def _photo_steps_section() -> str:
    items = "".join(f"<li><p>{html_text(step)}</p></li>" for step in PHOTO_STEPS)
    return f'<section><h2>How to take the photo</h2><ol class="steps">{items}</ol></section>'


def _reasons_section(title: str, inspection: Inspection) -> str:
    if not inspection.reasons:
        return ""
    items = "".join(f"<li>{html_text(reason.sentence)}</li>" for reason in inspection.reasons)
    return f'<section><h2>{html_text(title)}</h2><ul class="reasons">{items}</ul></section>'


def _footer() -> str:
    items = "".join(f"<li>{html_text(sentence)}</li>" for sentence in SAFETY)
    return (
        f'<div class="safety"><h2>\u26a0\ufe0e Safety at the press</h2><ul>{items}</ul></div>'
        f'<p class="quiet">Written by {html_text(SOFTWARE)}. Colours: CIELAB and CIEDE2000 (\u0394E00), D50, '
        "2 degree observer. How this page looks depends on the screen; the numbers do not.</p>"
    )
