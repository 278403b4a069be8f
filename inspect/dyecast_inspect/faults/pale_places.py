"""Where a press may press too little: sides and corners, as smooth shapes over the artwork."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

CORNER_REACHES: Final = (0.4, 0.6)
"""How far a pale corner may reach, as a share of the long side."""

SIDE_REACHES: Final = (0.25, 0.45)
"""How far a pale side may reach, as a share of the way to the other side."""

CLEARLY_PALE: Final = 0.1
"""Share of the depth at the edge from which a place counts as part of the pale one."""


@dataclass(frozen=True, slots=True, eq=False)
class PalePlace:
    """A place that may be pale.

    Attributes
    ----------
    name
        In words, as the artwork is held.
    lack
        (h, w) float32: 1 at the edge or corner, smoothly 0 from the reach on.
    polygon
        Its outline in the artwork's unit square.
    """

    name: str
    lack: NDArray[np.float32]
    polygon: tuple[tuple[float, float], ...]


def pale_places(height: int, width: int) -> list[PalePlace]:
    """Return all places tried, drawn at (height, width)."""
    x, y = np.meshgrid((np.arange(width) + 0.5) / width, (np.arange(height) + 0.5) / height)
    return [*_corners(x, y, width / max(height, width), height / max(height, width)), *_sides(x, y)]


def _corners(x: NDArray[np.float64], y: NDArray[np.float64], wide: float, tall: float) -> list[PalePlace]:
    """Return the corners; `wide` and `tall` are the sides over the long side."""
    places = []
    for row, down in (("upper", y), ("lower", 1.0 - y)):
        for column, across in (("left", x), ("right", 1.0 - x)):
            for reach in CORNER_REACHES:
                lack = _fading(np.hypot(across * wide, down * tall) / reach)
                near, low = min(reach / wide, 1.0), min(reach / tall, 1.0)
                corner = (0.0 if column == "left" else 1.0, 0.0 if row == "upper" else 1.0)
                beside = (near if column == "left" else 1.0 - near, corner[1])
                beyond = (corner[0], low if row == "upper" else 1.0 - low)
                places.append(PalePlace(f"{row} {column} corner", lack, (corner, beside, beyond)))
    return places


def _sides(x: NDArray[np.float64], y: NDArray[np.float64]) -> list[PalePlace]:
    """Return the four sides."""
    places = []
    for reach in SIDE_REACHES:
        far = 1.0 - reach
        places += [
            PalePlace("left side", _fading(x / reach), _box(0.0, 0.0, reach, 1.0)),
            PalePlace("right side", _fading((1.0 - x) / reach), _box(far, 0.0, 1.0, 1.0)),
            PalePlace("top side", _fading(y / reach), _box(0.0, 0.0, 1.0, reach)),
            PalePlace("bottom side", _fading((1.0 - y) / reach), _box(0.0, far, 1.0, 1.0)),
        ]
    return places


def _box(left: float, top: float, right: float, bottom: float) -> tuple[tuple[float, float], ...]:
    return ((left, top), (right, top), (right, bottom), (left, bottom))


def _fading(distance: NDArray[np.float64]) -> NDArray[np.float32]:
    """Return 1 at distance 0, smoothly 0 from distance 1 on."""
    near = np.clip(1.0 - distance, 0.0, 1.0)
    return np.asarray(near * near * (3.0 - 2.0 * near), np.float32)
