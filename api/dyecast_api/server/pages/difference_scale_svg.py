"""The scale of colour differences as a drawing: colours, numbers, published limits and this piece."""

import numpy as np
from markupsafe import Markup, escape

from dyecast_api.difference_scale import SCALE_TICKS, SCALE_TOP, scale_colours
from dyecast_api.plain_words import number_words
from dyecast_api.report_scale import PUBLISHED_LIMITS

WIDTH = 320
LEFT = 12
STEPS = 50
"""Coloured steps of the strip; the eye sees none of them."""


def difference_scale_svg(median: float | None) -> Markup:
    """Draw the scale; `median` is the piece's CIEDE2000, None when it was not measured."""
    piece = "" if median is None else f" This piece: {number_words(median)}."
    limits = " ".join(
        f"{limit.letter}: {number_words(limit.delta_e_2000)}, {limit.meaning}." for limit in PUBLISHED_LIMITS
    )
    marks = "".join(_letter(limit.delta_e_2000, limit.letter) for limit in PUBLISHED_LIMITS)
    return Markup(
        f'<svg class="difference-scale" viewBox="0 0 {WIDTH + 2 * LEFT} 58" role="img" '
        f'aria-label="{escape(f"Scale of colour differences from 0 to 10.{piece} {limits}")}">'
        f"{_strip()}{_numbers()}{marks}{'' if median is None else _diamond(median)}</svg>"
    )


def _place(delta_e_2000: float) -> float:
    return round(LEFT + WIDTH * min(delta_e_2000, SCALE_TOP) / SCALE_TOP, 1)


def _strip() -> str:
    colours = scale_colours(np.linspace(0.0, SCALE_TOP, STEPS)).tolist()
    width = WIDTH / STEPS
    return "".join(
        f'<rect x="{LEFT + place * width:.1f}" y="12" width="{width + 0.5:.1f}" height="12" '
        f'fill="rgb({red},{green},{blue})"/>'
        for place, (red, green, blue) in enumerate(colours)
    )


def _numbers() -> str:
    return "".join(
        f'<text x="{_place(tick)}" y="36" text-anchor="middle">{words}</text>'
        for tick, words in ((tick, f"{tick}+" if tick == SCALE_TOP else str(tick)) for tick in SCALE_TICKS)
    )


def _letter(delta_e_2000: float, letter: str) -> str:
    place = _place(delta_e_2000)
    return (
        f'<path d="M{place} 24v6" stroke="currentColor" stroke-width="1.5"/>'
        f'<text x="{place}" y="52" text-anchor="middle" font-weight="700">{letter}</text>'
    )


def _diamond(median: float) -> str:
    return f'<path d="M{_place(median)} 0l5 5-5 5-5-5z" fill="currentColor"/>'
