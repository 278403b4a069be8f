"""The plan as one page that needs nothing else: advice, reasons, the map, what was pressed."""

from dyecast_api.html_text import html_text
from dyecast_api.press_log.log_notes import log_notes
from dyecast_api.press_log.log_words import pressing_line
from dyecast_api.press_plan.plan import Plan
from dyecast_api.press_plan.plan_picture import plan_caption, plan_svg
from dyecast_api.press_plan.plan_words import advice_sentences, reason_sentences
from dyecast_api.printable_text import printable
from dyecast_api.report_page import page_text
from dyecast_api.report_standing_words import page_footer


def plan_page(plan: Plan) -> str:
    """Return the page as HTML text; every name from the log is escaped."""
    next_one, *chances = advice_sentences(plan)
    title = printable(f"Plan for {plan.known.blank.name} on {plan.known.press.name}")
    pressed = [pressing_line(one) for one in plan.known.pressings] or ["Nothing yet."]
    pressed += log_notes(plan.known.pressings)
    picture = f"<figure>{plan_svg(plan)}<figcaption>{html_text(plan_caption(plan))}</figcaption></figure>"
    sections = (
        f"<section><h1>{html_text(printable(next_one))}</h1>{_paragraphs(chances)}</section>",
        f"<section><h2>Why</h2>{_paragraphs(reason_sentences(plan))}</section>",
        f"<section><h2>The map</h2>{picture}</section>",
        f"<section><h2>Pressed so far</h2>{_paragraphs(pressed)}</section>",
    )
    return page_text(title, "good", "\n".join(sections), page_footer(), masthead="Press plan")


def _paragraphs(sentences: list[str]) -> str:
    return "".join(f"<p>{html_text(printable(sentence))}</p>" for sentence in sentences)
