"""The scale of colour differences in a report: published limits and the piece itself marked along it."""

from typing import Final, NamedTuple

from dyecast_api.difference_scale import SCALE_TICKS, SCALE_TOP
from dyecast_api.html_text import html_text
from dyecast_api.plain_words import number_words
from dyecast_inspect.inspection import ColourDifference


class PublishedLimit(NamedTuple):
    """A CIEDE2000 that someone measured or agreed on: its letter on the scale, what it means, where from."""

    letter: str
    delta_e_2000: float
    meaning: str
    source: str


PUBLISHED_LIMITS: Final = (
    PublishedLimit("a", 0.8, "half of observers see it, side by side", "Paravina et al. 2015"),
    PublishedLimit("b", 1.8, "half of observers no longer accept it", "Paravina et al. 2015"),
    PublishedLimit("c", 3.5, "the most that offset printing allows its solid colours", "ISO 12647-2:2013"),
    PublishedLimit("d", 5.0, "95 % of a contract proof's colours must lie below", "ISO 12647-7:2016"),
)
"""Paravina et al. 2015 asked 175 observers about tooth-coloured samples; ISO/TR 28642:2016 rests on it. The
figures of the ISO standards are from a secondary source. None of them decides a verdict."""

LIMITS_NOTE: Final = (
    "Paravina et al. asked 175 observers about tooth-coloured samples. These marks explain the numbers; they "
    "are not the limits the verdict is made from."
)


def scale_numbers() -> str:
    """Return the row of numbers below the scale; the last one stands for itself and all beyond."""
    numbers = "".join(_mark(tick, f"{tick}+" if tick == SCALE_TOP else str(tick)) for tick in SCALE_TICKS)
    return f'<div class="numbers" aria-hidden="true">{numbers}</div>'


def scale_marks(difference: ColourDifference | None) -> str:
    """Return the row of marks below the scale, and the list that says in words what each mark means."""
    letters = "".join(_mark(limit.delta_e_2000, limit.letter) for limit in PUBLISHED_LIMITS)
    explained = "".join(
        f"<li><b>{limit.letter}</b> {number_words(limit.delta_e_2000)}: {html_text(limit.meaning)} "
        f"({html_text(limit.source)})</li>"
        for limit in PUBLISHED_LIMITS
    )
    piece = "" if difference is None else _mark(difference.median, "\u25c6")
    named = "" if difference is None else f"<li><b>\u25c6</b> {_piece_words(difference)}</li>"
    return (
        f'<div class="marks" aria-hidden="true">{letters}</div>'
        + (f'<div class="marks" aria-hidden="true">{piece}</div>' if piece else "")
        + f'<ul class="marks-key">{named}{explained}</ul><p class="quiet">{html_text(LIMITS_NOTE)}</p>'
    )


def _mark(delta_e_2000: float, sign: str) -> str:
    """Place a sign where its CIEDE2000 lies on the scale; beyond the top it stands at the end."""
    share = 100.0 * min(delta_e_2000, SCALE_TOP) / SCALE_TOP
    return f'<span style="left:{share:.1f}%">{sign}</span>'


def _piece_words(difference: ColourDifference) -> str:
    beyond = ", beyond the scale" if difference.median > SCALE_TOP else ""
    return f"{number_words(difference.median)}: this piece, median{beyond}"
