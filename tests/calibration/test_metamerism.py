"""What metamerism may add: one data file, and every place that states its figures agrees with it."""

import re
from pathlib import Path

import pytest

from dyecast_calibration.metamerism import LightMetamerism, metamerism_by_light, metamerism_range

README = Path(__file__).parents[2] / "README.md"


@pytest.mark.parametrize("figures", metamerism_by_light(), ids=lambda figures: figures.light)
def test_a_card_of_the_same_dyes_is_better_in_every_light(figures: LightMetamerism) -> None:
    assert 0 < figures.same_dyes < figures.painted_chart


def test_the_range_runs_from_the_best_light_to_the_worst() -> None:
    lights = {figures.light: figures for figures in metamerism_by_light()}
    assert metamerism_range().low == lights["white LED (LED-B3)"].painted_chart
    assert metamerism_range().high == lights["incandescent lamp (A)"].painted_chart


def test_the_readme_shows_the_figures_of_the_data_file() -> None:
    rows = re.findall(r"\| ([^|]+ \([^|]+\)) \| ([\d.]+) \| ([\d.]+) \|", README.read_text(encoding="utf-8"))
    told = [LightMetamerism(light, float(painted), float(same)) for light, painted, same in rows]
    assert told == list(metamerism_by_light())
    both = metamerism_range()
    assert f"{both.low} to {both.high}, beside" in README.read_text(encoding="utf-8")
