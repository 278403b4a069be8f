"""The map of time and temperature as a picture (SVG): shade, hatching, figures and letters say the same."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from dyecast_api.html_text import html_text
from dyecast_api.press_log.entered_values import temperature_words, time_words
from dyecast_api.press_plan.plan import Plan
from dyecast_api.press_plan.plan_map import LIKELY, TRIED_SIGNS
from dyecast_api.press_plan.plan_words import advised_words, percent

CELL_WIDTH, CELL_HEIGHT = 31, 30
LEFT, TOP = 128, 56
BELOW: Final = 96
"""Pixels: one setting; room for temperatures, title, and times with legend."""

PALE_SHADE: Final = np.array([255.0, 255.0, 255.0])
GOOD_SHADE: Final = np.array([46.0, 125.0, 90.0])
"""8-bit sRGB of a chance of 0 and of 1: white to a mid green, dark in grey too. Our own choice."""

DARK_FROM: Final = 0.6
"""Chance from which figures are white."""

PATTERNS: Final = (
    '<pattern id="pale" width="7" height="7" patternUnits="userSpaceOnUse">'
    '<path d="M0 7L7 0" stroke="#555" stroke-width="1"/></pattern>'
    '<pattern id="over" width="7" height="7" patternUnits="userSpaceOnUse">'
    '<path d="M0 7L7 0M0 0L7 7" stroke="#7a2a00" stroke-width="1"/></pattern>'
)


def plan_svg(plan: Plan) -> str:
    """Return the map as an SVG picture that needs nothing else."""
    columns, rows = len(plan.window.times), len(plan.window.temperatures)
    width, height = LEFT + columns * CELL_WIDTH + 24, TOP + rows * CELL_HEIGHT + BELOW
    name = html_text(f"'{plan.known.blank.name}' on '{plan.known.press.name}'")
    cells = [_cell(plan, row, column) for row in range(rows) for column in range(columns)]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" width="{width}" '
        f'height="{height}" style="max-width:100%;height:auto" role="img" '
        'font-family="Liberation Sans, Arial, sans-serif" font-size="13">'
        f"<title>Chance of a good piece, {name}</title><desc>{html_text(plan_caption(plan))}</desc>"
        f'<defs>{PATTERNS}</defs><rect width="{width}" height="{height}" fill="#fff"/>'
        f'<text x="{LEFT}" y="24" font-size="17" font-weight="bold">'
        f"Chance of a good piece in per cent: {name}</text>"
        f'<text x="{LEFT}" y="44" fill="#444">platen as the press shows it, over the time of pressing</text>'
        + "".join(cells)
        + _axes(plan)
        + _marks(plan)
        + _legend(TOP + rows * CELL_HEIGHT)
        + "</svg>\n"
    )


def plan_caption(plan: Plan) -> str:
    """Return the map's caption in words: where good pieces are likely, and the marks on it."""
    likely = plan.window.good >= 0.9
    told = [
        "Map of time (across) and platen temperature (upwards). Each field holds the chance of a good "
        "piece in per cent and is the darker the likelier; single hatching says likely pale, double hatching "
        "likely over-pressed."
    ]
    if likely.any():
        warmest = int(np.flatnonzero(likely.any(axis=1))[-1])
        coolest = int(np.flatnonzero(likely.any(axis=1))[0])
        spans = [_span(plan, row, likely[row]) for row in dict.fromkeys((coolest, warmest))]
        told.append(f"Nine in ten or more are good {' and '.join(spans)}.")
    else:
        told.append("Nowhere are nine in ten good yet.")
    advised = plan.advised
    told.append(
        f"The heavy frame marks the next pressing, {advised_words(advised.temperature, advised.time)}, "
        f"good with {percent(advised.good)}; letters mark what was pressed: U under-pressed, G good, "
        "O over-pressed."
    )
    return " ".join(told)


def _span(plan: Plan, row: int, likely: NDArray[np.bool_]) -> str:
    """Say from when to when pieces are likely good at one temperature."""
    times = plan.window.times[likely]
    at = temperature_words(plan.window.temperatures[row])
    return f"at {at} from {time_words(times[0])} to {time_words(times[-1])}"


