"""Rendered scenes with what dyecast says about them, each rendered and inspected once.

All stand for the same coaster beside the same card unless their name says otherwise.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from dyecast_inspect.inspection import Inspection
from dyecast_inspect.pipeline import inspect_photo
from dyecast_inspect.read_artwork import Artwork, read_artwork
from scenes.faults import Banding, Fault, Ghost, Lint, OffCentre, Pale, Scratch, Speck
from scenes.pressing import pressing_at
from scenes.render import Truth, render, write_photo
from scenes.scenarios import SPOILED_KINDS, SpoiledKind, random_scene, spoil
from scenes.scene import GlareBlob, Scene

PLAIN: Final[dict[str, Any]] = {
    "glare": (),
    "shadow_depth": 0.0,
    "exif_orientation": 1,
    "mirrored": False,
    "width_px": 1200,
    "height_px": 900,
    "tilt_deg": 8.0,
    "roll_deg": 0.0,
    "radial_distortion": 0.0,
    "illuminant": "D50",
    "noise": 1.0,
    "blur_px": 0.6,
    "exposure": 0.75,
    "glass": True,
    "glass_tint": 0.0,
    "veil": 0.01,
    "thickness_mm": 3.0,
    "border_mm": 0.0,
    "shape": "rectangle",
    "table": "laminate",
    "bend_mm": 0.0,
    "rotation_deg": 0.0,
}
"""A careful photo of a piece without peculiarities."""

LAMP: Final = GlareBlob(30.0, 30.0, 16.0, 16.0, 0.0, 0.9)
"""A lamp mirrored in the upper left of the piece."""


@dataclass(frozen=True, slots=True, eq=False)
class SeenPiece:
    """A photo, its artwork, what dyecast says, and what is true."""

    path: Path
    artwork: Artwork
    inspection: Inspection
    truth: Truth


def tiles_scene() -> Scene:
    """Return the same with a pattern of many tiles."""
    return random_scene(1, "good", artwork_name="tiles", **PLAIN)


def piece_scene(dose: float = 1.0, **changes: Any) -> Scene:
    """Return the usual scene, pressed with a dose (1 is right), changed by name."""
    scene = random_scene(1, "good", artwork_name="label", **PLAIN)
    return scene.changed(pressing=pressing_at(dose, 1), **changes)


def faulty_tiles(*faults: Fault, **changes: Any) -> Scene:
    """Return the pattern of many tiles with faults."""
    return tiles_scene().changed(faults=faults, **changes)


FAULTY: Final[dict[str, Callable[[], Scene]]] = {
    "tiles": tiles_scene,
    "lit from one side": lambda: faulty_tiles(gradient=0.3, falloff=0.15, veil=0.04, veil_gradient=0.8),
    "off-centre": lambda: faulty_tiles(OffCentre(3.0, -2.0), border_mm=8.0),
    "pale corner": lambda: faulty_tiles(Pale("bottom left", 60.0, 0.5)),
    "dusty": lambda: faulty_tiles(Lint(30.0, 40.0, 4.0, 0.6), Speck(60.0, 70.0, 1.6)),
    "scratched": lambda: faulty_tiles(Scratch(45.0, 60.0, 25.0, 0.8, 30.0)),
    "moved paper": lambda: faulty_tiles(Ghost(3.0, 90.0, 0.25)),
    "banded": lambda: faulty_tiles(Banding(6.0, 0.25, dye=1)),
}
"""Scenes of pieces with one fault each, by name, and the same piece without, in even and in uneven light."""


def _spoiled(kind: SpoiledKind) -> Scene:
    return spoil(piece_scene(), kind)


SCENES: Final[dict[str, Callable[[], Scene]]] = {
    "under-pressed": lambda: piece_scene(0.6),
    "good": lambda: piece_scene(1.0),
    "over-pressed": lambda: piece_scene(1.65),
    "pale and moved": lambda: piece_scene(0.6, faults=(Ghost(3.0, 90.0, 0.35),)),
    "mirrored": lambda: piece_scene(mirrored=True),
    "turned by 90": lambda: piece_scene(rotation_deg=90.0),
    "turned by 180": lambda: piece_scene(rotation_deg=180.0),
    "turned by 270": lambda: piece_scene(rotation_deg=270.0),
    "white border": lambda: piece_scene(border_mm=5.0),
    "round": lambda: piece_scene(shape="round", width_mm=100.0, height_mm=100.0),
    "under a lamp": lambda: piece_scene(glare=(LAMP,)),
    "under-pressed, another light": lambda: piece_scene(0.6, illuminant="LED-B3"),
    **FAULTY,
    **{kind: partial(_spoiled, kind) for kind in SPOILED_KINDS},
    "glare_over_piece": lambda: spoil(tiles_scene(), "glare_over_piece"),
}
"""Scenes by name."""


@dataclass(slots=True, eq=False)
class SeenPieces:
    """Looks scenes up by name; renders and inspects each the first time it is asked for."""

    folder: Path
    _seen: dict[str, SeenPiece] = field(default_factory=dict)

    def __getitem__(self, name: str) -> SeenPiece:
        """Return a scene of `SCENES`."""
        if name not in self._seen:
            self._seen[name] = self._look(name)
        return self._seen[name]

    def artwork(self, name: str, pixels: NDArray[np.uint8]) -> Artwork:
        """Write an artwork, (h, w, 3) sRGB, and read it as a user's file."""
        path = self.folder / f"{name}.png"
        Image.fromarray(pixels).save(path)
        return read_artwork(path)

    def _look(self, name: str) -> SeenPiece:
        scene, usual = SCENES[name](), piece_scene().piece
        piece = scene.piece or usual
        assert piece is not None
        rendered = render(scene, 1)
        path = self.folder / f"{name.replace(', ', '-').replace(' ', '-')}.jpg"
        write_photo(path, rendered)
        artwork = self.artwork(path.stem, piece.artwork)
        return SeenPiece(path, artwork, inspect_photo(path, artwork), rendered.truth)
