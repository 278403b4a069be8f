"""Made pieces for the grader: photos by the scene maker, with the truth about their pressing.

They differ in artwork, ink set, blank, light, camera and photo quality. Doses lie evenly within each state,
those next to the limits included, so that probabilities mean something there.
"""

import json
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from benchmark.in_turn import in_turn
from scenes.artworks import ARTWORKS
from scenes.observers import MEASURED_CAMERAS, PHONE_CAMERAS, TABLED_CAMERAS
from scenes.pressing import State, pressing_at
from scenes.render import render, write_photo
from scenes.scenarios import STATES, random_scene
from scenes.scene import GlareBlob, Piece, Scene
from scenes.spectra import INK_SETS

LEAST_FRACTION = 0.89
"""Share of the ink below which a made piece counts as under-pressed: lacking 11 % is 2 to 4 CIEDE2000."""

LEAST_HEAT = 1.12
"""Dose from which it counts as over-pressed: from here on it differs from a right one by 1 to 2 CIEDE2000."""

CLEAR_BY = 0.08
"""A piece this much ink, or dose, away from both limits is a clear case."""

DOSES: dict[State, tuple[float, float]] = {
    "under-pressed": (0.40, LEAST_FRACTION),
    "good": (LEAST_FRACTION, LEAST_HEAT),
    "over-pressed": (LEAST_HEAT, 1.65),
}

TRAINING_CAMERAS = (*PHONE_CAMERAS, MEASURED_CAMERAS[0], *TABLED_CAMERAS)
"""Three phone-like sensors and thirteen measured cameras; left out is a layered sensor, no likely phone."""

PHOTO_PIXELS = (1600, 1200)
"""Sides of a made photo: enough for every patch and edge, and half the work of a larger one."""


def drawn_scene(seed: int) -> Scene:
    """Draw one piece with its photo; the same for the same seed."""
    random = np.random.default_rng((seed, 23))
    state = STATES[seed % len(STATES)]
    dose = float(random.uniform(*DOSES[state]))
    scene = random_scene(seed, artwork_name=list(ARTWORKS)[seed % len(ARTWORKS)])
    if scene.piece is None:
        raise ValueError(f"scene {seed} has no piece")
    pressing = pressing_at(dose, seed, unevenness=float(random.uniform(0.0, 0.05)))
    glass = scene.piece.glass
    piece = replace(
        scene.piece,
        pressing=pressing,
        ink_set=list(INK_SETS)[int(random.integers(len(INK_SETS)))],
        veil_gradient=float(random.uniform(-1.5, 1.5)),
        glare=scene.piece.glare + (_mirrored_room(random, scene.piece) if glass else ()),
    )
    return replace(_harder(scene, random, seed), piece=piece)


def _mirrored_room(random: np.random.Generator, piece: Piece) -> tuple[GlareBlob, ...]:
    """Up to two large soft things that the glass mirrors: a lit wall, a window, a person's shirt."""
    return tuple(
        GlareBlob(
            x_mm=float(random.uniform(-0.3, 1.3) * piece.width_mm),
            y_mm=float(random.uniform(-0.3, 1.3) * piece.height_mm),
            half_width_mm=float(random.uniform(20.0, 90.0)),
            half_height_mm=float(random.uniform(20.0, 90.0)),
            rotation_deg=float(random.uniform(0.0, 180.0)),
            strength=float(random.uniform(0.0, 0.04)),
        )
        for _ in range(int(random.integers(0, 3)))
    )


def _harder(scene: Scene, random: np.random.Generator, seed: int) -> Scene:
    """Spread light, phone and card wider than everyday scenes do, so that poor photos are met too."""
    long_side, short_side = PHOTO_PIXELS
    upright = scene.camera.height_px > scene.camera.width_px
    return scene.changed(
        sensor=TRAINING_CAMERAS[int(random.integers(len(TRAINING_CAMERAS)))],
        width_px=short_side if upright else long_side,
        height_px=long_side if upright else short_side,
        gradient=float(random.uniform(0.0, 0.40)),
        falloff=float(random.uniform(0.0, 0.25)),
        contrast=float(random.uniform(0.0, 0.7)),
        saturation=float(random.uniform(1.0, 1.3)),
        gloss=float(random.uniform(0.0, 0.02)),
        bend_mm=float(random.choice([0.0, random.uniform(0.2, 1.5)])),
        misprint=float(random.uniform(0.0, 0.06)),
        misprint_seed=seed,
    )


def make_pieces(folder: Path, seeds: range, *, jobs: int) -> tuple[Path, ...]:
    """Make the photos that are not there yet, one folder a piece, and return the folders."""
    folder.mkdir(parents=True, exist_ok=True)
    return tuple(in_turn(partial(_make, folder), list(seeds), jobs=jobs, what="making pieces"))


def _make(folder: Path, seed: int) -> Path:
    """Write photo, artwork and truth of one piece; the truth last, as the sign that all is there."""
    case = folder / f"piece_{seed:05d}"
    if (case / "truth.json").exists():
        return case
    case.mkdir(exist_ok=True)
    scene = drawn_scene(seed)
    piece = scene.piece
    if piece is None:
        raise ValueError(f"scene {seed} has no piece")
    write_photo(case / "photo.jpg", render(scene, seed))
    cv2.imwrite(str(case / "artwork.png"), piece.artwork[..., ::-1])
    (case / "truth.json").write_text(json.dumps(_truth(scene, seed), indent=1))
    return case


def _truth(scene: Scene, seed: int) -> dict[str, Any]:
    """Say what was pressed and how the photo was taken."""
    piece = scene.piece
    if piece is None:
        raise ValueError(f"scene {seed} has no piece")
    pressing = piece.pressing
    return {
        "seed": seed,
        "state": state_at(pressing.dose),
        "dose": pressing.dose,
        "transferred": [float(gain) for gain in pressing.gains[:3]],
        "yellowing": pressing.yellowing,
        "bleed_mm": pressing.bleed_mm,
        "artwork": list(ARTWORKS)[seed % len(ARTWORKS)],
        "camera": scene.phone.sensor,
        "light": scene.light.illuminant,
        "ink_set": piece.ink_set,
        "glass": piece.glass,
        "mirrored": piece.mirrored,
    }


def state_at(dose: float) -> State:
    """Return the right answer for a dose."""
    if dose < LEAST_FRACTION:
        return "under-pressed"
    return "good" if dose < LEAST_HEAT else "over-pressed"
