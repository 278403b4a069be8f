"""The body of a thick piece: the side faces between its foot on the table and its top face."""

import cv2
import numpy as np
from numpy.typing import NDArray

from scenes.observers import sensing_weights
from scenes.scene import Scene
from scenes.spectra import WAVELENGTHS_NM, gaussian_sum
from scenes.surfaces import Picture, Pose
from scenes.viewpoint import Viewpoint

OPACITY = {True: 0.7, False: 1.0}
"""How much a side face hides of the table, for glass and for other pieces."""

LIGHT_FROM_DEG = 225.0
"""Direction the side faces are lit from, upper left; drawn by eye."""

SUBPIXEL_BITS = 4
WALL_SHADES = (0.45, 1.15)
"""Light on the side face turned away from the light and on the one towards it."""


def _edge_colour(glass: bool, sensor: str, illuminant: str) -> NDArray[np.float32]:
    """Balanced camera RGB of a side face: green for glass, light grey otherwise."""
    glass_edge = 0.22 + gaussian_sum((530, 45, 0.18))
    reflectance = glass_edge if glass else np.full_like(WAVELENGTHS_NM, 0.55)
    return (reflectance @ sensing_weights(sensor, illuminant)).astype(np.float32)


def draw_slab(picture: Picture, scene: Scene, pose: Pose, viewpoint: Viewpoint) -> None:
    """Draw the side faces of the scene's piece into linear camera RGB, in place; thin pieces have none."""
    piece = scene.piece
    if piece is None or piece.thickness_mm <= 0.0:
        return
    foot = pose.outline() * [1.0, 1.0, 0.0]
    top = foot - [0.0, 0.0, piece.thickness_mm]
    below, above = viewpoint.project(foot), viewpoint.project(top)
    hull = cv2.convexHull(_fixed_point(np.concatenate([below, above])))
    covered = np.zeros(picture.shape[:2], dtype=np.uint8)
    cv2.fillConvexPoly(covered, hull, 255, lineType=cv2.LINE_AA, shift=SUBPIXEL_BITS)
    x, y, width, height = cv2.boundingRect((covered > 0).astype(np.uint8))
    window = (slice(y, y + height), slice(x, x + width))
    share = covered[window].astype(np.float32)[..., None] * np.float32(OPACITY[piece.glass] / 255.0)
    colour = _edge_colour(piece.glass, scene.phone.sensor, scene.light.illuminant)
    shade = _shades(below, above, picture.shape[:2])[window][..., None]
    picture[window] += share * (shade * colour - picture[window])


def _shades(below: NDArray[np.float64], above: NDArray[np.float64], size: tuple[int, int]) -> Picture:
    """Light on the side faces, (h, w): each wall by the way it faces in the photo, softened at the edges."""
    shades = np.full(size, sum(WALL_SHADES) / 2.0, dtype=np.float32)
    along = np.roll(below, -1, axis=0) - below
    facing = np.arctan2(-along[:, 0], along[:, 1]) - np.deg2rad(LIGHT_FROM_DEG)
    low, high = WALL_SHADES
    light = low + (high - low) * (0.5 + 0.5 * np.cos(facing))
    for index, value in enumerate(light.tolist()):
        following = (index + 1) % len(below)
        wall = np.stack([below[index], below[following], above[following], above[index]])
        cv2.fillConvexPoly(shades, _fixed_point(wall), value, shift=SUBPIXEL_BITS)
    return np.asarray(cv2.blur(shades, (3, 3)), dtype=np.float32)


def _fixed_point(points: NDArray[np.float64]) -> NDArray[np.int32]:
    return np.asarray(np.round(points * 2**SUBPIXEL_BITS), dtype=np.int32)
