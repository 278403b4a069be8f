"""The camera's geometry: table millimetres to photo pixels and back along rays.

Camera axes: x right, y down, z forward. Table axes: x right, y down, z into the table, so a height h above
the table is z = -h. Pixel centres lie at whole numbers. Pinhole model with one radial term (Brown 1966).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scenes.scene import Camera

Array = NDArray[np.float64]

FULL_FRAME_LONG_SIDE_MM = 36.0
FIRST_DISTANCE_MM = 500.0
FRAMING_STEPS = 25

UNDISTORTION_STEPS = 3
"""Each step shrinks the error by 2 k1 r^2, a factor of 30 or more for |k1| <= 0.03."""


@dataclass(frozen=True, slots=True, eq=False)
class Viewpoint:
    """A camera in place.

    `position` and the aimed point `centre_mm` are (3,) mm on the table; `axes` (3, 3) has the rows right,
    down, forward; the focal length is in pixels.
    """

    position: Array
    centre_mm: Array
    axes: Array
    focal_px: float
    centre_px: tuple[float, float]
    radial_distortion: float
    size_px: tuple[int, int]
    distance_mm: float

    def project(self, points_mm: Array) -> Array:
        """Photo pixels (N, 2) of table points (N, 3)."""
        seen = (points_mm - self.position) @ self.axes.T
        plane = seen[:, :2] / seen[:, 2:]
        square = (plane**2).sum(axis=1, keepdims=True)
        bent: Array = plane * (1.0 + self.radial_distortion * square)
        return np.asarray(self.focal_px * bent + np.array(self.centre_px))

    def rays(self, x_px: NDArray[np.float32], y_px: NDArray[np.float32]) -> NDArray[np.float32]:
        """Directions in table axes, (3, h, w) float32, of the rays through pixels given as (h, w) grids."""
        across = (x_px - np.float32(self.centre_px[0])) / np.float32(self.focal_px)
        down = (y_px - np.float32(self.centre_px[1])) / np.float32(self.focal_px)
        shrink = self._undistortion(across * across + down * down)
        across, down = across * shrink, down * shrink
        axes = self.axes.astype(np.float32)
        return np.stack([across * axes[0, k] + down * axes[1, k] + axes[2, k] for k in range(3)])

    def _undistortion(self, square: NDArray[np.float32]) -> NDArray[np.float32]:
        """Factor from distorted to undistorted radius, by fixed-point iteration; (r_distorted)^2 given."""
        k1 = np.float32(self.radial_distortion)
        factor = np.ones_like(square)
        for _ in range(UNDISTORTION_STEPS if k1 else 0):
            factor = 1.0 / (1.0 + k1 * square * factor * factor)
        return factor

    def pixels_per_mm(self, x_mm: float, y_mm: float) -> float:
        """Photo pixels per millimetre around a table point: root of the area scale."""
        there = self.project(np.array([[x_mm, y_mm, 0.0], [x_mm + 1.0, y_mm, 0.0], [x_mm, y_mm + 1.0, 0.0]]))
        (a, b), (c, d) = there[1] - there[0], there[2] - there[0]
        return float(np.sqrt(abs(a * d - b * c)))


def _axes(camera: Camera) -> Array:
    tilt, lean, roll = np.deg2rad([camera.tilt_deg, camera.tilt_direction_deg, camera.roll_deg])
    forward = np.array([-np.sin(tilt) * np.cos(lean), -np.sin(tilt) * np.sin(lean), np.cos(tilt)])
    right = np.array([1.0, 0.0, 0.0]) - forward[0] * forward
    right /= np.linalg.norm(right)
    down = np.cross(forward, right)
    turned = np.cos(roll) * right - np.sin(roll) * down
    return np.stack([turned, np.cross(forward, turned), forward])


def _place(camera: Camera, aim: Array, distance: float) -> Viewpoint:
    axes = _axes(camera)
    long_side = max(camera.width_px, camera.height_px)
    return Viewpoint(
        position=aim - distance * axes[2],
        centre_mm=aim,
        axes=axes,
        focal_px=camera.focal_length_35mm / FULL_FRAME_LONG_SIDE_MM * long_side,
        centre_px=((camera.width_px - 1) / 2.0, (camera.height_px - 1) / 2.0),
        radial_distortion=camera.radial_distortion,
        size_px=(camera.width_px, camera.height_px),
        distance_mm=distance,
    )


def viewpoint_for(camera: Camera, points_mm: Array) -> Viewpoint:
    """Place the camera; with no distance given, as near as all points (N, 3) fit with the margin."""
    middle = (points_mm.min(axis=0) + points_mm.max(axis=0)) / 2.0
    aim = np.array(
        [
            middle[0] if camera.aim_x_mm is None else camera.aim_x_mm,
            middle[1] if camera.aim_y_mm is None else camera.aim_y_mm,
            0.0,
        ]
    )
    if camera.distance_mm is not None:
        return _place(camera, aim, camera.distance_mm)
    distance = FIRST_DISTANCE_MM
    room = np.array([camera.width_px, camera.height_px]) * (0.5 - camera.margin)
    for _ in range(FRAMING_STEPS):
        there = _place(camera, aim, distance)
        offset = np.abs(there.project(points_mm) - np.array(there.centre_px))
        distance *= float((offset / room).max())
    return _place(camera, aim, distance)
