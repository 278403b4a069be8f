"""Peeks drawn by seed: a realistic scene whose piece still has its paper on, one corner lifted."""

import math
from typing import Any

import numpy as np

from scenes.pressing import pressing_at
from scenes.scenarios import random_scene
from scenes.scene import Peek, Piece, Scene

SHARES = (0.10, 0.60)
"""Range of the share of the artwork that shows."""

OFF_THE_DIAGONAL_DEG = 25.0
"""The fold's direction departs from the piece's diagonal by no more than this."""


def peeked_scene(seed: int, dose: float, visible_share: float | None = None, **overrides: Any) -> Scene:
    """Draw a peek; the same for the same seed. `overrides` as for `random_scene`.

    A coated glass lies with its coated side up under its paper, so its picture is seen mirrored.
    """
    scene = random_scene(seed, **overrides)
    piece = scene.piece
    if piece is None:
        raise ValueError("a peek needs a piece")
    random = np.random.default_rng((seed, 17))
    share = float(random.uniform(*SHARES)) if visible_share is None else visible_share
    uneven = piece.pressing.unevenness
    return scene.changed(
        pressing=pressing_at(dose, seed, uneven),
        mirrored=piece.glass if "mirrored" not in overrides else piece.mirrored,
        peek=random_peek(random, piece, share, dose, seed),
    )


def random_peek(random: np.random.Generator, piece: Piece, share: float, dose: float, seed: int) -> Peek:
    """Draw paper, fold and light; ink that did not arrive stays in the paper."""
    corner = int(random.integers(4))
    across, down = ((1, 1), (-1, 1), (-1, -1), (1, -1))[corner]
    diagonal = math.degrees(math.atan2(down * piece.height_mm, across * piece.width_mm))
    return Peek(
        visible_share=share,
        fold_direction_deg=diagonal + float(random.uniform(-1.0, 1.0)) * OFF_THE_DIAGONAL_DEG,
        overhang_mm=float(random.uniform(2.0, 10.0)),
        browned=float(random.uniform(0.0, 0.5)),
        ghost=float(random.uniform(0.08, 0.22)) + 0.4 * max(1.0 - dose, 0.0),
        show_through=float(random.uniform(0.0, 0.04)),
        shadow_depth=float(random.uniform(0.05, 0.3)),
        shadow_reach_mm=float(random.uniform(3.0, 10.0)),
        bounce=float(random.uniform(0.01, 0.07)),
        tapes=int(random.integers(0, 4)),
        finger_mm=float(random.choice([0.0, random.uniform(12.0, 18.0)])),
        seed=seed,
    )
