"""Artworks to press: drawn by code, so that they are ours and any size. All (h, w, 3) uint8 sRGB.

Everything is drawn in shares of the shorter side on a canvas of twice the size and then halved.
"""

from collections.abc import Callable
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

Canvas = NDArray[np.float32]
Generator = np.random.Generator
Painter = Callable[[Canvas, Generator], None]
Colour = tuple[float, float, float]

OVERSIZE = 2

PALETTES: tuple[tuple[Colour, ...], ...] = (
    ((0.16, 0.22, 0.38), (0.86, 0.36, 0.27), (0.95, 0.74, 0.30), (0.30, 0.60, 0.58), (0.93, 0.90, 0.83)),
    ((0.42, 0.18, 0.34), (0.80, 0.42, 0.55), (0.95, 0.80, 0.70), (0.35, 0.52, 0.40), (0.22, 0.32, 0.30)),
    ((0.10, 0.40, 0.55), (0.90, 0.55, 0.20), (0.60, 0.75, 0.35), (0.96, 0.93, 0.88), (0.55, 0.20, 0.22)),
)
"""sRGB in 0..1; ours."""


def _points(points: Any) -> NDArray[np.int32]:
    return np.round(np.asarray(points) * 16.0).astype(np.int32)


def _polygon(canvas: Canvas, points: Any, colour: Colour) -> None:
    cv2.fillPoly(canvas, [_points(points)], colour, lineType=cv2.LINE_AA, shift=4)


def _disc(canvas: Canvas, x: float, y: float, radius: float, colour: Colour) -> None:
    cv2.circle(canvas, (round(x * 16), round(y * 16)), round(radius * 16), colour, -1, cv2.LINE_AA, 4)


def _line(canvas: Canvas, points: Any, colour: Colour, width: float) -> None:
    cv2.polylines(canvas, [_points(points)], False, colour, max(round(width), 1), cv2.LINE_AA, 4)


def _clouds(random: Generator, canvas: Canvas, cells: int) -> Canvas:
    """Smooth noise in 0..1 over the canvas, three octaves, (h, w, 1)."""
    height, width = canvas.shape[:2]
    total = np.zeros((height, width), dtype=np.float32)
    for octave in range(3):
        count = cells * 2**octave
        grid = random.standard_normal((count, count)).astype(np.float32)
        total += np.asarray(cv2.resize(grid, (width, height), interpolation=cv2.INTER_CUBIC)) * 0.5**octave
    low, high = np.quantile(total[::4, ::4], [0.02, 0.98])
    return np.asarray(np.clip((total - low) / (high - low), 0.0, 1.0)[..., None], dtype=np.float32)


def _mix(share: Canvas, first: Colour, second: Colour) -> Canvas:
    start = np.array(first, dtype=np.float32)
    mixed: Canvas = start + share * (np.array(second, dtype=np.float32) - start)
    return mixed


def _vertical(canvas: Canvas, *stops: Colour) -> Canvas:
    """Vertical gradient through the stops."""
    place = np.linspace(0.0, 1.0, canvas.shape[0])
    channels = [
        np.interp(place, np.linspace(0, 1, len(stops)), channel) for channel in zip(*stops, strict=True)
    ]
    return np.repeat(np.stack(channels, -1)[:, None, :], canvas.shape[1], axis=1).astype(np.float32)


def tiles(canvas: Canvas, random: Generator) -> None:
    """Geometric tiles: triangles, quarter discs and dots on a square grid."""
    height, width = canvas.shape[:2]
    palette = PALETTES[int(random.integers(len(PALETTES)))]
    step = min(height, width) / int(random.integers(4, 7))
    for top in np.arange(0.0, height, step):
        for left in np.arange(0.0, width, step):
            ground, figure = (palette[i] for i in random.choice(len(palette), 2, replace=False))
            square = np.array([[0, 0], [step, 0], [step, step], [0, step]]) + np.array([left, top])
            _polygon(canvas, square, ground)
            kind = int(random.integers(3))
            if kind == 0:
                _polygon(canvas, np.roll(square, int(random.integers(4)), axis=0)[:3], figure)
            else:
                _disc(canvas, left + step / 2, top + step / 2, step * (0.2 if kind == 1 else 0.42), figure)


