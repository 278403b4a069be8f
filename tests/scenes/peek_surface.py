"""The transfer paper over a piece with one corner folded back: what it covers, and what it does to the light.

Places are millimetres from the piece's top-left corner. `s` is the distance beyond the fold, positive where
the piece lies open. The flap is the open part of the paper, mirrored in the fold, and shows its printed side.
"""

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from scenes.dyes import reflectance, separate_artwork
from scenes.observers import sensing_weights
from scenes.piece_surface import PressedPiece, outline_distance, places, printed_artwork
from scenes.scene import Peek, Piece, Scene
from scenes.spectra import DyeSpectra, Spectrum, gaussian_sum, sublimation_dyes
from scenes.surfaces import Picture, Pose, Surface

PAPER_ABOVE_MM = 0.2
"""Height of the paper over the print; no more, so that the truth's mask holds in a slanted photo."""

FOLD_SHADE, FOLD_REACH_MM = 0.25, 3.0
"""Light lost on the curved edge of the flap, and how far the curve reaches; drawn by eye."""

TAPE_MM = (24.0, 14.0)
TAPE_OPACITY = 0.7
"""Length and width of a strip of heat tape, and how much it hides."""


@dataclass(frozen=True, slots=True)
class Fold:
    """The fold line: unit direction (x, y) towards the lifted corner, and the place along it, mm."""

    x: float
    y: float
    place_mm: float

    def beyond(self, x: Picture, y: Picture) -> Picture:
        """Distance beyond the fold, mm: positive where the piece lies open."""
        return np.asarray(np.float32(self.x) * x + np.float32(self.y) * y - np.float32(self.place_mm))


def fold_of(piece: Piece, peek: Peek) -> Fold:
    """Place the fold so that it uncovers the wanted share of the artwork within the outline."""
    border = piece.border_mm
    x, y = places(200, 200, (border, border, piece.width_mm - 2 * border, piece.height_mm - 2 * border))
    printed = outline_distance(piece, x, y) <= -border
    angle = np.deg2rad(peek.fold_direction_deg)
    through = Fold(float(np.cos(angle)), float(np.sin(angle)), 0.0)
    place = np.quantile(through.beyond(x, y)[printed], 1.0 - peek.visible_share)
    return replace(through, place_mm=float(place))


def visible_place(piece: Piece, inside: NDArray[np.bool_]) -> NDArray[np.bool_] | None:
    """Return where the artwork shows, in the artwork's frame like `inside`; None without paper."""
    peek = piece.peek
    if peek is None:
        return None
    border = piece.border_mm
    height, width = inside.shape
    x, y = places(height, width, (border, border, piece.width_mm - 2 * border, piece.height_mm - 2 * border))
    if piece.mirrored:
        x = np.ascontiguousarray(x[:, ::-1])
    fold = fold_of(piece, peek)
    shown = inside & (fold.beyond(x, y) > 0.0)
    if peek.finger_mm > 0.0:
        finger = _finger_pose(piece, peek, fold)
        across, down = _finger_place(piece, finger, x, y)
        shown &= np.hypot(across, down) > 1.0
    return np.asarray(shown)


def lit_beside_paper(pressed: PressedPiece, piece: Piece, scene: Scene) -> PressedPiece:
    """Put the flap's shadow and the light it throws back on the piece's surface."""
    peek = piece.peek
    if peek is None:
        return pressed
    height, width = pressed.surface.texture.shape[:2]
    x, y = places(height, width, (0.0, 0.0, piece.width_mm, piece.height_mm))
    away = np.maximum(fold_of(piece, peek).beyond(x, y), 0.0)[..., None]
    shade = 1.0 - np.float32(peek.shadow_depth) * np.exp(-away / np.float32(peek.shadow_reach_mm))
    paper = _seen(_paper(peek), scene)
    bounced = np.float32(peek.bounce) * np.exp(-away / np.float32(2.0 * peek.shadow_reach_mm)) * paper
    texture = pressed.surface.texture.copy()
    texture[..., :3] *= shade + bounced
    return replace(pressed, surface=replace(pressed.surface, texture=texture))


