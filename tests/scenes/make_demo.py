"""Makes the photos that `dyecast demo` inspects: an invented shop, its artwork, and three pressings of it.

Run from the folder above `api/`, with the folder to fill (files of these names in it are overwritten)::

    PYTHONPATH=tests python -m scenes.make_demo api/dyecast_api/demo

The same files come out every time: nothing is drawn at random that has no seed. The three photos show one
glass piece each, 150 x 100 mm, beside the a6 card, on three tables in three lights, through three phones:

* ``monday.jpg`` was pressed too short (dose 0.68): daylight from a window on the right, oak table;
* ``tuesday.jpg`` is right (dose 1.0): a neutral white lamp, laminate, a rounded piece, some veil;
* ``wednesday.jpg`` was pressed too long (dose 1.5): a cool white lamp, dark cloth.

``README.txt`` in the folder says that the shop is invented and what each photo shows.
"""

import argparse
from io import BytesIO
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, PngImagePlugin

from dyecast_calibration.card_layout import layout_named
from scenes.pressing import pressing_at
from scenes.render import render, write_photo
from scenes.scene import Camera, Card, Light, Phone, Piece, Scene, Shape, Table

Canvas = NDArray[np.float32]
Colour = tuple[float, float, float]

ARTWORK_SIZE = (640, 960)
"""Height and width, pixels: about 160 dpi on the piece."""

OVERSIZE = 2
PIECE_MM = (150.0, 100.0)
LARGEST_PHOTO_BYTES = 350_000

PERCEPTUAL_INTENT = 0
"""Of the PNG's sRGB chunk. Source: PNG specification, sRGB chunk (from memory)."""

INK: Colour = (0.10, 0.09, 0.16)
WALLS: tuple[Colour, ...] = (
    (0.72, 0.30, 0.28),
    (0.92, 0.72, 0.40),
    (0.30, 0.52, 0.52),
    (0.86, 0.82, 0.74),
    (0.42, 0.30, 0.46),
)
SKY: tuple[Colour, ...] = ((0.13, 0.19, 0.42), (0.42, 0.42, 0.66), (0.93, 0.62, 0.52))
LAMP: Colour = (1.0, 0.95, 0.78)

README = """\
Lantern Lane Keepsakes
======================

Invented for the demonstration: there is no such shop, and no real shop, person or piece is shown.
The pictures were computed, not taken: artwork.png by a drawing program of ours, the photos by the scene
maker that comes with the tests (tests/scenes/make_demo.py).

The shop presses artwork.png, an evening lane, into glass cutting boards of 150 x 100 mm and photographs
each piece beside the a6 reference card:

monday.jpg      taken out of the press too early; daylight from a window, oak table
tuesday.jpg     pressed as the recipe says; a neutral white lamp, laminate table
wednesday.jpg   forgotten in the press; a cool white lamp, dark table

`dyecast demo` inspects the three photos and leaves a folder of reports.
"""


def lane() -> NDArray[np.uint8]:
    """Draw the artwork: an evening lane of houses with lanterns, (640, 960, 3) uint8 sRGB."""
    height, width = (side * OVERSIZE for side in ARTWORK_SIZE)
    down = np.linspace(0.0, 1.0, height)
    sky = [np.interp(down, np.linspace(0.0, 0.72, len(SKY)), channel) for channel in zip(*SKY, strict=True)]
    canvas = np.repeat(np.stack(sky, -1)[:, None], width, axis=1).astype(np.float32)
    random = np.random.default_rng(8)
    _disc(canvas, 0.83, 0.17, 0.060, (0.97, 0.96, 0.92))
    for _ in range(40):
        x, y = random.uniform(0.02, 0.98), random.uniform(0.02, 0.34)
        _disc(canvas, x, y, random.uniform(0.001, 0.003), (0.9, 0.9, 0.95))
    _houses(canvas, random)
    _box(canvas, (0.0, 0.80, 1.0, 1.0), (0.34, 0.32, 0.36))
    for row in range(5):
        for stone in range(-1, 17):
            x, y = (stone + 0.5 * (row % 2)) * 0.0625, 0.805 + row * 0.040
            grey = 0.44 + random.uniform(-0.06, 0.06)
            _box(canvas, (x + 0.003, y, x + 0.058, y + 0.033), (grey + 0.03, grey, grey - 0.01))
    for x in (0.16, 0.50, 0.84):
        _lantern(canvas, x)
    small = cv2.resize(np.clip(canvas, 0.0, 1.0), ARTWORK_SIZE[::-1], interpolation=cv2.INTER_AREA)
    return np.asarray(np.rint(np.asarray(small) * 255.0), dtype=np.uint8)


