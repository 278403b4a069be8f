"""Scenes made useless on purpose, one known fault each."""

from collections.abc import Callable
from dataclasses import replace
from typing import Literal, get_args

import numpy as np

from scenes.card_surface import card_pose
from scenes.piece_surface import piece_pose
from scenes.render import scene_viewpoint
from scenes.scene import Camera, Card, GlareBlob, Scene
from scenes.surfaces import Pose

SpoiledKind = Literal[
    "blurred",
    "overexposed",
    "underexposed",
    "card_cut",
    "piece_cut",
    "no_card",
    "no_piece",
    "glare_over_piece",
    "two_cards",
]
SPOILED_KINDS: tuple[SpoiledKind, ...] = get_args(SpoiledKind)

BLUR_SHARE = 0.006
"""Defocus standard deviation as a share of the long side: about 12 px of 2000."""

TOO_MUCH_LIGHT, TOO_LITTLE_LIGHT = 2.6, 0.02
"""Linear value of perfect white."""

CUT_SHARE = 0.35
"""Share of the card's or piece's extent in the photo that is pushed out of the frame."""


def spoil(scene: Scene, kind: SpoiledKind) -> Scene:
    """Return the scene with one fault. ValueError when the thing to spoil is missing or the kind unknown."""
    if kind not in _WAYS:
        raise ValueError(f"no way to spoil a scene is called {kind}")
    return _WAYS[kind](scene)


def _blurred(scene: Scene) -> Scene:
    long_side = max(scene.camera.width_px, scene.camera.height_px)
    return scene.changed(blur_px=BLUR_SHARE * long_side, sharpening=0.0)


def _underexposed(scene: Scene) -> Scene:
    return scene.changed(exposure=TOO_LITTLE_LIGHT, noise=max(scene.phone.noise, 3.0))


def _card(scene: Scene) -> Card:
    if scene.card is None:
        raise ValueError("the scene has no card to spoil")
    return scene.card


def _piece_pose(scene: Scene) -> Pose:
    if scene.piece is None:
        raise ValueError("the scene has no piece to spoil")
    return piece_pose(scene.piece)


def _fixed(scene: Scene) -> Camera:
    """The scene's camera with distance and aim as they were framed, so that it stays where it is."""
    viewpoint = scene_viewpoint(scene)
    x, y = viewpoint.centre_mm[:2].tolist()
    return replace(scene.camera, distance_mm=viewpoint.distance_mm, aim_x_mm=x, aim_y_mm=y)


def _cut(scene: Scene, pose: Pose) -> Camera:
    """Move the aim away from a thing until a part of its extent along the way lies outside the frame."""
    camera = _fixed(scene)
    aim = np.array([camera.aim_x_mm, camera.aim_y_mm], dtype=np.float64)
    away = aim - np.array([pose.x_mm, pose.y_mm])
    away /= max(float(np.linalg.norm(away)), 1e-9)
    for step_mm in np.arange(0.0, 400.0, 2.0):
        moved = aim + away * step_mm
        tried = replace(camera, aim_x_mm=float(moved[0]), aim_y_mm=float(moved[1]))
        if _share_outside(scene.changed(camera=tried), pose) >= CUT_SHARE:
            return tried
    return tried


def _share_outside(scene: Scene, pose: Pose) -> float:
    """Share of a rectangle's area that lies outside the frame, from a grid of its points."""
    share = (np.arange(20) + 0.5) / 20.0
    x, y = np.meshgrid(share * pose.width_mm, share * pose.height_mm)
    viewpoint = scene_viewpoint(scene)
    points = viewpoint.project(pose.to_table(np.stack([x.ravel(), y.ravel()], axis=1)))
    inside = ((points >= 0) & (points <= np.array(viewpoint.size_px) - 1)).all(axis=1)
    return float(1.0 - inside.mean())


def _glare(scene: Scene) -> Scene:
    """A window mirrored in most of the glass, bright enough to hide it."""
    pose = _piece_pose(scene)
    window = GlareBlob(
        x_mm=pose.width_mm * 0.5,
        y_mm=pose.height_mm * 0.45,
        half_width_mm=pose.width_mm * 0.48,
        half_height_mm=pose.height_mm * 0.40,
        rotation_deg=12.0,
        strength=0.9,
    )
    return scene.changed(glass=True, glare=(window,))


def _two_cards(scene: Scene) -> Scene:
    """A second card of the same design on the other side, which the framing takes in."""
    card = _card(scene)
    second = replace(
        card,
        card_x_mm=card.card_x_mm - card.layout.width - 15.0,
        card_y_mm=card.card_y_mm + 4.0,
        card_rotation_deg=card.card_rotation_deg + 7.0,
        hidden_corner="",
    )
    return scene.changed(extra_card=second)


_WAYS: dict[SpoiledKind, Callable[[Scene], Scene]] = {
    "blurred": _blurred,
    "overexposed": lambda scene: scene.changed(exposure=TOO_MUCH_LIGHT),
    "underexposed": _underexposed,
    "card_cut": lambda scene: scene.changed(camera=_cut(scene, card_pose(_card(scene)))),
    "piece_cut": lambda scene: scene.changed(camera=_cut(scene, _piece_pose(scene))),
    "no_card": lambda scene: scene.changed(card=None, camera=_fixed(scene)),
    "no_piece": lambda scene: scene.changed(piece=None, camera=_fixed(scene)),
    "glare_over_piece": _glare,
    "two_cards": _two_cards,
}
