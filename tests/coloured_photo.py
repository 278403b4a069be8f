"""Small colour photos of a reference card and a board of other colours beside it, with known truth.

Test support, not shipped. The photographed colours go through a known light fall-off, camera matrix, flare
and tone curve; nothing is blurred, so a pixel shows exactly one surface.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.card_layout import CardLayout
from dyecast_calibration.card_values import designed_values
from dyecast_shared.cielab import D50_WHITE, lab_to_xyz
from dyecast_shared.encodings import SRGB_TO_XYZ_D50, srgb_encode, srgb_encoding
from dyecast_shared.photo import Photo

Array = NDArray[np.float64]

HEIGHT, WIDTH = 750, 1000

BOARD_LAB = np.array(
    [
        [20, 4, -12],
        [32, 28, 14],
        [45, -22, 18],
        [55, 8, -30],
        [62, 30, 40],
        [75, -18, -8],
        [85, 3, 25],
        [12, 0, 2],
    ],
    dtype=np.float64,
)
"""Colours that are on no card: CIELAB, D50."""

BOARD_X_MM, BOARD_Y_MM, BOARD_CELL_MM = 165.0, 5.0, 22.0
"""Where the board lies on the card's own millimetres: beside its right edge, two columns of four."""


@dataclass(frozen=True)
class Shot:
    """How a photo is taken.

    `slope` is the light's change in log units per 100 mm along x and y, for R, G, B; `lens` its change from
    the middle of the photo to its corner; `gamma` and `shoulder` the tone curve; `crosstalk` mixes the
    channels; `clip` is the scene light at which the sensor is full.
    """

    exposure: float = 0.8
    slope: tuple[tuple[float, float], ...] = ((-0.25, 0.15), (-0.25, 0.15), (-0.25, 0.15))
    lens: float = -0.1
    gamma: float = 1.15
    shoulder: float = 0.25
    crosstalk: float = 0.12
    balance: tuple[float, float, float] = (1.1, 1.0, 0.85)
    flare: float = 0.006
    clip: float = np.inf
    noise: float = 0.004
    repainted: dict[str, tuple[float, float, float]] = field(default_factory=dict)
    half_covered: tuple[str, ...] = ()


def card_to_photo(layout: CardLayout) -> Array:
    """Card mm to photo pixels, (3, 3): a mild slant, the card in the left two thirds."""
    scale = 4.4 * 148.0 / max(layout.width, 148.0)
    return np.array([[scale, 0.25, 40.0], [-0.2, scale, 120.0], [1.5e-4, 2e-4, 1.0]])


def photograph(layout: CardLayout, shot: Shot | None = None) -> Photo:
    """Take the photo."""
    shot = shot or Shot()
    places = _places_mm(layout)
    xyz = _surfaces(layout, shot, places)
    camera = xyz @ _xyz_to_camera(shot.crosstalk).T * np.array(shot.balance)
    light = camera * true_gain(shot, places, _pixels())
    sensor = np.minimum(light + shot.flare, shot.clip) * shot.exposure
    encoded = srgb_encode(np.clip(_tone(sensor, shot), 0.0, 1.0))
    noise = shot.noise * np.random.default_rng(7).standard_normal(encoded.shape)
    codes = np.clip(np.rint(255.0 * (encoded + noise)), 0, 255).astype(np.uint8)
    return Photo("card.jpg", codes.reshape(HEIGHT, WIDTH, 3), srgb_encoding(), (HEIGHT, WIDTH), 1.0)


def true_gain(shot: Shot, places_mm: Array, pixels: Array) -> Array:
    """The light at places (N, 2) mm, seen at pixels (N, 2): (N, 3); 1 at the card's origin, lens aside."""
    middle = np.array([(WIDTH - 1) / 2, (HEIGHT - 1) / 2])
    corner = float(middle @ middle)
    lens = shot.lens * ((pixels - middle) ** 2).sum(axis=1, keepdims=True) / corner
    return np.asarray(np.exp(places_mm / 100.0 @ np.array(shot.slope).T + lens))