def _houses(canvas: Canvas, random: np.random.Generator) -> None:
    """A row of gabled houses with lit and dark windows."""
    left = -0.02
    for number in range(7):
        wide, top = random.uniform(0.13, 0.17), random.uniform(0.36, 0.48)
        wall = WALLS[(number * 2) % len(WALLS)]
        _box(canvas, (left, top, left + wide, 0.80), wall)
        gable = [[left - 0.008, top], [left + wide / 2, top - 0.13], [left + wide + 0.008, top]]
        _polygon(canvas, gable, INK)
        for storey in range(3):
            for column in range(2):
                x, y = left + wide * (0.20 + 0.38 * column), top + 0.05 + 0.11 * storey
                lit = random.random() < 0.55
                _box(canvas, (x - 0.004, y - 0.006, x + 0.034, y + 0.066), INK)
                _box(canvas, (x, y, x + 0.030, y + 0.060), (0.98, 0.84, 0.46) if lit else (0.20, 0.24, 0.34))
        _box(
            canvas,
            (left + wide * 0.42, 0.70, left + wide * 0.60, 0.80),
            (0.45 * wall[0], 0.45 * wall[1], 0.45 * wall[2]),
        )
        left += wide


def _lantern(canvas: Canvas, x: float) -> None:
    """A post with a bright lamp and a pool of light around it."""
    height, width = canvas.shape[:2]
    rows, columns = np.mgrid[:height, :width].astype(np.float32)
    away = np.hypot((columns / width - x) * 1.5, rows / height - 0.46)
    glow = (0.55 * np.exp(-((away / 0.13) ** 2)))[..., None].astype(np.float32)
    canvas += glow * (np.array(LAMP, dtype=np.float32) - canvas)
    _box(canvas, (x - 0.005, 0.50, x + 0.005, 0.86), INK)
    _box(canvas, (x - 0.016, 0.84, x + 0.016, 0.87), INK)
    _polygon(canvas, [[x - 0.026, 0.40], [x, 0.35], [x + 0.026, 0.40]], INK)
    _polygon(canvas, [[x - 0.024, 0.40], [x + 0.024, 0.40], [x + 0.016, 0.51], [x - 0.016, 0.51]], INK)
    _polygon(
        canvas,
        [[x - 0.018, 0.41], [x + 0.018, 0.41], [x + 0.011, 0.50], [x - 0.011, 0.50]],
        (1.0, 0.98, 0.90),
    )


def _polygon(canvas: Canvas, points: object, colour: Colour) -> None:
    """Fill a polygon given in shares of width and height."""
    places = np.asarray(points, dtype=np.float64) * canvas.shape[1::-1] * 16.0
    cv2.fillPoly(canvas, [np.rint(places).astype(np.int32)], colour, lineType=cv2.LINE_AA, shift=4)


def _box(canvas: Canvas, box: tuple[float, float, float, float], colour: Colour) -> None:
    left, top, right, bottom = box
    _polygon(canvas, [[left, top], [right, top], [right, bottom], [left, bottom]], colour)


def _disc(canvas: Canvas, x: float, y: float, radius: float, colour: Colour) -> None:
    """Fill a disc; the radius is a share of the width."""
    height, width = canvas.shape[:2]
    middle = (round(x * width * 16), round(y * height * 16))
    cv2.circle(canvas, middle, round(radius * width * 16), colour, -1, cv2.LINE_AA, 4)


