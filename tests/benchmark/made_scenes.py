"""Photos made by the scene maker, written as cases like any other, so that all scores apply to them."""

import json
from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from benchmark.in_turn import in_turn
from benchmark.photo_cases import PhotoCase, read_case
from benchmark.piece_error import BRADFORD_D65_TO_D50, SRGB_TO_XYZ_D65, WHITE_D50
from scenes.render import RenderedPhoto, Truth, render, write_photo
from scenes.scenarios import SPOILED_KINDS, SpoiledKind, random_scene, spoil
from scenes.scene import Piece, Scene

SPOILED_EVERY = 5
"""Every fifth made photo is spoiled, the kinds taking turns."""

STRONG_GLARE = 0.05
"""Mirrored light, as a share of perfect white, from which glare counts as strong, as in the photos' truth."""


def made_cases(folder: Path, count: int, *, jobs: int) -> tuple[PhotoCase, ...]:
    """Make `count` photos by seed below an empty folder, in the layout of the given ones, and read them."""
    made: Sequence[Path] = in_turn(partial(make_case, folder), range(count), jobs=jobs, what="making scenes")
    return tuple(read_case(case) for case in made)


def make_case(folder: Path, seed: int) -> Path:
    """Make one case; the same for the same seed."""
    scene = random_scene(seed)
    piece = scene.piece
    if piece is None:
        raise ValueError(f"scene {seed} has no piece")
    kind = spoiling_of(seed)
    rendered = render(spoil(scene, kind) if kind else scene, seed)
    case = folder / ("spoiled" if kind else "clear") / f"scene_{seed:04d}"
    case.mkdir(parents=True)
    write_photo(case / "photo.jpg", rendered)
    cv2.imwrite(str(case / "artwork.png"), piece.artwork[..., ::-1])
    write_reference(case / "reference_appearance.png", rendered.truth)
    (case / "truth.json").write_text(json.dumps(described(scene, piece, rendered, kind), indent=1))
    return case


def spoiling_of(seed: int) -> SpoiledKind | None:
    """Say how the photo of this seed is spoiled, if at all."""
    return SPOILED_KINDS[seed // SPOILED_EVERY % len(SPOILED_KINDS)] if seed % SPOILED_EVERY == 0 else None


def write_reference(file: Path, truth: Truth) -> None:
    """Write the piece's true colours as sRGB with the outline as alpha; colours outside sRGB are clipped."""
    if truth.reference_lab is None or truth.inside is None:
        return
    alpha = np.where(truth.inside, 255, 0).astype(np.uint8)
    encoded = srgb_of_lab(truth.reference_lab)
    cv2.imwrite(str(file), np.dstack([encoded[..., ::-1], alpha]))


def srgb_of_lab(lab: NDArray[np.floating[Any]]) -> NDArray[np.uint8]:
    """CIELAB (D50, 2 degree) to 8-bit sRGB, 255 = perfect white diffuser (CIE 15:2018, IEC 61966-2-1)."""
    lightness, a, b = np.moveaxis(np.asarray(lab, dtype=np.float64), -1, 0)
    y = (lightness + 16) / 116
    roots = np.stack([y + a / 500, y, y - b / 200], axis=-1)
    relative = np.where(roots > 6 / 29, roots**3, (roots - 4 / 29) * 3 * (6 / 29) ** 2)
    to_srgb = np.linalg.inv(BRADFORD_D65_TO_D50 @ SRGB_TO_XYZ_D65)
    light = np.clip((relative * WHITE_D50) @ to_srgb.T, 0, 1)
    encoded = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    return np.asarray(np.rint(255 * encoded), dtype=np.uint8)


def described(scene: Scene, piece: Piece, rendered: RenderedPhoto, kind: str | None) -> dict[str, Any]:
    """Describe a made photo as the given ones are; the piece's frame is the artwork's, so the border is 0."""
    truth, border = rendered.truth, piece.border_mm
    glare = truth.glare_share
    strong = 0.0 if glare is None or truth.inside is None else np.mean(glare[truth.inside] > STRONG_GLARE)
    layout = scene.card.layout if scene.card else None
    return {
        "spoiled": kind or "",
        "dose": piece.pressing.dose,
        "state": piece.pressing.state,
        "piece": {
            "w_mm": piece.width_mm - 2 * border,
            "h_mm": piece.height_mm - 2 * border,
            "border_mm": 0.0,
            "shape": piece.shape,
            "material": "glass" if piece.glass else "matt",
        },
        "artwork": {"name": "made"},
        "target": {"mm": [layout.width, layout.height] if layout else None},
        "light_scenario": "made",
        "lights": [{"spd": scene.light.illuminant}],
        "table": scene.table,
        "glare_on_piece": {"share_above_5pct": float(strong)},
        "corners_display_px": {
            "card_corners": from_outer_corner(truth.card_corners),
            "piece_image_corners": from_outer_corner(truth.artwork_corners),
        },
    }


def from_outer_corner(corners: NDArray[np.float64] | None) -> list[list[float]] | None:
    """Count coordinates from the outer corner of the first pixel, as the photos' truth does."""
    return None if corners is None else [[float(x) + 0.5, float(y) + 0.5] for x, y in corners]
