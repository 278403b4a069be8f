"""The pressed piece in spectra: dye in a coating, seen through glass that also mirrors the room."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from scenes.card_surface import coverage
from scenes.colorimetry import xyz_to_lab
from scenes.dyes import reflectance, separate_artwork
from scenes.faults import with_faults
from scenes.observers import sensing_weights, viewing_weights
from scenes.pressing import press, scorched_ink
from scenes.scene import GlareBlob, Piece
from scenes.spectra import (
    DyeSpectra,
    glass_transmittance,
    sublimation_dyes,
    transmittance,
    yellowing_density,
)
from scenes.surfaces import Picture, Pose, Surface

ROWS_AT_A_TIME = 64
"""Rows of the artwork whose 31 bands are held in memory at once."""

MOST_ARTWORK_PIXELS = 640
"""Long side beyond which an artwork is shrunk before it is printed; the photo shows hardly more."""

SHARP_SHAPES = ("square", "rectangle")
"""Outlines that are the whole texture."""

RIM_MM = 0.7
RIM_LIGHT = 0.88
"""The outermost edge of a piece: a narrow darker line where the rim turns away."""


@dataclass(frozen=True, slots=True, eq=False)
class PressedPiece:
    """A piece as rendered and as it truly looks.

    `surface` is what the camera sees. The rest lies in the artwork's frame, (h, w), the
    artwork's size or 640 on the long side if that is smaller: `lab` CIELAB (D50, 2
    degree) through the glass without mirrored light, `glare_share` mirrored light as a share of white,
    `inside` where the outline leaves the artwork visible. `bare_lab` is the unprinted coating.
    """

    surface: Surface
    lab: Picture
    glare_share: Picture
    inside: NDArray[np.bool_]
    bare_lab: tuple[float, float, float]


def piece_pose(piece: Piece) -> Pose:
    """Where the whole piece lies."""
    return Pose(
        piece.x_mm,
        piece.y_mm,
        piece.rotation_deg,
        piece.width_mm,
        piece.height_mm,
        above_table_mm=piece.layer_height_mm,
        round=piece.shape == "round",
    )


def artwork_corners(piece: Piece) -> NDArray[np.float64]:
    """Corners of the artwork on the table, (4, 3): the artwork's own top-left first, mirrored or not."""
    left, top, width, height = piece.print_box_mm
    right, bottom = left + width, top + height
    if piece.mirrored:
        left, right = right, left
    return piece_pose(piece).to_table(np.array([[left, top], [right, top], [right, bottom], [left, bottom]]))


def outline_distance(piece: Piece, x: Picture, y: Picture) -> Picture:
    """Signed distance to the outline, mm, positive outside (exact for circles, near for ellipses)."""
    half_width, half_height = piece.width_mm / 2.0, piece.height_mm / 2.0
    across, down = np.abs(x - half_width), np.abs(y - half_height)
    if piece.shape == "round":
        return np.asarray(
            (np.hypot(across / half_width, down / half_height) - 1.0) * min(half_width, half_height)
        )
    radius = piece.corner_radius_mm if piece.shape == "rounded" else 0.0
    past_x, past_y = across - half_width + radius, down - half_height + radius
    corner = np.hypot(np.maximum(past_x, 0.0), np.maximum(past_y, 0.0))
    return np.asarray(corner + np.minimum(np.maximum(past_x, past_y), 0.0) - radius)


def _blob(blob: GlareBlob, x: Picture, y: Picture) -> Picture:
    """A lamp's image: flat in the middle, soft at the edge (a Gaussian of the fourth power)."""
    turn = np.deg2rad(blob.rotation_deg)
    along = (x - blob.x_mm) * np.cos(turn) + (y - blob.y_mm) * np.sin(turn)
    across = (y - blob.y_mm) * np.cos(turn) - (x - blob.x_mm) * np.sin(turn)
    square = (along / blob.half_width_mm) ** 2 + (across / blob.half_height_mm) ** 2
    return np.asarray(blob.strength * np.exp(-np.minimum(square * square, 50.0)))


