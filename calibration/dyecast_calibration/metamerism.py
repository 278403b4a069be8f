"""How far a camera and a card can be wrong about a piece whatever is done, by light: one data file.

Two surfaces that look alike in one light may differ in another, and a camera does not see as an eye does. A
processed phone photo does not tell what kind of light it was taken in (its white balance has been taken off),
so only the range over the kinds of light can be stated.
"""

import json
from dataclasses import dataclass
from functools import cache
from importlib.resources import files


@dataclass(frozen=True, slots=True)
class LightMetamerism:
    """Mean CIEDE2000 that no correction can undo in one kind of light.

    `painted_chart` is for colours fitted on a chart of other colourants than the piece's, as a home-printed
    card is; `same_dyes` for a card pressed with the piece's own dyes.
    """

    light: str
    painted_chart: float
    same_dyes: float


@dataclass(frozen=True, slots=True)
class DeltaERange:
    """Least and greatest mean CIEDE2000 over the kinds of light."""

    low: float
    high: float


@cache
def metamerism_by_light() -> tuple[LightMetamerism, ...]:
    """Return the figures that ship with dyecast; the data file names their source."""
    text = files("dyecast_calibration").joinpath("metamerism.json").read_text(encoding="utf-8")
    return tuple(LightMetamerism(**record) for record in json.loads(text)["lights"])


def metamerism_range(*, same_dyes: bool = False) -> DeltaERange:
    """Return the range over all lights, for a printed card or for one pressed with the piece's own dyes.

    >>> metamerism_range()
    DeltaERange(low=1.3, high=3.6)
    >>> metamerism_range(same_dyes=True)
    DeltaERange(low=0.8, high=2.3)
    """
    figures = [each.same_dyes if same_dyes else each.painted_chart for each in metamerism_by_light()]
    return DeltaERange(min(figures), max(figures))
