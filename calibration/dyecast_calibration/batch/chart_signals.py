"""What a control chart can signal: which rule, at which piece, on which side, and how it is marked."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Final


class Side(StrEnum):
    """On which side of the centre."""

    ABOVE = "above"
    BELOW = "below"


class Rule(StrEnum):
    """The rules: the four zone rules of the Western Electric handbook (1956), and the limits of two charts.

    The zone rules are numbered as in the handbook and in the NIST/SEMATECH e-Handbook, 6.3.2.
    """

    BEYOND_LIMIT = "beyond-limit"
    TWO_OF_THREE = "two-of-three-beyond-two-sigma"
    FOUR_OF_FIVE = "four-of-five-beyond-one-sigma"
    EIGHT_ON_ONE_SIDE = "eight-on-one-side"
    MOVING_RANGE = "moving-range-beyond-limit"
    EWMA = "ewma-beyond-limit"


MARKER_SHAPES: Final = {
    Rule.BEYOND_LIMIT: "triangle",
    Rule.TWO_OF_THREE: "square",
    Rule.FOUR_OF_FIVE: "diamond",
    Rule.EIGHT_ON_ONE_SIDE: "circle",
    Rule.MOVING_RANGE: "cross",
    Rule.EWMA: "triangle",
}
"""The shape that marks a signal in a drawing, so that colour is never the only sign; one a rule and chart."""

RULE_SENTENCES: Final = {
    Rule.BEYOND_LIMIT: "One piece lies beyond the limit of three standard deviations.",
    Rule.TWO_OF_THREE: "Two of three pieces lie beyond two standard deviations on the same side.",
    Rule.FOUR_OF_FIVE: "Four of five pieces lie beyond one standard deviation on the same side.",
    Rule.EIGHT_ON_ONE_SIDE: "Eight pieces in a row lie on the same side of the centre.",
    Rule.MOVING_RANGE: "Two pieces in a row differ by more than the limit.",
    Rule.EWMA: "The weighted average of the pieces so far lies beyond its limit.",
}
"""What a signal says, for the caption of a drawing."""


@dataclass(frozen=True, slots=True)
class Signal:
    """One signal: `index` counts from 0 in the chart's points, `piece_number` is the batch's own number."""

    rule: Rule
    index: int
    piece_number: int
    side: Side

    @property
    def shape(self) -> str:
        """The marker's shape in a drawing."""
        return MARKER_SHAPES[self.rule]

    @property
    def sentence(self) -> str:
        """What the signal says."""
        return RULE_SENTENCES[self.rule]
