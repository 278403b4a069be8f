"""Photos of made pieces, each rendered once and inspected once for all tests that ask about it."""

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from tempfile import mkdtemp
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from dyecast_calibration.card_layout import known_layouts
from dyecast_inspect.inspection import Inspection
from dyecast_inspect.pipeline import inspect_photo
from dyecast_inspect.read_artwork import Artwork, read_artwork
from scenes.artworks import artwork
from scenes.pressing import pressing_at
from scenes.render import Truth, render, write_photo
from scenes.scene import Camera, Card, Phone, Piece, Scene
from scenes.spoiling import SpoiledKind, spoil

TILES = artwork("tiles", 3, 480, 480)
NIGHT = artwork("night", 5, 480, 480)


@dataclass(frozen=True, slots=True, eq=False)
class Made:
    """A made photo: where it lies, what is true, its artwork as read, and what dyecast says."""

    photo: Path
    truth: Truth
    artwork: Artwork
    inspection: Inspection


def plain_scene(dose: float, **changes: Any) -> Scene:
    """Return a square glass piece, evenly lit, beside the A6 card, through a tame phone."""
    piece = Piece(artwork=TILES, pressing=pressing_at(dose, seed=2), width_mm=100.0, height_mm=100.0)
    return Scene(
        card=Card(known_layouts()[0]),
        piece=piece,
        camera=Camera(width_px=1600, height_px=1200),
        phone=Phone(),
    ).changed(**changes)


@cache
def folder() -> Path:
    """Return one folder for all made photos of this process."""
    return Path(mkdtemp(prefix="made-pieces-"))


def made(name: str, scene: Scene, shown: NDArray[np.uint8] | None = None) -> Made:
    """Render a scene, inspect it against the tiles (or another artwork), and return all."""
    rendered = render(scene, 1)
    photo, picture = folder() / f"{name}.jpg", folder() / f"{name}.png"
    write_photo(photo, rendered)
    Image.fromarray(TILES if shown is None else shown).save(picture)
    intended = read_artwork(picture)
    return Made(photo, rendered.truth, intended, inspect_photo(photo, intended))


@cache
def piece(dose: float) -> Made:
    """Return the plain piece pressed with a dose."""
    return made(f"dose-{dose}", plain_scene(dose))


@cache
def spoiled(kind: SpoiledKind) -> Made:
    """Return the plain good piece with its photo spoiled."""
    return made(f"spoiled-{kind}", spoil(plain_scene(1.0), kind))
