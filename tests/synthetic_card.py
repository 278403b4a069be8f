"""Small grey photos of the reference card with known truth: test support, not shipped.

A card is drawn flat, carried into a picture of three times the size, and averaged down in linear light, so
that its edges lie where the homography puts them to a few thousandths of a pixel.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.card_layout import CardLayout, Marker
from dyecast_shared.encodings import srgb_encoding, srgb_table
from dyecast_shared.photo import Photo

Array = NDArray[np.float64]
Picture = NDArray[np.float32]

DRAWN_PX_PER_MM = 10
"""Every edge of the cards lies on a tenth of a mm, so it lies between two pixels of the drawing."""

OVERSIZE = 3
SIZE = (750, 1000)
TABLE = 0.2


@dataclass(frozen=True, slots=True)
class Pose:
    """Where a card lies: its middle (px), scale (px/mm), turn clockwise (degrees), and how it is slanted."""

    x: float = 499.5
    y: float = 374.5
    scale: float = 4.0
    turn: float = 0.0
    slant: tuple[float, float] = (0.0008, -0.0005)

    def homography(self, layout: CardLayout) -> Array:
        """Card mm to photo pixels, (3, 3)."""
        angle = np.radians(self.turn)
        turned = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]]) * self.scale
        place = np.array([[1, 0, self.x], [0, 1, self.y], [0, 0, 1.0]])
        slanted = np.eye(3)
        slanted[:2, :2] = turned
        slanted[2, :2] = self.slant
        centred = np.array([[1, 0, -layout.width / 2], [0, 1, -layout.height / 2], [0, 0, 1.0]])
        return np.asarray(place @ slanted @ centred)


def outline_mm(layout: CardLayout) -> Array:
    """Corners of the card, (4, 2)."""
    width, height = layout.width, layout.height
    return np.array([[0, 0], [width, 0], [width, height], [0, height]], dtype=np.float64)


def carried(homography: Array, points: Array) -> Array:
    """Points (N, 2) through a homography."""
    moved = np.column_stack([points, np.ones(len(points))]) @ homography.T
    return np.asarray(moved[:, :2] / moved[:, 2:])


def drawn_card(layout: CardLayout, hidden: tuple[int, ...] = ()) -> Picture:
    """The card in linear grey, ten pixels a mm; hidden markers lie under a grey disc."""
    drawn = np.full((round(layout.height * 10), round(layout.width * 10)), 0.85, dtype=np.float32)
    for patch in layout.patches:
        level = float(np.mean([(value / 255) ** 2.2 for value in patch.srgb])) * 0.85
        _fill(drawn, (patch.x, patch.y, patch.width, patch.height), level)
    for marker in layout.markers:
        _draw_marker(drawn, layout.marker_dictionary, marker)
        if marker.id in hidden:
            middle = (round((marker.x + marker.size / 2) * 10), round((marker.y + marker.size / 2) * 10))
            cv2.circle(drawn, middle, round(marker.size * 8), 0.3, -1)
    return drawn


def _fill(drawn: Picture, box: tuple[float, float, float, float], level: float) -> None:
    x, y, width, height = box
    left, top, right, bottom = (round(mm * DRAWN_PX_PER_MM) for mm in (x, y, x + width, y + height))
    drawn[top:bottom, left:right] = level


def _draw_marker(drawn: Picture, dictionary: str, marker: Marker) -> None:
    predefined = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, dictionary))
    side = round(marker.size * DRAWN_PX_PER_MM)
    picture = cv2.aruco.generateImageMarker(predefined, marker.id, side)
    top, left = round(marker.y * DRAWN_PX_PER_MM), round(marker.x * DRAWN_PX_PER_MM)
    drawn[top : top + side, left : left + side] = 0.03 + 0.82 * (np.asarray(picture) > 127)


def empty_table() -> Picture:
    """An oversize picture of nothing."""
    return np.full((SIZE[0] * OVERSIZE, SIZE[1] * OVERSIZE), TABLE, dtype=np.float32)


def lay(table: Picture, drawn: Picture, homography: Array) -> Picture:
    """Lay a flat drawn card on an oversize picture; the homography takes card mm to photo pixels."""
    drawn_to_card = np.array([[0.1, 0, 0.05], [0, 0.1, 0.05], [0, 0, 1]])
    grow = np.array([[OVERSIZE, 0, (OVERSIZE - 1) / 2], [0, OVERSIZE, (OVERSIZE - 1) / 2], [0, 0, 1.0]])
    laid = cv2.warpPerspective(
        drawn, grow @ homography @ drawn_to_card, table.shape[::-1], flags=cv2.INTER_LINEAR, borderValue=-1.0
    )
    return np.where(np.asarray(laid) < 0, table, laid).astype(np.float32)


def lay_through_lens(table: Picture, drawn: Picture, homography: Array, radial: float) -> Picture:
    """Lay a flat card seen through a lens ``p = c + (q - c)(1 + k r²)``, r in half diagonals."""
    centre, half_diagonal = np.array([(SIZE[1] - 1) / 2, (SIZE[0] - 1) / 2]), np.hypot(*SIZE) / 2
    points = _photo_points()
    straight = points
    for _ in range(4):
        square = (((straight - centre) / half_diagonal) ** 2).sum(axis=1, keepdims=True)
        straight = centre + (points - centre) / (1 + radial * square)
    return _lay_at(table, drawn, carried(np.linalg.inv(homography).astype(np.float64), straight))


def lay_curled(table: Picture, drawn: Picture, view: "View", curl_mm: float) -> Picture:
    """Lay a card that rises by `curl_mm` from its middle line to its short sides, as a parabola."""
    back = np.linalg.inv(view.homography)
    points = _photo_points()
    rays = np.column_stack([points, np.ones(len(points))]) @ back.T
    upwards = back @ view.upwards
    flat = rays / rays[:, 2:]
    card = flat
    for _ in range(6):
        heights = curl_mm * (card[:, :1] * 2 * DRAWN_PX_PER_MM / drawn.shape[1] - 1) ** 2
        card = flat * (1 + heights * upwards[2]) - heights * upwards
    return _lay_at(table, drawn, card[:, :2])


def _photo_points() -> Array:
    """Coordinates of every photo pixel, (N, 2)."""
    rows, columns = np.mgrid[0 : SIZE[0], 0 : SIZE[1]].astype(np.float64)
    return np.stack([columns.ravel(), rows.ravel()], axis=1)


def _lay_at(table: Picture, drawn: Picture, card_mm: Array) -> Picture:
    """Lay a drawn card whose place (N, 2), mm, is known at every photo pixel."""
    coarse = (card_mm * DRAWN_PX_PER_MM - 0.5).astype(np.float32).reshape(*SIZE, 2)
    maps = np.asarray(cv2.resize(coarse, table.shape[::-1], interpolation=cv2.INTER_LINEAR))
    laid = cv2.remap(
        drawn, maps[..., 0], maps[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT, borderValue=-1.0
    )
    return np.where(np.asarray(laid) < 0, table, laid).astype(np.float32)


@dataclass(frozen=True, slots=True, eq=False)
class View:
    """A pinhole camera on a card: card mm to pixels (3, 3), and what 1 mm of height adds to that, (3,)."""

    homography: Array
    upwards: Array


def tilted_view(
    layout: CardLayout, tilt: float, turn: float, scale: float = 4.0, focal: float = 900.0
) -> View:
    """Look at the card's middle, tilted by so many degrees, from where 1 mm is `scale` pixels."""
    height, width = SIZE
    camera = np.array([[focal, 0, (width - 1) / 2], [0, focal, (height - 1) / 2], [0, 0, 1.0]])
    lean, spin = np.radians(tilt), np.radians(turn)
    leaned = np.array([[1, 0, 0], [0, np.cos(lean), -np.sin(lean)], [0, np.sin(lean), np.cos(lean)]])
    spun = np.array([[np.cos(spin), -np.sin(spin), 0], [np.sin(spin), np.cos(spin), 0], [0, 0, 1.0]])
    rotation = leaned @ spun
    middle = rotation @ np.array([layout.width / 2, layout.height / 2, 0])
    columns = camera @ np.column_stack([rotation, np.array([0, 0, focal / scale]) - middle])
    columns = columns / columns[2, 3]
    return View(columns[:, [0, 1, 3]], -columns[:, 2])