def board_places_mm() -> Array:
    """Middles of the board's fields, (8, 2), in card mm."""
    column, row = np.divmod(np.arange(len(BOARD_LAB)), 4)
    return np.column_stack(
        [BOARD_X_MM + (column + 0.5) * BOARD_CELL_MM, BOARD_Y_MM + (row + 0.5) * BOARD_CELL_MM]
    )


def through(homography: Array, points: Array) -> Array:
    """Points (N, 2) through a homography."""
    moved = np.column_stack([points, np.ones(len(points))]) @ homography.T
    return np.asarray(moved[:, :2] / moved[:, 2:])


def board_light(photo: Photo, layout: CardLayout) -> tuple[Array, Array]:
    """Mean linear light (8, 3) of the board's fields, and where their middles are in the photo (8, 2)."""
    middles = through(card_to_photo(layout), board_places_mm())
    light = []
    for x, y in np.rint(middles).astype(int):
        light.append(photo.linear(photo.pixels[y - 12 : y + 13, x - 12 : x + 13]).mean(axis=(0, 1)))
    return np.array(light, dtype=np.float64), middles


def _pixels() -> Array:
    rows, columns = np.mgrid[0:HEIGHT, 0:WIDTH].astype(np.float64)
    return np.stack([columns.ravel(), rows.ravel()], axis=1)


def _places_mm(layout: CardLayout) -> Array:
    return through(np.asarray(np.linalg.inv(card_to_photo(layout)), dtype=np.float64), _pixels())


def _surfaces(layout: CardLayout, shot: Shot, places: Array) -> Array:
    """XYZ, (N, 3), of whatever lies at the places."""
    lab = np.tile(np.array([[55.0, 3.0, 12.0]]), (len(places), 1))
    _paint(lab, places, (0.0, 0.0, layout.width, layout.height), (100.0, 0.0, 0.0))
    for marker in layout.markers:
        _paint(lab, places, (marker.x, marker.y, marker.size, marker.size), (8.0, 0.0, 0.0))
    colours = {**designed_values(layout).lab_d50, **shot.repainted}
    for patch in layout.patches:
        _paint(lab, places, (patch.x, patch.y, patch.width, patch.height), colours[patch.id])
        if patch.id in shot.half_covered:
            _paint(lab, places, (patch.x, patch.y, patch.width * 0.45, patch.height), (30.0, 10.0, 20.0))
    for colour, (x, y) in zip(BOARD_LAB, board_places_mm(), strict=True):
        half = BOARD_CELL_MM / 2
        _paint(lab, places, (x - half, y - half, 2 * half, 2 * half), tuple(colour))
    return np.asarray(lab_to_xyz(lab), dtype=np.float64)


def _paint(
    lab: Array, places: Array, box: tuple[float, float, float, float], colour: tuple[float, ...]
) -> None:
    x, y, width, height = box
    inside = (places[:, 0] >= x) & (places[:, 0] < x + width)
    inside &= (places[:, 1] >= y) & (places[:, 1] < y + height)
    lab[inside] = colour


def _xyz_to_camera(crosstalk: float) -> Array:
    """A camera whose channels are mixtures of sRGB's, white for white."""
    others = np.array([[0.3, 0.6, 0.1], [0.3, 0.4, 0.3], [0.1, 0.5, 0.4]])
    mixing = (1.0 - crosstalk) * np.eye(3) + crosstalk * others
    matrix = mixing @ np.linalg.inv(SRGB_TO_XYZ_D50)
    return np.asarray(matrix / (matrix @ D50_WHITE)[:, None])


def _tone(light: Array, shot: Shot) -> Array:
    """A power law with a shoulder: darker darks, compressed lights."""
    bent = np.maximum(light, 0.0) ** shot.gamma
    return np.asarray(bent * (1.0 + shot.shoulder) / (1.0 + shot.shoulder * bent))