def paper_surfaces(scene: Scene, density: float) -> list[Surface]:
    """Draw paper, tapes and finger, lowest first; nothing when the paper is off."""
    piece = scene.piece
    if piece is None or piece.peek is None:
        return []
    peek, fold = piece.peek, fold_of(piece, piece.peek)
    tapes = [_strip(scene, pose, density) for pose in _tape_poses(piece, peek, fold)]
    finger = [_finger(scene, _finger_pose(piece, peek, fold), density)] if peek.finger_mm > 0.0 else []
    return [_sheet(scene, piece, peek, fold, density), *tapes, *finger]


def _paper(peek: Peek) -> Spectrum:
    """Reflectance of the paper, (31,): off-white, browner in the blue the more heat it had; drawn by eye."""
    paper: Spectrum = 0.84 - gaussian_sum((400, 90, 0.06 + 0.22 * peek.browned))
    return paper


def _seen(spectrum: Spectrum, scene: Scene) -> NDArray[np.float32]:
    """Balanced camera RGB of a reflectance, (3,)."""
    weights = sensing_weights(scene.phone.sensor, scene.light.illuminant)
    return np.asarray(spectrum @ weights, dtype=np.float32)


def _sheet(scene: Scene, piece: Piece, peek: Peek, fold: Fold, density: float) -> Surface:
    """The paper that still covers the piece, and the flap that lies on it."""
    over = peek.overhang_mm
    size = (piece.width_mm + 2 * over, piece.height_mm + 2 * over)
    texels = (max(round(size[1] * density), 8), max(round(size[0] * density), 8))
    x, y = places(*texels, (-over, -over, *size))
    beyond = fold.beyond(x, y)
    back_x, back_y = x - 2.0 * beyond * np.float32(fold.x), y - 2.0 * beyond * np.float32(fold.y)
    inside = (back_x > -over) & (back_x < size[0] - over) & (back_y > -over) & (back_y < size[1] - over)
    flap = ((beyond < 0.0) & inside)[..., None]
    curve = 1.0 - np.float32(FOLD_SHADE) * np.exp(np.minimum(beyond, 0.0) / np.float32(FOLD_REACH_MM))
    shown = np.where(
        flap,
        _ink_left(scene, piece, peek.ghost, (back_x, back_y)) * curve[..., None],
        _ink_left(scene, piece, peek.show_through, (x, y)),
    )
    covered = np.clip(0.5 - beyond * density, 0.0, 1.0)[..., None].astype(np.float32)
    pose = _above(piece, PAPER_ABOVE_MM, size)
    return Surface(pose, np.concatenate([shown * covered, covered], axis=2).astype(np.float32))


def _ink_left(scene: Scene, piece: Piece, share: float, place: tuple[Picture, Picture]) -> Picture:
    """Camera RGB of the paper with a share of the printed density, at places on the piece, (h, w, 3)."""
    peek = piece.peek or Peek()
    artwork = printed_artwork(piece.artwork)
    dyes = DyeSpectra("paper", sublimation_dyes().density, _paper(peek))
    weights = sensing_weights(scene.phone.sensor, scene.light.illuminant).astype(np.float32)
    amounts = separate_artwork(artwork) * np.float32(share)
    look = np.stack([reflectance(row, dyes) @ weights for row in amounts])
    height, width = look.shape[:2]
    across = (place[0] - piece.border_mm) / np.float32(piece.width_mm - 2 * piece.border_mm)
    down = (place[1] - piece.border_mm) / np.float32(piece.height_mm - 2 * piece.border_mm)
    across = 1.0 - across if piece.mirrored else across
    bare = tuple(_seen(_paper(peek), scene).tolist())
    map_x, map_y = (across * width - 0.5).astype(np.float32), (down * height - 0.5).astype(np.float32)
    mode = cv2.BORDER_CONSTANT
    return np.asarray(cv2.remap(look, map_x, map_y, cv2.INTER_LINEAR, borderMode=mode, borderValue=bare))


def _above(piece: Piece, height_mm: float, size: tuple[float, float]) -> Pose:
    """A thing of a size centred on the piece, lying on its print."""
    return Pose(
        piece.x_mm, piece.y_mm, piece.rotation_deg, *size, above_table_mm=piece.layer_height_mm + height_mm
    )