def landscape(canvas: Canvas, random: Generator) -> None:
    """Evening sky, sun, three hills and water."""
    height, width = canvas.shape[:2]
    short = min(height, width)
    canvas[:] = _vertical(
        canvas, (0.30, 0.50, 0.78), (0.72, 0.78, 0.85), (0.97, 0.80, 0.58), (0.95, 0.62, 0.42)
    )
    _disc(canvas, width * random.uniform(0.2, 0.8), height * 0.42, short * 0.09, (0.99, 0.93, 0.72))
    x = np.linspace(0.0, width, 80)
    hills = ((0.50, (0.45, 0.50, 0.66)), (0.60, (0.33, 0.47, 0.45)), (0.72, (0.24, 0.36, 0.22)))
    for level, colour in hills:
        waves = sum(
            short * 0.05 / n * np.sin(n * x / short * 3.0 + random.uniform(0, 6.3)) for n in (1.0, 2.3, 4.1)
        )
        ridge = np.stack([x, height * level + waves], axis=1)
        _polygon(canvas, np.vstack([ridge, [[width, height], [0, height]]]), colour)
    for _ in range(26):
        y, start = height * random.uniform(0.86, 0.99), width * random.uniform(0.0, 0.9)
        _line(
            canvas,
            [[start, y], [start + short * random.uniform(0.05, 0.25), y]],
            (0.62, 0.72, 0.72),
            short / 150,
        )


