"""Small photos of a print beside a card's place, with known truth: test support, not shipped.

Only what finding and registering look at is there: a patterned table, the print as it was carried through
a similarity in the card's plane, light, glare and noise. The card itself is left white.
"""

from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.card_layout import layout_named
from dyecast_inspect.card_sighting import CardSighting
from dyecast_inspect.read_artwork import Artwork
from dyecast_inspect.register_piece import Registration
from dyecast_shared.encodings import srgb_decode, srgb_encode, srgb_encoding
from dyecast_shared.geometry import apply_homography
from dyecast_shared.photo import Photo
from scenes.artworks import artwork

Array = NDArray[np.float64]
Picture = NDArray[np.float32]

LAYOUT = layout_named("a6")
CARD_TO_PHOTO = np.array([[4.0, 0.2, 40.0], [-0.15, 4.0, 60.0], [1e-4, -1.5e-4, 1.0]])
"""Card mm to photo pixels: a mild slant, the card at the top left, room for a piece to its right."""

WIDTH, HEIGHT = 1200, 800
OVERSIZE = 2
PIECE_MM = 90.0
"""Long side of the print."""

UNIT = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])


@dataclass(frozen=True, slots=True)
class Laid:
    """How the print lies: turn in degrees, centre in card mm, and what happened to it.

    `ink` is the share of the ink that arrived, `stripes` the glare tubes over it, each its place across the
    print (0..1) and its strength as a share of white, `hidden` the share of its height that white covers.
    """

    drawing: str = "tiles"
    turn: float = 0.0
    x_mm: float = 218.0
    y_mm: float = 75.0
    mirrored: bool = False
    ink: float = 1.0
    stripes: tuple[tuple[float, float], ...] = ()
    hidden: float = 0.0
    artwork_px: tuple[int, int] = field(default=(480, 480))


@dataclass(frozen=True, slots=True, eq=False)
class LaidPiece:
    """The photo, the card as it would be found, the artwork, and where its unit square truly lies."""

    photo: Photo
    card: CardSighting
    artwork: Artwork
    unit_to_photo: Array

    def error_mm(self, registration: Registration) -> float:
        """Return how far the worst corner of the print is off, mm in the card's plane."""
        to_card = np.linalg.inv(self.card.card_to_photo)
        found, true = (
            apply_homography(to_card, apply_homography(homography, UNIT))
            for homography in (registration.artwork_to_photo, self.unit_to_photo)
        )
        return float(np.linalg.norm(found - true, axis=1).max())


def artwork_of(drawing: str, size_px: tuple[int, int] = (480, 480)) -> Artwork:
    """Return a drawing of the scene maker as a read artwork, (height, width) pixels."""
    codes = artwork(drawing, 3, size_px[1], size_px[0])
    light = np.asarray(srgb_decode(codes / 255.0))
    xyz = (light @ srgb_encoding().to_xyz_d50.T).astype(np.float32)
    return Artwork("made.png", xyz, xyz, np.ones(size_px, bool), size_px)


def lay(how: Laid) -> LaidPiece:
    """Photograph a print laid beside the card."""
    unit_to_photo = CARD_TO_PHOTO @ _unit_to_card(how)
    light = _on_table(_print(how), unit_to_photo) if how.drawing else _table()
    levels = 255.0 * np.asarray(srgb_encode(np.clip(light, 0.0, 1.0)))
    levels += np.random.default_rng(5).normal(0.0, 1.5, levels.shape)
    pixels = np.clip(np.rint(levels), 0, 255).astype(np.uint8)
    photo = Photo("laid.jpg", pixels, srgb_encoding(), (HEIGHT, WIDTH), 1.0)
    return LaidPiece(photo, sighting(), artwork_of(how.drawing or "tiles", how.artwork_px), unit_to_photo)


def sighting() -> CardSighting:
    """Return the card as found without any error."""
    outline = np.array([[0, 0], [LAYOUT.width, 0], [LAYOUT.width, LAYOUT.height], [0, LAYOUT.height]])
    corners = apply_homography(CARD_TO_PHOTO, outline)
    return CardSighting(LAYOUT, CARD_TO_PHOTO, corners, (), 0.0, 0.0, 0.0, 4.0, 0.7)


def _unit_to_card(how: Laid) -> Array:
    """The artwork's unit square to card mm, (3, 3)."""
    height, width = how.artwork_px
    scale = PIECE_MM / max(height, width)
    across = -width * scale if how.mirrored else width * scale
    angle = np.radians(how.turn)
    turned = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    to_card = np.eye(3)
    to_card[:2, :2] = turned @ np.diag([across, height * scale])
    to_card[:2, 2] = np.array([how.x_mm, how.y_mm]) - to_card[:2, :2] @ [0.5, 0.5]
    return to_card


def _print(how: Laid) -> Picture:
    """Linear light of the print in the artwork's frame, (h, w, 3)."""
    height, width = how.artwork_px
    light = np.asarray(srgb_decode(artwork(how.drawing, 3, width, height) / 255.0)).astype(np.float32)
    light = light**how.ink
    down, across = np.mgrid[0:height, 0:width].astype(np.float32)
    for place, strength in how.stripes:
        off = (across + 0.4 * down) / width - place
        light += np.float32(strength) * np.exp(-((off / 0.04) ** 4))[..., np.newaxis]
    light[height - round(height * how.hidden) :] = 1.0
    return light


def _on_table(light: Picture, unit_to_photo: Array) -> Picture:
    """Lay the print on the table, averaged over pixels."""
    height, width = light.shape[:2]
    to_unit = np.array([[1 / width, 0, 0.5 / width], [0, 1 / height, 0.5 / height], [0, 0, 1]])
    shift = (OVERSIZE - 1) / 2
    larger = np.array([[OVERSIZE, 0, shift], [0, OVERSIZE, shift], [0, 0, 1]])
    size = (WIDTH * OVERSIZE, HEIGHT * OVERSIZE)
    large = cv2.resize(_table(), size)
    cv2.warpPerspective(
        light, larger @ unit_to_photo @ to_unit, size, dst=large, borderMode=cv2.BORDER_TRANSPARENT
    )
    return np.asarray(cv2.resize(large, (WIDTH, HEIGHT), interpolation=cv2.INTER_AREA), np.float32)


def _table() -> Picture:
    """A table of grained wood, and the card's white on it, linear light (H, W, 3)."""
    noise = np.random.default_rng(2).normal(0.0, 1.0, (HEIGHT, WIDTH)).astype(np.float32)
    grain = cv2.GaussianBlur(noise, (0, 0), sigmaX=12, sigmaY=1.2)
    table = (0.25 + 0.25 * grain)[..., np.newaxis] * np.array([1.0, 0.75, 0.5], np.float32)
    corners = np.round(sighting().corners_px).astype(np.int32)
    cv2.fillConvexPoly(table, corners, (0.8, 0.8, 0.8))
    return np.ascontiguousarray(table)
