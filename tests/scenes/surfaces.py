"""A flat or bent thing on the table: a texture in linear camera RGB with a place, and how it is seen.

A texture is premultiplied: RGB times coverage, and coverage, (h, w, 4) float32. Texel (i, j) covers the
square from j / density to (j + 1) / density mm, so its centre lies at (j + 0.5) / density.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from scenes.viewpoint import Viewpoint

Array = NDArray[np.float64]
Picture = NDArray[np.float32]

SUPERSAMPLING = 2
"""Rays per pixel and axis inside the bounds of a surface; the texture has as many texels."""

OUTLINE_POINTS = 24
"""Points per side when the bounds of a surface in the photo are looked for."""


@dataclass(frozen=True, slots=True)
class Pose:
    """Where a thing lies: centre on the table (mm), turn (degrees), size (mm), height and bulge (mm).

    `round` says that the outline is the ellipse inside the rectangle.
    """

    x_mm: float
    y_mm: float
    rotation_deg: float
    width_mm: float
    height_mm: float
    above_table_mm: float = 0.0
    bend_mm: float = 0.0
    round: bool = False

    def bulge(self, x_mm: NDArray[np.floating]) -> NDArray[np.floating]:
        """Height of a sheet bent about its short axis at a place along its width: a parabola."""
        relative = 2.0 * x_mm / self.width_mm - 1.0
        return np.asarray(self.above_table_mm + self.bend_mm * (1.0 - relative * relative))

    def to_table(self, points_mm: NDArray[np.floating]) -> Array:
        """Table points (N, 3) of places (N, 2) on the surface, mm from its top-left corner."""
        points = np.asarray(points_mm, dtype=np.float64)
        turn = np.deg2rad(self.rotation_deg)
        across, down = points[:, 0] - self.width_mm / 2.0, points[:, 1] - self.height_mm / 2.0
        x = self.x_mm + np.cos(turn) * across - np.sin(turn) * down
        y = self.y_mm + np.sin(turn) * across + np.cos(turn) * down
        return np.stack([x, y, -np.asarray(self.bulge(points[:, 0]), dtype=np.float64)], axis=1)

    def from_table(self, x: Picture, y: Picture) -> tuple[Picture, Picture]:
        """Places on the surface, mm from its top-left corner, above or below table points."""
        turn = np.deg2rad(self.rotation_deg)
        cosine, sine = np.float32(np.cos(turn)), np.float32(np.sin(turn))
        across, down = x - np.float32(self.x_mm), y - np.float32(self.y_mm)
        return (
            cosine * across + sine * down + np.float32(self.width_mm / 2.0),
            cosine * down - sine * across + np.float32(self.height_mm / 2.0),
        )

    def corners(self) -> Array:
        """The four corners on the table, (4, 3): top-left, top-right, bottom-right, bottom-left."""
        w, h = self.width_mm, self.height_mm
        return self.to_table(np.array([[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]]))

    def outline(self) -> Array:
        """Points all along the edge, (4 n, 3)."""
        share = np.linspace(0.0, 1.0, OUTLINE_POINTS)
        zero, one = np.zeros_like(share), np.ones_like(share)
        x = np.concatenate([share, one, share[::-1], zero])
        y = np.concatenate([zero, share, one, share[::-1]])
        if self.round:
            angle = np.linspace(0.0, 2.0 * np.pi, 4 * OUTLINE_POINTS)
            x, y = 0.5 + 0.5 * np.cos(angle), 0.5 + 0.5 * np.sin(angle)
        return self.to_table(np.stack([x * self.width_mm, y * self.height_mm], axis=1))


@dataclass(frozen=True, slots=True, eq=False)
class Surface:
    """A thing to draw.

    `texture` (h, w, 4) premultiplied camera RGB of what the light on the table shows; `mirrored` (h, w) is
    light added on top, as a share of white, that does not depend on the light falling on the table.
    """

    pose: Pose
    texture: Picture
    mirrored: Picture | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Seen:
    """A surface as the camera sees it inside a window (rows, columns) of the photo."""

    rows: slice
    columns: slice
    texture: Picture
    mirrored: Picture | None


def locate(pose: Pose, rays: Picture, viewpoint: Viewpoint) -> tuple[Picture, Picture]:
    """Where rays (3, h, w) meet a surface, mm from its top-left corner; bends by fixed-point iteration."""
    camera_x, camera_y, camera_z = viewpoint.position.astype(np.float32)
    height: Picture = np.full((1, 1), pose.above_table_mm, dtype=np.float32)
    for _ in range(4 if pose.bend_mm else 1):
        length = (-height - camera_z) / rays[2]
        place = pose.from_table(camera_x + length * rays[0], camera_y + length * rays[1])
        height = pose.bulge(np.clip(place[0], 0.0, pose.width_mm)).astype(np.float32)
    return place


def table_places(viewpoint: Viewpoint) -> tuple[Picture, Picture]:
    """Table x and y, mm, (h, w) float32, under every pixel of the photo."""
    width, height = viewpoint.size_px
    x, y = np.meshgrid(np.arange(width, dtype=np.float32), np.arange(height, dtype=np.float32))
    rays = viewpoint.rays(x, y)
    length = np.float32(-viewpoint.position[2]) / rays[2]
    return (
        np.float32(viewpoint.position[0]) + length * rays[0],
        np.float32(viewpoint.position[1]) + length * rays[1],
    )


def _window(surface: Surface, viewpoint: Viewpoint) -> tuple[slice, slice]:
    points = viewpoint.project(surface.pose.outline())
    width, height = viewpoint.size_px
    low = np.clip(np.floor(points.min(axis=0)).astype(int) - 2, 0, [width, height])
    high = np.clip(np.ceil(points.max(axis=0)).astype(int) + 3, 0, [width, height])
    return slice(int(low[1]), int(high[1])), slice(int(low[0]), int(high[0]))


def _fine_grid(window: slice) -> Picture:
    count = (window.stop - window.start) * SUPERSAMPLING
    fine = (np.arange(count, dtype=np.float64) + 0.5) / SUPERSAMPLING - 0.5 + window.start
    return np.asarray(fine, dtype=np.float32)


def see(surface: Surface, viewpoint: Viewpoint) -> Seen | None:
    """Sample a surface through the camera, area-averaged to pixels; None when it is out of the frame."""
    rows, columns = _window(surface, viewpoint)
    if rows.stop <= rows.start or columns.stop <= columns.start:
        return None
    x, y = np.meshgrid(_fine_grid(columns), _fine_grid(rows))
    place_x, place_y = locate(surface.pose, viewpoint.rays(x, y), viewpoint)
    density = np.float32(surface.texture.shape[1] / surface.pose.width_mm)
    density_y = np.float32(surface.texture.shape[0] / surface.pose.height_mm)
    map_x, map_y = place_x * density - np.float32(0.5), place_y * density_y - np.float32(0.5)
    size = (columns.stop - columns.start, rows.stop - rows.start)
    mirrored = None if surface.mirrored is None else _sample(surface.mirrored, map_x, map_y, size)
    return Seen(rows, columns, _sample(surface.texture, map_x, map_y, size), mirrored)


def _sample(texture: Picture, map_x: Picture, map_y: Picture, size: tuple[int, int]) -> Picture:
    fine = cv2.remap(texture, map_x, map_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT, borderValue=0)
    return np.asarray(cv2.resize(fine, size, interpolation=cv2.INTER_AREA), dtype=np.float32)
