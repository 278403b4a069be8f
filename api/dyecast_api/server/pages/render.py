"""Rendering a page: templates that escape everything, and the few things all of them show."""

import math
from collections.abc import Mapping
from datetime import datetime
from functools import cache

from fastapi import Request
from fastapi.responses import HTMLResponse
from jinja2 import ChainableUndefined, Environment, PackageLoader
from markupsafe import Markup

from dyecast_api.answer_words import heading_words
from dyecast_api.plain_words import SUREST_SAID, number_words, odds_words, percent_words
from dyecast_api.printable_text import printable
from dyecast_api.report_standing_words import WORDMARK
from dyecast_api.report_verdict import verdict_symbol
from dyecast_api.server.caller import Caller
from dyecast_api.server.pages.document_words import check_figures, check_name, fault_name, fault_sizes
from dyecast_api.server.pages.static_files import static_address
from dyecast_api.version import SOFTWARE
from dyecast_inspect.inspection import Verdict


def page(
    request: Request,
    template: str,
    values: Mapping[str, object],
    *,
    caller: Caller | None = None,
    status: int = 200,
) -> HTMLResponse:
    """Return a page that shows `values`; `caller` decides which ways its navigation offers."""
    text = (
        environment()
        .get_template(template)
        .render(caller=caller, path=request.url.path, software=SOFTWARE, **values)
    )
    return HTMLResponse(text, status)


@cache
def environment() -> Environment:
    """Return the templates with their filters; what an older document lacks is shown as nothing."""
    made = Environment(
        loader=PackageLoader("dyecast_api.server.pages"),
        autoescape=True,
        undefined=ChainableUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.globals |= {"static": static_address, "wordmark": Markup(WORDMARK), "symbol": symbol}
    made.filters |= {
        "verdict_words": verdict_words,
        "plain": printable,
        "percent": lambda share: percent_words(_known(share)),
        "number": lambda value: number_words(_known(value)),
        "sure": sure_words,
        "odds": lambda share: odds_words(_known(share)),
        "check_name": check_name,
        "check_figures": check_figures,
        "fault_name": fault_name,
        "fault_sizes": fault_sizes,
        "moment": moment,
        "numbered": lambda things: [(thing.number, thing.name) for thing in things],
        "identified": lambda things: [(thing.id, thing.name) for thing in things],
        "same": lambda words: [(word, word) for word in words],
        "limits": lambda limits: [(f"{limit:g}", f"at {limit:g} % not good") for limit in limits],
        "inspected": lambda lines: [(line.public_id, f"{line.photo_name}: {line.verdict}") for line in lines],
    }
    return made


def symbol(verdict: str | None) -> Markup:
    """Return a verdict's shape as SVG; a photo to take again stands for trouble, nothing for none yet."""
    if verdict is None:
        return Markup()
    return Markup(verdict_symbol(_verdict(verdict)))


def verdict_words(verdict: str | None, *, peek: bool = False) -> str:
    """Say a verdict as a heading."""
    if verdict is None:
        return "Being inspected"
    return "Could not be inspected" if verdict == "trouble" else heading_words(_verdict(verdict), peek=peek)


def sure_words(confidence: float) -> str:
    """Say how sure a verdict is; nobody is surer than measurements allow."""
    words = "more than 99 %" if confidence > SUREST_SAID else percent_words(confidence)
    return f"{words} sure"


def moment(moment: datetime | None) -> Markup:
    """Say a moment to the minute, in UTC; a script turns it into the reader's own time."""
    if moment is None:
        return Markup("never")
    return Markup('<time datetime="{}">{} UTC</time>').format(
        moment.isoformat(timespec="seconds"), f"{moment:%Y-%m-%d %H:%M}"
    )


def _known(value: object) -> float:
    """Return a number of a document, where null or nothing stands for what was not measured."""
    return float(value) if isinstance(value, int | float) else math.nan


def _verdict(name: str) -> Verdict:
    return Verdict(name) if name in set(Verdict) else Verdict.RETAKE