def _scene(artwork: NDArray[np.uint8], dose: float, seed: int, shape: Shape, table: Table) -> Scene:
    """Lay a piece below the card."""
    layout = layout_named("a6")
    card = Card(layout, layout.width / 2, layout.height / 2, 1.5 - seed, bend_mm=0.2, gloss=0.002)
    piece = Piece(
        artwork=artwork,
        pressing=pressing_at(dose, seed, unevenness=0.02),
        width_mm=PIECE_MM[0],
        height_mm=PIECE_MM[1],
        shape=shape,
        corner_radius_mm=8.0 if shape == "rounded" else 0.0,
        x_mm=layout.width / 2 + 3.0,
        y_mm=layout.height + 20.0 + PIECE_MM[1] / 2,
        rotation_deg=1.5 * seed - 3.0,
        thickness_mm=4.0,
        glass=True,
        glass_tint=0.15,
    )
    return Scene(card=card, piece=piece, table=table)


def demo_scenes(artwork: NDArray[np.uint8]) -> dict[str, Scene]:
    """Return the three scenes by the name of their photo."""
    upright = Camera(width_px=1500, height_px=2000, margin=0.05, radial_distortion=-0.005, vignetting=0.1)
    monday = _scene(artwork, 0.68, 1, "rectangle", "oak").changed(
        light=Light("D65", gradient=0.15, gradient_direction_deg=0.0, falloff=0.05),
        camera=upright,
        phone=Phone("phone A", exposure=0.75, saturation=1.08, contrast=0.2, flare=0.003, jpeg_quality=80),
        tilt_deg=6.0,
        tilt_direction_deg=100.0,
        roll_deg=2.0,
        veil=0.012,
        veil_gradient=0.3,
    )
    tuesday = _scene(artwork, 1.0, 2, "rounded", "laminate").changed(
        light=Light("LED-B4", gradient=0.10, gradient_direction_deg=200.0, falloff=0.08),
        camera=upright,
        phone=Phone("phone B", exposure=0.72, saturation=1.05, contrast=0.15, flare=0.002, jpeg_quality=80),
        tilt_deg=9.0,
        tilt_direction_deg=80.0,
        roll_deg=-3.0,
        veil=0.02,
        veil_gradient=-0.2,
        white_balance_error=(1.04, 1.0, 0.96),
    )
    wednesday = _scene(artwork, 1.5, 3, "rectangle", "dark").changed(
        light=Light("LED-B5", gradient=0.12, gradient_direction_deg=60.0, falloff=0.05),
        camera=upright,
        phone=Phone("phone C", exposure=0.70, saturation=1.1, contrast=0.2, flare=0.003, jpeg_quality=80),
        tilt_deg=4.0,
        roll_deg=4.0,
        veil=0.01,
        colour_profile="Display P3",
        exif_orientation=6,
    )
    return {"monday.jpg": monday, "tuesday.jpg": tuesday, "wednesday.jpg": wednesday}


def make_demo(folder: Path) -> None:
    """Write artwork, photos and README into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    artwork = lane()
    stored = BytesIO()
    chunks = PngImagePlugin.PngInfo()
    chunks.add(b"sRGB", bytes([PERCEPTUAL_INTENT]))
    Image.fromarray(artwork).save(stored, "PNG", optimize=True, pnginfo=chunks)
    (folder / "artwork.png").write_bytes(stored.getvalue())
    for seed, (name, scene) in enumerate(demo_scenes(artwork).items(), start=1):
        write_photo(folder / name, render(scene, seed))
        size = (folder / name).stat().st_size
        if size > LARGEST_PHOTO_BYTES:
            raise ValueError(f"{name} has {size} bytes, more than {LARGEST_PHOTO_BYTES}")
    (folder / "README.txt").write_text(README, encoding="utf-8")


if __name__ == "__main__":
    arguments = argparse.ArgumentParser(description="Make the photos of `dyecast demo`.")
    arguments.add_argument("folder", type=Path, help="folder to fill; its files are overwritten")
    make_demo(arguments.parse_args().folder)
