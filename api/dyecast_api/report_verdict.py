"""The first section of a report, which a person reads in ten seconds: the verdict and what it rests on."""

from typing import Final

from dyecast_api.answer_words import heading_words, meaning_words
from dyecast_api.html_text import html_text
from dyecast_api.plain_words import (
    REFERENCE_WORDS,
    confidence_words,
    number_words,
    odds_words,
)
from dyecast_api.printable_text import printable
from dyecast_inspect.inspection import Inspection, Verdict

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


def verdict_section(inspection: Inspection) -> str:
    """Show the verdict with shape, certainty, weightiest reason, difference and odds."""
    verdict = inspection.verdict
    words = heading_words(verdict, peek=inspection.peek is not None)
    reference = inspection.compared_with.value.capitalize()
    return (
        f'<section class="verdict"><div class="verdict-head">{verdict_symbol(verdict)}'
        f"<div><h1>{html_text(words)}</h1>{_sure(inspection)}</div></div>"
        f"{_lead(inspection)}{_faults(inspection)}{_difference_in_short(inspection)}{_odds(inspection)}"
        f'<p class="names">Photo: {_named(inspection.photo)}<br>'
        f"{reference}: {_named(inspection.artwork)}</p>"
        "</section>"
    )


def verdict_symbol(verdict: Verdict) -> str:
    """Draw the verdict's shape in a square, in the verdict's colour; the words stand beside it."""
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
    meaning = meaning_words(inspection.verdict, peek=inspection.peek is not None)
    lead = inspection.reasons[0].sentence if inspection.reasons else meaning
    added = f"<p>{html_text(meaning)}</p>" if inspection.verdict is Verdict.RETAKE and lead != meaning else ""
    return f'<p class="lead">{html_text(lead)}</p>{added}'


def _faults(inspection: Inspection) -> str:
    """Name the faults beside the verdict."""
    named = [reason.sentence for reason in inspection.reasons if reason.code == "faults-seen"]
    return "".join(f"<p><b>{html_text(sentence)}</b></p>" for sentence in named)


def _difference_in_short(inspection: Inspection) -> str:
    difference = inspection.delta_e_2000
    if difference is None or inspection.verdict is Verdict.RETAKE:
        return ""
    mean = number_words(difference.mean)
    against = REFERENCE_WORDS[inspection.compared_with]
    return f"<p>Colour difference from {against}: <b>\u0394E00\u00a0{mean}</b> on average.</p>"


def _named(name: str) -> str:
    return html_text(printable(name)) or "not named"


def _odds(inspection: Inspection) -> str:
    """Draw one bar per verdict, each with its name and its percentage in words."""
    if not inspection.probabilities or inspection.verdict is Verdict.RETAKE:
        return ""
    peek = inspection.peek is not None
    rows = "".join(
        _odds_row(heading_words(Verdict(name), peek=peek), share)
        for name, share in inspection.probabilities.items()
    )
    label = "How likely each answer is" if peek else "How likely each verdict is"
    return f'<ul class="odds" aria-label="{label}">{rows}</ul>'


def _odds_row(words: str, share: float) -> str:
    width = 100.0 * min(max(share, 0.0), 1.0)
    return (
        f"<li><span>{html_text(words)}</span>"
        f'<span class="share">{html_text(odds_words(share))}</span>'
        f'<span class="bar" aria-hidden="true"><i style="width:{width:.1f}%"></i></span></li>'
    )