def plant(canvas: Canvas, random: Generator) -> None:
    """Line drawing of a twig with leaves and berries on white: mostly bare coating."""
    height, width = canvas.shape[:2]
    short = min(height, width)
    canvas[:] = (1.0, 1.0, 1.0)
    green, berry = (0.25, 0.42, 0.24), (0.72, 0.16, 0.20)
    for stem in range(3):
        foot = width * (0.25 + 0.25 * stem)
        share = np.linspace(0.0, 1.0, 40)
        bend = random.uniform(-0.25, 0.25) * width
        path = np.stack([foot + bend * share**2, height * (0.95 - 0.85 * share)], axis=1)
        _line(canvas, path, green, short / 110)
        for index in range(6, 38, 4):
            _leaf(canvas, path[index], short * 0.12, random.uniform(20, 60) * (-1) ** (index // 4), green)
        for index in random.choice(30, 4) + 8:
            x, y = path[index] + random.normal(0, short * 0.03, 2)
            _disc(canvas, x, y, short * 0.014, berry)


def _leaf(canvas: Canvas, foot: NDArray[np.float64], length: float, turn_deg: float, colour: Colour) -> None:
    angle = np.deg2rad(turn_deg - 90.0)
    along, across = np.array([np.cos(angle), np.sin(angle)]), np.array([-np.sin(angle), np.cos(angle)])
    share = np.linspace(0.0, 1.0, 12)[:, None]
    edge = foot + along * share * length + across * np.sin(np.pi * share) * length * 0.22
    other = foot + along * share * length - across * np.sin(np.pi * share) * length * 0.22
    red, green, blue = (0.35 * channel + 0.5 for channel in colour)
    _polygon(canvas, np.vstack([edge, other[::-1]]), (red, green, blue))
    _line(canvas, edge, colour, length / 22)
    _line(canvas, other, colour, length / 22)


def night(canvas: Canvas, random: Generator) -> None:
    """Dark sky with coloured clouds, stars and a lit skyline."""
    height, width = canvas.shape[:2]
    short = min(height, width)
    canvas[:] = _vertical(canvas, (0.03, 0.04, 0.10), (0.08, 0.07, 0.20), (0.20, 0.10, 0.22))
    canvas += _clouds(random, canvas, 3) ** 2 * np.array((0.30, 0.12, 0.30), dtype=np.float32)
    for _ in range(90):
        bright = float(random.uniform(0.5, 1.0))
        place = random.uniform(0, [width, height * 0.75])
        _disc(
            canvas, place[0], place[1], short * random.uniform(0.001, 0.005), (bright, bright, bright * 0.9)
        )
    left = 0.0
    while left < width:
        wide, tall = short * random.uniform(0.07, 0.16), height * random.uniform(0.12, 0.34)
        roof = height - tall
        _polygon(
            canvas,
            [[left, roof], [left + wide, roof], [left + wide, height], [left, height]],
            (0.05, 0.05, 0.07),
        )
        for _ in range(7):
            x, y = left + wide * random.uniform(0.15, 0.8), roof + tall * random.uniform(0.1, 0.9)
            pane = np.array([[0, 0], [1, 0], [1, 1.4], [0, 1.4]]) * short * 0.012
            _polygon(canvas, pane + np.array([x, y]), (0.98, 0.80, 0.40))
        left += wide * 1.05


def washes(canvas: Canvas, random: Generator) -> None:
    """Soft colour washes with skin-like tones: no sharp edge anywhere but two thin ovals."""
    height, width = canvas.shape[:2]
    short = min(height, width)
    canvas[:] = _mix(_clouds(random, canvas, 2), (0.62, 0.45, 0.40), (0.94, 0.80, 0.70))
    cool = _clouds(random, canvas, 3) ** 3
    canvas[:] = canvas + cool * (np.array((0.35, 0.50, 0.60), dtype=np.float32) - canvas)
    dark = _clouds(random, canvas, 4) ** 4
    canvas[:] = canvas + dark * (np.array((0.20, 0.12, 0.12), dtype=np.float32) - canvas)
    for colour in ((0.95, 0.90, 0.82), (0.30, 0.18, 0.18)):
        angle = np.linspace(0, 2 * np.pi, 90)
        centre = np.array([width, height]) * random.uniform(0.35, 0.65, 2)
        radii = short * random.uniform(0.15, 0.32, 2)
        _line(canvas, centre + np.stack([np.cos(angle), np.sin(angle)], 1) * radii, colour, short / 120)


def label(canvas: Canvas, random: Generator) -> None:
    """A label: coloured bands, invented lettering of bars, a frame."""
    height, width = canvas.shape[:2]
    short = min(height, width)
    ground, band, ink = (PALETTES[int(random.integers(len(PALETTES)))][i] for i in (4, 1, 0))
    canvas[:] = ground
    _polygon(
        canvas, [[0, height * 0.30], [width, height * 0.24], [width, height * 0.52], [0, height * 0.58]], band
    )
    frame = np.array([[0.06, 0.06], [0.94, 0.06], [0.94, 0.94], [0.06, 0.94], [0.06, 0.06]]) * [width, height]
    _line(canvas, frame, ink, short / 60)
    for row, tall in ((0.16, 0.05), (0.36, 0.10), (0.66, 0.04), (0.74, 0.04), (0.82, 0.04)):
        x = width * 0.14
        while x < width * 0.82:
            wide = short * tall * random.uniform(0.35, 0.9)
            for _ in range(2):
                bar = random.uniform(0.0, 1.0, 4) * [wide, height * tall, wide, height * tall]
                start = [x + bar[0], height * row + bar[1]]
                _line(canvas, [start, [x + bar[2], height * row + bar[3]]], ink, short * tall * 0.2)
            _line(canvas, [[x, height * row], [x, height * (row + tall)]], ink, short * tall * 0.2)
            x += wide * 1.35


def rings(canvas: Canvas, random: Generator) -> None:
    """Saturated rings around two centres, in steps of tone, on a dark ground."""
    height, width = canvas.shape[:2]
    short = min(height, width)
    canvas[:] = (0.12, 0.13, 0.20)
    hue = random.uniform(0.0, 1.0)
    for centre in random.uniform(0.2, 0.8, (2, 2)) * [width, height]:
        count = int(random.integers(9, 15))
        for index in range(count, 0, -1):
            turn = 2 * np.pi * (hue + index / count * random.uniform(0.5, 0.9))
            colour = (
                0.55 + 0.4 * np.cos(turn),
                0.5 + 0.4 * np.cos(turn - 2.1),
                0.5 + 0.4 * np.cos(turn + 2.1),
            )
            _disc(canvas, centre[0], centre[1], short * 0.42 * index / count, colour)


def mosaic(canvas: Canvas, random: Generator) -> None:
    """Cells of muted colour with pale joints over soft shading, as a photograph of stones has."""
    height, width = canvas.shape[:2]
    seeds = random.uniform(0.0, 1.0, (70, 2)) * [width, height]
    colours = np.clip(random.normal((0.52, 0.46, 0.40), (0.20, 0.16, 0.15), (70, 3)), 0.05, 0.95)
    down, across = np.mgrid[0:height:4, 0:width:4]
    distance = np.hypot(across[..., None] - seeds[:, 0], down[..., None] - seeds[:, 1])
    nearest = np.argsort(distance, axis=2)[..., :2]
    gap = np.diff(np.take_along_axis(distance, nearest, axis=2), axis=2)
    cells = colours[nearest[..., 0]].astype(np.float32)
    joint = np.clip(1.0 - gap / (0.02 * min(height, width)), 0.0, 1.0).astype(np.float32)
    small = cells + joint * (np.float32(0.9) - cells)
    canvas[:] = np.asarray(cv2.resize(small, (width, height), interpolation=cv2.INTER_LINEAR))
    canvas *= 0.75 + 0.5 * _clouds(random, canvas, 3)


ARTWORKS: dict[str, Painter] = {
    "tiles": tiles,
    "landscape": landscape,
    "plant": plant,
    "night": night,
    "washes": washes,
    "label": label,
    "rings": rings,
    "mosaic": mosaic,
}

DRAWN_AT_RANDOM = ("tiles", "landscape", "plant", "night", "washes", "label")
"""What a random scene shows unless it is told; the others are for the grader's training."""


def artwork(name: str, seed: int = 0, width: int = 480, height: int = 480) -> NDArray[np.uint8]:
    """Draw an artwork of `ARTWORKS`, (height, width, 3) uint8 sRGB; the same for the same seed and size."""
    canvas = np.zeros((height * OVERSIZE, width * OVERSIZE, 3), dtype=np.float32)
    ARTWORKS[name](canvas, np.random.default_rng((seed, list(ARTWORKS).index(name))))
    halved = cv2.resize(np.clip(canvas, 0.0, 1.0), (width, height), interpolation=cv2.INTER_AREA)
    return np.asarray(np.round(np.asarray(halved) * 255.0), dtype=np.uint8)
