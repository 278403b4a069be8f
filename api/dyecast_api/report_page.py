"""The report page of one inspection: a single HTML file that needs nothing else to be read.

The page carries its style and its pictures inside, has no script and asks nothing of any server. Every text
that comes from a photo, an artwork or an inspection is escaped.
"""

from functools import cache
from importlib.resources import files
from string import Template

from dyecast_api.answer_words import heading_words
from dyecast_api.html_text import html_text
from dyecast_api.printable_text import printable
from dyecast_api.report_comparison import colours_section, difference_section, pictures_section
from dyecast_api.report_evidence import card_section, checks_section, figures_section, notes_section
from dyecast_api.report_faults import faults_section
from dyecast_api.report_pictures import report_pictures
from dyecast_api.report_standing_words import PHOTO_STEPS, WORDMARK, page_footer
from dyecast_api.report_verdict import verdict_section
from dyecast_api.version import SOFTWARE
from dyecast_inspect.inspection import Advice, Inspection, Verdict


def report_page(inspection: Inspection) -> str:
    """Return the report page of an inspection as HTML text."""
    is_retake = inspection.verdict is Verdict.RETAKE
    sections = _retake_sections(inspection) if is_retake else _judged_sections(inspection)
    peek = inspection.peek is not None
    title = f"{heading_words(inspection.verdict, peek=peek)}: {printable(inspection.photo)}"
    body = "\n".join(section for section in sections if section)
    return page_text(title, inspection.verdict.value, body, page_footer())


def page_text(
    title: str, style_class: str, body: str, footer: str, masthead: str = "Inspection report"
) -> str:
    """Return a whole page; `title` and `masthead` are plain text, `body` and `footer` are HTML."""
    return Template(_packaged_text("report.html")).substitute(
        software=html_text(SOFTWARE),
        title=html_text(title),
        style=_packaged_text("report.css"),
        style_class=style_class,
        wordmark=WORDMARK,
        masthead=html_text(masthead),
        sections=body,
        footer=footer,
    )


@cache
def _packaged_text(name: str) -> str:
    return (files("dyecast_api") / "report_files" / name).read_text(encoding="utf-8")


def _judged_sections(inspection: Inspection) -> tuple[str, ...]:
    pictures = report_pictures(inspection)
    return (
        verdict_section(inspection),
        _steps_section("What to do next", inspection.advice),
        faults_section(inspection, pictures),
        pictures_section(pictures, inspection.compared_with, inspection.delta_e_2000),
        difference_section(inspection),
        colours_section(inspection.regions, inspection.compared_with),
        figures_section(inspection.features),
        _reasons_section("Why this verdict" if inspection.peek is None else "Why this answer", inspection),
        checks_section(inspection.checks),
        card_section(inspection),
        notes_section(inspection.notes),
    )


def _retake_sections(inspection: Inspection) -> tuple[str, ...]:
    """Say what went wrong and how to do better; leave out every figure about the piece."""
    return (
        verdict_section(inspection),
        _reasons_section("All that went wrong", inspection) if len(inspection.reasons) > 1 else "",
        _steps_section("What to do now", inspection.advice),
        _photo_steps_section(),
        checks_section(inspection.checks),
        card_section(inspection),
        notes_section(inspection.notes),
    )


def _steps_section(title: str, steps: tuple[Advice, ...]) -> str:
    if not steps:
        return ""
    cautions = [step.caution for step in steps]
    items = "".join(
        f"<li><div>{_step(step, cautions.index(step.caution) + 1, number)}</div></li>"
        for number, step in enumerate(steps, start=1)
    )
    return f'<section><h2>{html_text(title)}</h2><ol class="steps">{items}</ol></section>'


def _step(step: Advice, first: int, number: int) -> str:
    """Show a step; a caution that step `first` gave already is only pointed to."""
    because = f"<p>{html_text(step.because)}</p>" if step.because else ""
    words = step.caution if first == number else f"as for step {first}."
    caution = (
        f'<p class="caution"><b>\u26a0\ufe0e Caution:</b> {html_text(words)}</p>' if step.caution else ""
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