def _cell(plan: Plan, row: int, column: int) -> str:
    """Draw one setting: shade, hatching and figure."""
    good = float(plan.window.good[row, column])
    red, green, blue = np.rint(PALE_SHADE + good * (GOOD_SHADE - PALE_SHADE)).astype(int)
    x, y = _corner(plan, row, column)
    box = f'x="{x}" y="{y}" width="{CELL_WIDTH}" height="{CELL_HEIGHT}"'
    drawn = f'<rect {box} fill="rgb({red},{green},{blue})" stroke="#fff"/>'
    for kind, chances in (("pale", plan.window.pale), ("over", plan.window.over)):
        if chances[row, column] >= LIKELY:
            drawn += f'<rect {box} fill="url(#{kind})"/>'
    ink = "#fff" if good >= DARK_FROM else "#222"
    halo = "" if good >= DARK_FROM else ' stroke="#fff" stroke-width="3" paint-order="stroke"'
    text = f'x="{x + CELL_WIDTH / 2}" y="{y + 20}" text-anchor="middle" font-size="12" fill="{ink}"{halo}'
    return f"{drawn}<text {text}>{100.0 * good:.0f}</text>"


def _corner(plan: Plan, row: int, column: int) -> tuple[int, int]:
    """Return the top left corner of a setting's field, px; the hottest row is on top."""
    return LEFT + column * CELL_WIDTH, TOP + (len(plan.window.temperatures) - 1 - row) * CELL_HEIGHT


def _axes(plan: Plan) -> str:
    """Write the temperatures beside the map and the times below it."""
    drawn = ""
    for row, kelvin in enumerate(plan.window.temperatures):
        y = _corner(plan, row, 0)[1] + 20
        drawn += f'<text x="{LEFT - 8}" y="{y}" text-anchor="end">{temperature_words(float(kelvin))}</text>'
    bottom = TOP + len(plan.window.temperatures) * CELL_HEIGHT
    for column, time in enumerate(plan.window.times):
        x = _corner(plan, 0, column)[0] + CELL_WIDTH / 2
        if column % 3 == 0:
            drawn += f'<text x="{x}" y="{bottom + 18}" text-anchor="middle" font-size="11">'
            drawn += f"{time_words(float(time))}</text>"
    return drawn


def _marks(plan: Plan) -> str:
    """Mark what was pressed by a letter in a ring, and the next pressing by a heavy frame with a word."""
    drawn = ""
    for one in plan.known.tried.tried:
        place = _place(plan, one.platen_temperature, one.time)
        if place is not None and one.grades:
            x, y = place[0] + CELL_WIDTH / 2, place[1] + CELL_HEIGHT / 2
            drawn += f'<circle cx="{x}" cy="{y}" r="12" fill="#fff" stroke="#000" stroke-width="2"/>'
            drawn += f'<text x="{x}" y="{y + 5}" text-anchor="middle" font-weight="bold">'
            drawn += f"{TRIED_SIGNS[one.grades[-1]]}</text>"
    place = _place(plan, plan.advised.temperature, plan.advised.time)
    if place is None:
        return drawn
    box = f'x="{place[0]}" y="{place[1]}" width="{CELL_WIDTH}" height="{CELL_HEIGHT}"'
    drawn += f'<rect {box} fill="none" stroke="#fff" stroke-width="7"/>'
    drawn += f'<rect {box} fill="none" stroke="#000" stroke-width="4"/>'
    label = f'x="{place[0] + CELL_WIDTH / 2}" y="{place[1] - 6}" text-anchor="middle" font-weight="bold"'
    return drawn + f'<text {label} stroke="#fff" stroke-width="4" paint-order="stroke">next</text>'


def _place(plan: Plan, kelvin: float, time: float) -> tuple[int, int] | None:
    """Return the corner of the field nearest to a setting, None when the map does not reach there."""
    row = int(np.argmin(np.abs(plan.window.temperatures - kelvin)))
    column = int(np.argmin(np.abs(np.log(plan.window.times / time))))
    away = abs(plan.window.temperatures[row] - kelvin)
    beyond = away > 5.0 or abs(np.log(plan.window.times[column] / time)) > 0.2
    return None if beyond else _corner(plan, row, column)


def _legend(bottom: int) -> str:
    """Say in words what shade, hatching, letters and frame mean."""
    y, x = bottom + 38, LEFT
    swatches = (
        ("rgb(46,125,90)", "none", "likely good"),
        ("#fff", "url(#pale)", "likely pale"),
        ("#fff", "url(#over)", "likely over-pressed"),
    )
    drawn = ""
    for fill, hatch, words in swatches:
        box = f'x="{x}" y="{y}" width="26" height="16" stroke="#444"'
        drawn += f'<rect {box} fill="{fill}"/><rect {box} fill="{hatch}"/>'
        drawn += f'<text x="{x + 34}" y="{y + 13}">{words}</text>'
        x += 60 + 8 * len(words)
    letters = "pressed: U under-pressed, G good, O over-pressed; heavy frame: next"
    return drawn + f'<text x="{LEFT}" y="{y + 42}">{letters}</text>'