def mirrored_light(piece: Piece, x: Picture, y: Picture) -> Picture:
    """Light the glass mirrors at places on the piece (mm), as a share of perfect white; 0 for matt pieces."""
    if not piece.glass:
        return np.zeros_like(x)
    slope = (
        1.0
        + piece.veil_gradient * (x / piece.width_mm - 0.5)
        + piece.veil_gradient * (y / piece.height_mm - 0.5)
    )
    light = np.maximum(piece.veil * slope, 0.0)
    for blob in piece.glare:
        light = light + _blob(blob, x, y)
    return light.astype(np.float32)


def places(height: int, width: int, box: tuple[float, float, float, float]) -> tuple[Picture, Picture]:
    """Centres of a grid of cells over a box (x, y, width, height), mm."""
    x = box[0] + (np.arange(width, dtype=np.float32) + 0.5) * np.float32(box[2] / width)
    y = box[1] + (np.arange(height, dtype=np.float32) + 0.5) * np.float32(box[3] / height)
    across, down = np.meshgrid(x.astype(np.float32), y.astype(np.float32))
    return across, down


def _over_base(piece: Piece) -> NDArray[np.float64]:
    """What glass and yellowing leave of the light, (31,)."""
    pressing = piece.pressing
    everywhere = pressing.yellowing * (1.0 - pressing.yellowing_of_ink)
    yellow = transmittance(everywhere * yellowing_density(pressing.yellowing_decay_nm))
    return yellow * glass_transmittance(piece.glass_tint if piece.glass else 0.0)


