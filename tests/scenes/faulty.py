"""Scenes of pieces with one fault each, drawn by seed, and of pieces without any."""

from collections.abc import Callable
from typing import Any, Final

import numpy as np

from scenes.faults import (
    Banding,
    Bubbles,
    Fault,
    Ghost,
    Lint,
    OffCentre,
    Pale,
    Scratch,
    Speck,
    Where,
    WrongSize,
    lack,
)
from scenes.scenarios import random_scene
from scenes.scene import Piece, Scene

FAULT_BORDER_MM = 8.0
"""Border of pieces whose print is moved or has the wrong size: the print stays on the blank."""

INKED = 0.45
"""Mean linear light of the artwork below which a mark is drawn: on white nothing would be seen."""

CORNERS: Final[tuple[Where, ...]] = ("top left", "top right", "bottom left", "bottom right")
SIDES: Final[tuple[Where, ...]] = ("top", "bottom", "left", "right")

Generator = np.random.Generator


def faultless_scene(seed: int, **changes: Any) -> Scene:
    """Return a piece without any fault, pressed in any way; the same for the same seed."""
    return random_scene(seed, mirrored=False, **changes)


def faulty_scene(kind: str, seed: int, **changes: Any) -> Scene:
    """Return the same piece with one fault of a kind of `FAULT_KINDS`, its size and place drawn by seed."""
    scene = faultless_scene(seed, **changes)
    if kind == "mirrored":
        return scene.changed(mirrored=True)
    if kind in {"wrong size", "slightly wrong size", "off-centre"}:
        scene = scene.changed(border_mm=FAULT_BORDER_MM)
    piece = scene.piece
    assert piece is not None
    random = np.random.default_rng((seed, 23))
    return scene.changed(faults=FAULT_KINDS[kind](random, piece))


def _ghost(random: Generator, _piece: Piece) -> tuple[Fault, ...]:
    return (Ghost(_between(random, 1.0, 5.0), _between(random, 0, 360), _between(random, 0.15, 0.35)),)


def _banding(random: Generator, piece: Piece) -> tuple[Fault, ...]:
    """Lines of the dye the artwork has most of: red light is what cyan takes, and so on."""
    period, depth = _between(random, 2.5, 9.0), _between(random, 0.15, 0.30)
    along_rows = bool(random.random() < 0.5)
    most = int(piece.artwork.reshape(-1, 3).mean(axis=0).argmin())
    return (Banding(period, depth, most, along_rows, _between(random, 0, 1)),)


def _pale_corner(random: Generator, piece: Piece) -> tuple[Fault, ...]:
    where = _most_inked(random, piece, CORNERS)
    return (Pale(where, _between(random, 0.45, 0.7) * _long_side(piece), _between(random, 0.35, 0.6)),)


def _pale_side(random: Generator, piece: Piece) -> tuple[Fault, ...]:
    where = _most_inked(random, piece, SIDES)
    length = piece.print_box_mm[2 if where in {"left", "right"} else 3]
    return (Pale(where, _between(random, 0.3, 0.5) * length, _between(random, 0.35, 0.5)),)


def _lint(random: Generator, piece: Piece) -> tuple[Fault, ...]:
    places = [_inked_place(random, piece) for _ in range(2)]
    length, width = _between(random, 2.0, 5.0), _between(random, 0.4, 0.6)
    turn, bend = _between(random, 0, 180), _between(random, 40, 140)
    return (Lint(*places[0], length, width, turn, bend), Speck(*places[1], _between(random, 0.8, 1.8)))


def _scratch(random: Generator, piece: Piece) -> tuple[Fault, ...]:
    x, y = _inked_place(random, piece)
    length, width = _between(random, 12.0, 30.0), _between(random, 0.4, 0.8)
    return (Scratch(x, y, length, width, _between(random, 0, 180)),)


def _bubbles(random: Generator, piece: Piece) -> tuple[Fault, ...]:
    x, y = _inked_place(random, piece)
    spots = [
        (x + _between(random, -6, 6), y + _between(random, -6, 6), _between(random, 0.8, 2.0))
        for _ in range(9)
    ]
    return (Bubbles(tuple(spots)),)


def _wrong_size(random: Generator, _piece: Piece) -> tuple[Fault, ...]:
    return _sized(random, _between(random, 0.05, 0.10))


def _slightly_wrong_size(random: Generator, _piece: Piece) -> tuple[Fault, ...]:
    return _sized(random, _between(random, 0.02, 0.05))


def _sized(random: Generator, change: float) -> tuple[Fault, ...]:
    return (WrongSize(1.0 + change if random.random() < 0.5 else 1.0 - change),)


def _off_centre(random: Generator, _piece: Piece) -> tuple[Fault, ...]:
    shift, turn = _between(random, 2.5, 5.5), _between(random, 0, 2 * np.pi)
    return (OffCentre(shift * float(np.cos(turn)), shift * float(np.sin(turn))),)


FAULT_KINDS: Final[dict[str, Callable[[Generator, Piece], tuple[Fault, ...]]]] = {
    "wrong size": _wrong_size,
    "slightly wrong size": _slightly_wrong_size,
    "off-centre": _off_centre,
    "pale corner": _pale_corner,
    "pale side": _pale_side,
    "lint": _lint,
    "scratch": _scratch,
    "bubbles": _bubbles,
    "ghost": _ghost,
    "banding": _banding,
}
"""How each kind is drawn; beside them there is ``mirrored``."""


def _between(random: Generator, low: float, high: float) -> float:
    return float(random.uniform(low, high))


def _long_side(piece: Piece) -> float:
    return max(piece.print_box_mm[2:])


def _most_inked(random: Generator, piece: Piece, places: tuple[Where, ...]) -> Where:
    """Return one of the two places with most ink within a third of the artwork: on white nothing is seen."""
    ink = 1.0 - (piece.artwork.astype(np.float32) / 255.0).mean(axis=2, keepdims=True)
    reach = max(piece.artwork.shape) / 3
    by_ink = sorted(
        places, key=lambda where: float((lack(Pale(where, reach, 1.0), ink.shape, 1.0) * ink).sum())
    )
    return by_ink[-1 - int(random.integers(2))]


def _inked_place(random: Generator, piece: Piece) -> tuple[float, float]:
    """Return a place (x, y) in mm in the inner part of the artwork that has ink; its darkest if none has."""
    height, width = piece.artwork.shape[:2]
    light = (piece.artwork.astype(np.float32) / 255.0).mean(axis=2) ** 2.2
    down, across = np.mgrid[0:height, 0:width]
    middle = np.hypot((down / height - 0.5) / 0.35, (across / width - 0.5) / 0.35) < 1.0
    places = np.argwhere(middle & (light < INKED))
    if not len(places):
        places = np.argwhere(middle & (light <= np.percentile(light[middle], 5)))
    row, column = places[int(random.integers(len(places)))]
    scale = piece.print_box_mm[2] / width
    return float((column + 0.5) * scale), float((row + 0.5) * scale)
