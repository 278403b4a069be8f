"""How much light falls where: slopes, falloff, a shadow edge, and the shadows things throw beside them."""

import cv2
import numpy as np
from numpy.typing import NDArray

from scenes.scene import Camera, Light
from scenes.surfaces import Picture, Pose
from scenes.viewpoint import Viewpoint

REACH_MM = 150.0
"""Distance from the middle at which `gradient` and `falloff` are stated."""

SHADOW_SOFTNESS_MM = 2.5
SHADOW_OFFSET_MM = (1.2, 1.6)
SHADOW_SHRINK = 4
"""Contact shadows are drawn at a quarter of the size: they hold no detail."""


def illuminance(light: Light, x: Picture, y: Picture, middle_mm: tuple[float, float]) -> Picture:
    """Relative illuminance at table places, (h, w), 1 at the middle without shadow."""
    across, down = (x - np.float32(middle_mm[0])) / REACH_MM, (y - np.float32(middle_mm[1])) / REACH_MM
    angle = np.deg2rad(light.gradient_direction_deg)
    slope = np.float32(np.cos(angle)) * across + np.float32(np.sin(angle)) * down
    field = np.maximum(1.0 + np.float32(light.gradient) * slope, 0.05)
    field /= 1.0 + np.float32(light.falloff / max(1.0 - light.falloff, 0.1)) * (across**2 + down**2)
    if light.shadow_depth:
        field = field * _shadow_edge(light, x, y)
    return np.asarray(field, dtype=np.float32)


def _shadow_edge(light: Light, x: Picture, y: Picture) -> Picture:
    angle = np.deg2rad(light.shadow_direction_deg)
    beyond = np.cos(angle) * (x - light.shadow_x_mm) + np.sin(angle) * (y - light.shadow_y_mm)
    share = 0.5 + 0.5 * np.tanh(beyond / max(light.shadow_softness_mm, 0.1))
    return np.asarray(1.0 - light.shadow_depth * share, dtype=np.float32)


def vignetting(camera: Camera) -> NDArray[np.float32]:
    """Light the lens keeps, (h, w): 1 in the middle, 1 - `vignetting` in the corners, falling as r^2."""
    x = np.linspace(-1.0, 1.0, camera.width_px, dtype=np.float32)
    y = np.linspace(-1.0, 1.0, camera.height_px, dtype=np.float32)
    return np.asarray(1.0 - np.float32(camera.vignetting / 2.0) * (x[None, :] ** 2 + y[:, None] ** 2))


def contact_shadows(poses: list[Pose], depth: float, viewpoint: Viewpoint) -> Picture:
    """Factor on the table's light, (h, w), darker close to the outlines of what lies on it."""
    width, height = viewpoint.size_px
    mask = np.zeros((-(-height // SHADOW_SHRINK), -(-width // SHADOW_SHRINK)), dtype=np.float32)
    softness = SHADOW_SOFTNESS_MM
    for pose in poses:
        outline = pose.outline() * [1.0, 1.0, 0.0] + [*SHADOW_OFFSET_MM, 0.0]
        corners = (viewpoint.project(outline) / SHADOW_SHRINK * 16).round().astype(np.int32)
        cv2.fillPoly(mask, [corners], 1.0, lineType=cv2.LINE_AA, shift=4)
        softness = SHADOW_SOFTNESS_MM * viewpoint.pixels_per_mm(pose.x_mm, pose.y_mm) / SHADOW_SHRINK
    soft = cv2.GaussianBlur(mask, (0, 0), max(softness, 0.5))
    full = cv2.resize(soft, (width, height), interpolation=cv2.INTER_LINEAR)
    return np.asarray(1.0 - depth * full, dtype=np.float32)


def table_sheen(light: Light, x: Picture, y: Picture, middle_mm: tuple[float, float]) -> Picture:
    """A broad mirrored highlight on the table, up and left of the middle, share of white, (h, w)."""
    square = ((x - middle_mm[0] + 90.0) / 120.0) ** 2 + ((y - middle_mm[1] + 110.0) / 90.0) ** 2
    return np.asarray(light.table_sheen * np.exp(-0.5 * np.minimum(square, 60.0)), dtype=np.float32)
