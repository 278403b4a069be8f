"""The map of time and temperature as text: one sign a setting, and words for every sign."""

from typing import Final

import numpy as np

from dyecast_api.press_log.entered_values import temperature_words, time_words
from dyecast_api.press_plan.plan import Plan
from dyecast_calibration.press.tried_pressing import GRADES

LIKELY: Final = 0.5
"""Chance from which an outcome is called likely."""

SIGNS: Final = (
    (0.9, "#", "good with 90 % or more"),
    (0.75, "+", "good with 75 to 90 %"),
    (LIKELY, "-", "good with 50 to 75 %"),
)

PALE_SIGN, OVER_SIGN, UNCLEAR_SIGN, NEXT_SIGN = "/", "x", ".", "N"
TRIED_SIGNS: Final = dict(zip(GRADES, "UGO", strict=True))

LABEL_WIDTH: Final = 16


def setting_sign(plan: Plan, row: int, column: int) -> str:
    """Return the sign of one setting by its likeliest outcome."""
    good = plan.window.good[row, column]
    for least, sign, _ in SIGNS:
        if good >= least:
            return sign
    if plan.window.pale[row, column] >= LIKELY:
        return PALE_SIGN
    return OVER_SIGN if plan.window.over[row, column] >= LIKELY else UNCLEAR_SIGN


def map_lines(plan: Plan) -> list[str]:
    """Return the map, hottest line first, with what was tried and what comes next, and the signs in words."""
    grid = [
        [setting_sign(plan, row, column) for column in range(len(plan.window.times))]
        for row in range(len(plan.window.temperatures))
    ]
    for one in plan.known.tried.tried:
        if one.grades:
            _put(plan, grid, one.platen_temperature, one.time, TRIED_SIGNS[one.grades[-1]])
    _put(plan, grid, plan.advised.temperature, plan.advised.time, NEXT_SIGN)
    lines = [
        f"{temperature_words(kelvin):>{LABEL_WIDTH}} {' '.join(signs)}"
        for kelvin, signs in zip(plan.window.temperatures, grid, strict=True)
    ]
    return [*reversed(lines), _time_line(plan), *legend_lines()]


def legend_lines() -> list[str]:
    """Return what the signs mean."""
    good = "; ".join(f"{sign} {words}" for _, sign, words in SIGNS)
    return [
        f"{good}; {PALE_SIGN} likely pale; {OVER_SIGN} likely over-pressed; {UNCLEAR_SIGN} none likely.",
        "N next; pressed already: U under-pressed, G good, O over-pressed.",
    ]


def _put(plan: Plan, grid: list[list[str]], kelvin: float, time: float, sign: str) -> None:
    """Put a sign at the nearest setting of the map; what lies beyond it is left out."""
    temperatures, times = plan.window.temperatures, plan.window.times
    row = int(np.argmin(np.abs(temperatures - kelvin)))
    column = int(np.argmin(np.abs(np.log(times / time))))
    if abs(temperatures[row] - kelvin) < 5.0 and abs(np.log(times[column] / time)) < 0.2:
        grid[row][column] = sign


def _time_line(plan: Plan) -> str:
    """Return the times under the map, every fifth or so."""
    line, column = " " * (LABEL_WIDTH + 1), 0
    for place, time in enumerate(plan.window.times):
        start = LABEL_WIDTH + 1 + 2 * place
        if start >= column:
            told = time_words(float(time))
            line = line.ljust(start) + told
            column = start + len(told) + 2
    return line.rstrip()