def _laid(piece: Piece, place: tuple[float, float], turn_deg: float, size: tuple[float, float]) -> Pose:
    """A thing laid on the piece at a place on it, turned."""
    whole = _above(piece, PAPER_ABOVE_MM, (piece.width_mm, piece.height_mm))
    x, y, _ = whole.to_table(np.array([place]))[0].tolist()
    return replace(
        whole, x_mm=x, y_mm=y, rotation_deg=piece.rotation_deg + turn_deg, width_mm=size[0], height_mm=size[1]
    )


def _tape_poses(piece: Piece, peek: Peek, fold: Fold) -> list[Pose]:
    """Strips across those edges of the paper that were not lifted, half on the paper and half beside it."""
    random = np.random.default_rng((peek.seed, 23))
    over, poses = peek.overhang_mm, list[Pose]()
    for _ in range(20 * peek.tapes):
        along, side = random.uniform(0.15, 0.85), int(random.integers(4))
        ends = (-over, (piece.height_mm, piece.width_mm)[side % 2] + over)
        edge = ends[side // 2]
        place = (along * piece.width_mm, edge) if side % 2 == 0 else (edge, along * piece.height_mm)
        if fold.x * place[0] + fold.y * place[1] < fold.place_mm - TAPE_MM[0]:
            poses.append(_laid(piece, place, 90.0 if side % 2 == 0 else 0.0, TAPE_MM))
        if len(poses) == peek.tapes:
            break
    return poses


def _strip(scene: Scene, pose: Pose, density: float) -> Surface:
    """Amber heat tape (polyimide), translucent; colour drawn by eye."""
    amber = 0.45 - gaussian_sum((400, 75, 0.42), (520, 40, 0.12))
    size = (max(round(pose.height_mm * density), 4), max(round(pose.width_mm * density), 4))
    texture = np.empty((*size, 4), dtype=np.float32)
    texture[..., :3] = _seen(amber, scene) * np.float32(TAPE_OPACITY)
    texture[..., 3] = TAPE_OPACITY
    return Surface(pose, texture)


def _finger_pose(piece: Piece, peek: Peek, fold: Fold) -> Pose:
    """A finger tip on the flap's edge, somewhere along the middle of the fold."""
    random = np.random.default_rng((peek.seed, 29))
    middle = np.array([piece.width_mm, piece.height_mm]) / 2.0
    away = fold.place_mm - fold.x * middle[0] - fold.y * middle[1]
    slide = float(random.uniform(-0.25, 0.25)) * min(piece.width_mm, piece.height_mm)
    x = middle[0] + away * fold.x - slide * fold.y - 0.3 * peek.finger_mm * fold.x
    y = middle[1] + away * fold.y + slide * fold.x - 0.3 * peek.finger_mm * fold.y
    size = (1.6 * peek.finger_mm, peek.finger_mm)
    return replace(_laid(piece, (x, y), peek.fold_direction_deg, size), round=True)


def _finger_place(piece: Piece, finger: Pose, x: Picture, y: Picture) -> tuple[Picture, Picture]:
    """Places on the piece in half axes of the finger tip, from its middle."""
    whole = _above(piece, PAPER_ABOVE_MM, (piece.width_mm, piece.height_mm))
    table = whole.to_table(np.stack([x.ravel(), y.ravel()], axis=1)).astype(np.float32)
    across, down = finger.from_table(table[:, 0].reshape(x.shape), table[:, 1].reshape(x.shape))
    return 2.0 * across / finger.width_mm - 1.0, 2.0 * down / finger.height_mm - 1.0


def _finger(scene: Scene, pose: Pose, density: float) -> Surface:
    """The tip of a dark heat-proof glove, with a coarse knit; drawn by eye."""
    height, width = max(round(pose.height_mm * density), 8), max(round(pose.width_mm * density), 8)
    x, y = places(height, width, (0.0, 0.0, pose.width_mm, pose.height_mm))
    radius = np.hypot(2.0 * x / pose.width_mm - 1.0, 2.0 * y / pose.height_mm - 1.0)
    inside = np.clip((1.0 - radius) * height / 2.0 + 0.5, 0.0, 1.0)[..., None].astype(np.float32)
    knit = (1.0 + 0.3 * np.sin(x * 3.0) * np.sin(y * 3.0))[..., None].astype(np.float32)
    glove = _seen(0.06 + gaussian_sum((460, 40, 0.03)), scene)
    return Surface(pose, np.concatenate([glove * knit * inside, inside], axis=2).astype(np.float32))