def printed_artwork(artwork: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """The artwork at the printer's resolution: shrunk when it is finer than the scene maker needs."""
    longest = max(artwork.shape[:2])
    if longest <= MOST_ARTWORK_PIXELS:
        return artwork
    height, width = (max(round(side * MOST_ARTWORK_PIXELS / longest), 1) for side in artwork.shape[:2])
    return np.asarray(cv2.resize(artwork, (width, height), interpolation=cv2.INTER_AREA), dtype=np.uint8)


def _look(piece: Piece, weights: NDArray[np.float64]) -> Picture:
    """The pressed artwork weighted by (31, n) columns: (h, w, n) float32."""
    dyes = sublimation_dyes(piece.ink_set)
    filtered = (_over_base(piece)[:, None] * weights).astype(np.float32)
    artwork = printed_artwork(piece.artwork)
    pixels_per_mm = artwork.shape[1] / piece.print_box_mm[2]
    pressed = press(separate_artwork(artwork, piece.ink_set), piece.pressing, pixels_per_mm)
    amounts = with_faults(pressed, piece.faults, pixels_per_mm)
    scorched = yellowing_density(piece.pressing.yellowing_decay_nm)
    inks = DyeSpectra(dyes.name, np.vstack([dyes.density, scorched]), dyes.base)
    amounts = np.concatenate([amounts, scorched_ink(amounts, piece.pressing)], axis=2)
    looks = [
        reflectance(amounts[row : row + ROWS_AT_A_TIME], inks) @ filtered
        for row in range(0, len(amounts), ROWS_AT_A_TIME)
    ]
    return np.concatenate(looks)


def press_piece(piece: Piece, camera: str, illuminant: str, density: float) -> PressedPiece:
    """Press and draw a piece in balanced camera RGB with about `density` texels per mm."""
    to_camera, to_xyz = sensing_weights(camera, illuminant), viewing_weights("D50")
    look = _look(piece, np.concatenate([to_camera, to_xyz], axis=1))
    bare = (sublimation_dyes(piece.ink_set).base * _over_base(piece)) @ np.concatenate(
        [to_camera, to_xyz], axis=1
    )
    white = to_xyz.sum(axis=0)
    height, width = look.shape[:2]
    x, y = places(height, width, piece.print_box_mm)
    glare = mirrored_light(piece, np.ascontiguousarray(x[:, ::-1]) if piece.mirrored else x, y)
    lightness, a, b = xyz_to_lab(bare[3:], white).tolist()
    return PressedPiece(
        surface=_draw(piece, look[..., :3], bare[:3], density),
        lab=xyz_to_lab(look[..., 3:].astype(np.float64), white).astype(np.float32),
        glare_share=glare,
        inside=_printed_distance(piece, x, y) <= 0.0,
        bare_lab=(lightness, a, b),
    )


def _draw(piece: Piece, colours: Picture, bare: NDArray[np.float64], density: float) -> Surface:
    """Lay the artwork's camera RGB inside its border, cut to the outline, with rim and mirrored light."""
    height, width = max(round(piece.height_mm * density), 8), max(round(piece.width_mm * density), 8)
    x, y = places(height, width, (0.0, 0.0, piece.width_mm, piece.height_mm))
    outside = outline_distance(piece, x, y)
    art = _placed(piece, colours[:, ::-1] if piece.mirrored else colours, (height, width))
    printed = _printed_share(piece, density, (x, y))[..., None]
    texture = np.asarray(printed * art + (1.0 - printed) * bare.astype(np.float32), dtype=np.float32)
    rim = np.clip((outside + RIM_MM) / RIM_MM, 0.0, 1.0)
    texture *= (1.0 - (1.0 - RIM_LIGHT) * rim)[..., None].astype(np.float32)
    inside = (
        np.ones_like(outside) if piece.shape in SHARP_SHAPES else np.clip(0.5 - outside * density, 0.0, 1.0)
    )
    covered = inside[..., None].astype(np.float32)
    mirrored = mirrored_light(piece, x, y) * covered[..., 0] if piece.glass else None
    return Surface(piece_pose(piece), np.concatenate([texture * covered, covered], axis=2), mirrored)


def _printed_distance(piece: Piece, x: Picture, y: Picture) -> Picture:
    """Signed distance, mm, to the nearer outline of print and piece; positive outside.

    The print's outline is the piece's, drawn in by the border, moved and sized as it was printed.
    """
    left, top, width, height = piece.print_box_mm
    factor = width / (piece.width_mm - 2 * piece.border_mm)
    back_x = (x - left - width / 2) / factor + piece.width_mm / 2
    back_y = (y - top - height / 2) / factor + piece.height_mm / 2
    print_outside = (outline_distance(piece, back_x, back_y) + piece.border_mm) * factor
    return np.asarray(np.maximum(print_outside, outline_distance(piece, x, y)))


def _printed_share(piece: Piece, density: float, places: tuple[Picture, Picture]) -> Picture:
    """Share of every texel that the artwork covers."""
    height, width = places[0].shape
    left, top, art_width, art_height = piece.print_box_mm
    across = coverage(left, left + art_width, piece.width_mm, width)
    down = coverage(top, top + art_height, piece.height_mm, height)
    inner: Picture | float = 1.0
    if piece.shape not in SHARP_SHAPES:
        inner = np.clip(0.5 - _printed_distance(piece, *places) * density, 0.0, 1.0)
    return np.asarray(down[:, None] * across[None, :] * inner, dtype=np.float32)


def _placed(piece: Piece, colours: Picture, size: tuple[int, int]) -> Picture:
    """The artwork's colours laid inside the border of a texture of the whole piece, edges repeated."""
    height, width = size
    across, down = width / piece.width_mm, height / piece.height_mm
    left, top, art_width, art_height = piece.print_box_mm
    texels = (max(round(art_width * across), 1), max(round(art_height * down), 1))
    smaller = texels[0] < colours.shape[1]
    fitted = cv2.resize(
        np.ascontiguousarray(colours), texels, interpolation=cv2.INTER_AREA if smaller else cv2.INTER_LINEAR
    )
    scale_x, scale_y = texels[0] / (art_width * across), texels[1] / (art_height * down)
    # Half a texel in and out again, because OpenCV counts centres at whole numbers.
    shift_x = (0.5 - left * across) * scale_x - 0.5
    shift_y = (0.5 - top * down) * scale_y - 0.5
    matrix = np.array([[scale_x, 0.0, shift_x], [0.0, scale_y, shift_y]])
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    art = cv2.warpAffine(fitted, matrix, (width, height), flags=flags, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(art, dtype=np.float32)