def photo_of(
    table: Picture, blur: float = 0.7, noise: float = 1.0, quality: int = 90, scale: float = 1.0
) -> Photo:
    """Photograph an oversize picture: blur (px), sRGB, noise (levels), JPEG."""
    blurred = cv2.GaussianBlur(table, (0, 0), max(blur, 0.05) * OVERSIZE)
    small = np.asarray(cv2.resize(blurred, SIZE[::-1], interpolation=cv2.INTER_AREA))
    levels = np.searchsorted(srgb_table(8), small).astype(np.float64)
    levels += np.random.default_rng(7).normal(0, noise, levels.shape)
    grey = np.clip(np.round(levels), 0, 255).astype(np.uint8)
    _, packed = cv2.imencode(".jpg", grey, [cv2.IMWRITE_JPEG_QUALITY, quality])
    pixels = np.repeat(np.asarray(cv2.imdecode(packed, cv2.IMREAD_GRAYSCALE))[..., None], 3, axis=2)
    return photo_from(pixels.astype(np.uint8), scale)


def photo_from(pixels: NDArray[np.uint8] | NDArray[np.uint16], scale: float = 1.0) -> Photo:
    """Wrap code values (H, W, 3) as a photo whose full resolution is `scale` times larger."""
    encoding = srgb_encoding(bits=8 * pixels.dtype.itemsize)
    full = (round(pixels.shape[0] * scale), round(pixels.shape[1] * scale))
    return Photo("card.jpg", pixels, encoding, full, scale)
