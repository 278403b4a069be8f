"""Draw the press model's map: time and temperature, and how likely a good piece is under the prior.

python tests/press_map.py --out tests/pictures/press_map.png
"""

import argparse
from pathlib import Path
from typing import Any

import numpy as np

from dyecast_calibration.press.press_chances import PressChances, press_chances
from dyecast_calibration.press.press_model import pressing_along, warming_of
from dyecast_calibration.press.press_parameters import PressParameters
from dyecast_calibration.press.press_priors import drawn_parameters
from dyecast_calibration.press.press_stack import PressStack, pressed_stack
from dyecast_shared.units import celsius_to_kelvin, fahrenheit_to_celsius

CELSIUS = np.linspace(170.0, 220.0, 26)
SECONDS = np.geomspace(10.0, 1200.0, 70)
LEVELS = (0.5, 0.75, 0.9)

PANELS = {
    "4 mm glass": pressed_stack("glass", 4e-3),
    "1 mm aluminium": pressed_stack("aluminium", 1e-3),
    "0.4 mm polyester fabric": pressed_stack("polyester-fabric", 0.4e-3),
}

CHECKS: dict[str, list[tuple[float, float, str, str]]] = {
    "4 mm glass": [
        (60.0, fahrenheit_to_celsius(380.0), "v", "pale in practice"),
        (90.0, fahrenheit_to_celsius(380.0), "o", "good in practice"),
        (360.0, fahrenheit_to_celsius(365.0), "s", "good in practice (board)"),
    ],
    "1 mm aluminium": [],
    "0.4 mm polyester fabric": [
        (120.0, 190.0, "o", "published: best at 190 °C"),
        (60.0, 210.0, "s", "published: best at 210 °C"),
        (30.0, 200.0, "D", "handbook pages: usual"),
    ],
}
"""Seconds, °C, shape of the mark, words. Sources: tests/calibration/press/test_press_chances.py."""


def chances_over(stack: PressStack, members: PressParameters) -> PressChances:
    """Return the chances over the map, (temperatures, times) each."""
    warming = warming_of(stack, members.contact_scale, float(SECONDS[-1]))
    rows = [
        press_chances(pressing_along(warming, celsius_to_kelvin(celsius), SECONDS, members))
        for celsius in CELSIUS
    ]
    return PressChances(*(np.array([getattr(row, way) for row in rows]) for way in ("pale", "good", "over")))


def draw_panel(axes: Any, name: str, chances: PressChances) -> None:
    """Draw one blank's map: contour lines with figures, hatching with words, marks with words."""
    axes.contourf(SECONDS, CELSIUS, chances.good, levels=(0.0, *LEVELS, 1.0), cmap="Greys", alpha=0.35)
    for share, hatch, place, words in (
        (chances.pale, "////", 0.1, "likely pale"),
        (chances.over, "xxxx", 0.93, "likely over-pressed"),
    ):
        axes.contourf(SECONDS, CELSIUS, share, levels=(0.5, 1.0), colors="none", hatches=[hatch])
        label = axes.text(place, 0.5, words, transform=axes.transAxes, rotation=90, ha="center", va="center")
        label.set_bbox({"facecolor": "white", "edgecolor": "none", "pad": 2})
    lines = axes.contour(SECONDS, CELSIUS, chances.good, levels=LEVELS, colors="black", linewidths=1.2)
    for label in axes.clabel(lines, fmt=lambda level: f"{100 * level:.0f} % good", fontsize=9, inline=False):
        label.set_bbox({"facecolor": "white", "edgecolor": "none", "pad": 1})
    for seconds, celsius, mark, words in CHECKS[name]:
        axes.plot(
            seconds,
            celsius,
            mark,
            color="white",
            markeredgecolor="black",
            markersize=9,
            label=words,
            zorder=5,
        )
    if CHECKS[name]:
        axes.legend(loc="lower left", fontsize=8, framealpha=1.0)
    axes.set(title=name, xscale="log", xlabel="time, s", xticks=[10, 30, 60, 120, 300, 600, 1200])
    axes.set_xticklabels(["10", "30", "60", "120", "300", "600", "1200"])
    axes.minorticks_off()


def draw_map(path: Path, members: int = 2000) -> None:
    """Draw all panels into one picture file."""
    from matplotlib.figure import Figure

    drawn = drawn_parameters(members, np.random.default_rng(20))
    figure = Figure(figsize=(15, 5.5), layout="constrained", dpi=80)
    panels = figure.subplots(1, len(PANELS), sharey=True)
    for axes, (name, stack) in zip(panels, PANELS.items(), strict=True):
        draw_panel(axes, name, chances_over(stack, drawn))
    figure.suptitle(
        "Chance of a good piece before any was pressed: every press, dye and coating of the prior"
    )
    panels[0].set_ylabel("platen, °C as the press shows it")
    fahrenheit = panels[-1].secondary_yaxis(
        "right", functions=(lambda c: c * 1.8 + 32, lambda f: (f - 32) / 1.8)
    )
    fahrenheit.set_ylabel("°F")
    figure.savefig(path)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, default=Path("press_map.png"))
    draw_map(parser.parse_args().out)
