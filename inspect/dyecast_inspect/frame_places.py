"""Say in words where something is in a viewfinder's frame, as the person who aims sees it."""

from typing import Final

from dyecast_inspect.hidden_place import DIAGONAL

PLACES: Final = (
    ("upper left", "top", "upper right"),
    ("left", "middle", "right"),
    ("lower left", "bottom", "lower right"),
)
"""Names of the ninths of a frame, row by row."""


def place_in_frame(across: float, down: float) -> str:
    """Name the ninth of the frame in which a point lies, 0..1 from the left and from the top.

    >>> place_in_frame(0.1, 0.2)
    'upper left'
    >>> place_in_frame(0.5, 0.9)
    'bottom'
    """
    return PLACES[_third(down)][_third(across)]


def direction_in_frame(across: float, down: float) -> str:
    """Name the direction (right, down); one within 22.5 degrees of a side names that side alone.

    >>> direction_in_frame(-3.0, -2.0)
    'upper left'
    >>> direction_in_frame(5.0, 0.1)
    'right'
    """
    largest = max(abs(across), abs(down), 1e-12)
    return PLACES[1 + _sign(down / largest)][1 + _sign(across / largest)]


def _third(share: float) -> int:
    return min(max(int(3 * share), 0), 2)


def _sign(share: float) -> int:
    return 0 if abs(share) <= DIAGONAL else (1 if share > 0 else -1)
