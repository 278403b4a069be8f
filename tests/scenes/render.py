"""From a scene to a photo and the truth about it."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from scenes.card_surface import card_pose, card_surface, hiding_surface
from scenes.development import develop
from scenes.lighting import contact_shadows, illuminance, table_sheen, vignetting
from scenes.peek_surface import lit_beside_paper, paper_surfaces, visible_place
from scenes.photo_file import jpeg_bytes, write_jpeg
from scenes.piece_surface import PressedPiece, artwork_corners, piece_pose, press_piece
from scenes.pressing import State
from scenes.scene import Card, Scene
from scenes.slab import draw_slab
from scenes.surfaces import SUPERSAMPLING, Picture, Pose, Surface, see, table_places
from scenes.tables import table_colours
from scenes.viewpoint import Viewpoint, viewpoint_for

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Truth:
    """Everything known about a rendered photo.

    Corners are (4, 2) x, y in upright pixels, centres at whole numbers, in the order top-left, top-right,
    bottom-right, bottom-left of the card or the artwork; None where the thing is missing. The maps lie in
    the artwork's frame and are (h, w): the artwork's size, or 640 on the long side if that is smaller.

    Attributes
    ----------
    scene
        All parameters.
    card_corners, artwork_corners, piece_corners
        Of the card, the artwork inside the border, and the whole piece (its own top-left first).
    reference_lab
        (h, w, 3) float32 CIELAB, D50, 2 degree, through the glass, no mirrored light, media absolute.
    inside
        (h, w) bool: the part of the artwork within the piece's outline.
    visible
        (h, w) bool: the part of it that neither paper nor finger covers; None when nothing lies over it.
    glare_share
        (h, w) float32: light the surface mirrors into the camera, as a share of perfect white.
    bare_lab
        CIELAB of the unprinted coating after pressing.
    dose, state
        Of the pressing; the right answer unless the scene was spoiled.
    pixels_per_mm
        At the middle of the card, or of the piece when there is no card.
    camera_distance_mm
        From the aimed point.
    """

    scene: Scene
    card_corners: Array | None
    artwork_corners: Array | None
    piece_corners: Array | None
    reference_lab: Picture | None
    inside: NDArray[np.bool_] | None
    visible: NDArray[np.bool_] | None
    glare_share: Picture | None
    bare_lab: tuple[float, float, float] | None
    dose: float | None
    state: State | None
    pixels_per_mm: float
    camera_distance_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class RenderedPhoto:
    """Upright encoded pixels, (h, w, 3) uint8, before JPEG, and the truth about them."""

    pixels: NDArray[np.uint8]
    truth: Truth

    def jpeg(self) -> bytes:
        """Return the file as the phone would write it."""
        return jpeg_bytes(self.pixels, self.truth.scene.phone)


def write_photo(path: Path, rendered: RenderedPhoto) -> None:
    """Write a rendered photo as JPEG with its profile and orientation."""
    write_jpeg(path, rendered.pixels, rendered.truth.scene.phone)


def scene_poses(scene: Scene) -> list[Pose]:
    """Places of everything that must be in the frame: card, a second card, piece."""
    poses = [card_pose(card) for card in (scene.card, scene.extra_card) if card is not None]
    return [*poses, *([piece_pose(scene.piece)] if scene.piece else [])]


def scene_viewpoint(scene: Scene) -> Viewpoint:
    """Place the scene's camera. ValueError when there is neither a card nor a piece to look at."""
    poses = scene_poses(scene)
    if not poses:
        raise ValueError("a scene needs a card or a piece to frame")
    return viewpoint_for(scene.camera, np.concatenate([pose.outline() for pose in poses]))


def render(scene: Scene, seed: int = 0) -> RenderedPhoto:
    """Render a scene; the seed decides table pattern and noise, nothing else. Same bytes for same input."""
    table_random, noise_random = (np.random.default_rng((seed, part)) for part in (1, 2))
    viewpoint = scene_viewpoint(scene)
    middle = scene_poses(scene)[0]
    density = SUPERSAMPLING * viewpoint.pixels_per_mm(middle.x_mm, middle.y_mm)
    pressed = _pressed(scene, viewpoint)
    surfaces = _surfaces(scene, pressed, density)
    light = _light_on_sensor(scene, viewpoint, pressed, surfaces, table_random)
    pixels = develop(light, scene.phone, scene.light.illuminant, noise_random)
    return RenderedPhoto(pixels, _truth(scene, viewpoint, pressed))


def _pressed(scene: Scene, viewpoint: Viewpoint) -> PressedPiece | None:
    piece = scene.piece
    if piece is None:
        return None
    density = SUPERSAMPLING * viewpoint.pixels_per_mm(piece.x_mm, piece.y_mm)
    pressed = press_piece(piece, scene.phone.sensor, scene.light.illuminant, density)
    return pressed if piece.peek is None else lit_beside_paper(pressed, piece, scene)


def _surfaces(scene: Scene, pressed: PressedPiece | None, density: float) -> list[Surface]:
    """Everything on the table, lowest first."""
    sensor, illuminant = scene.phone.sensor, scene.light.illuminant
    cards: list[Card] = [card for card in (scene.card, scene.extra_card) if card is not None]
    surfaces = [card_surface(card, sensor, illuminant, density) for card in cards]
    surfaces += [pressed.surface] if pressed else []
    surfaces += paper_surfaces(scene, density)
    discs = [hiding_surface(card, density) for card in cards]
    return surfaces + [disc for disc in discs if disc is not None]


def _light_on_sensor(
    scene: Scene,
    viewpoint: Viewpoint,
    pressed: PressedPiece | None,
    surfaces: list[Surface],
    random: np.random.Generator,
) -> Picture:
    """Balanced linear camera RGB of the whole photo, (h, w, 3)."""
    x, y = table_places(viewpoint)
    middle = (float(viewpoint.centre_mm[0]), float(viewpoint.centre_mm[1]))
    falling = illuminance(scene.light, x, y, middle)
    picture = table_colours(scene.table, scene.phone.sensor, scene.light.illuminant, (x, y), random)
    poses = [surface.pose for surface in surfaces]
    picture *= contact_shadows(poses, scene.light.contact_shadow, viewpoint)[..., None]
    mirrored = table_sheen(scene.light, x, y, middle) if scene.light.table_sheen else np.zeros_like(x)
    for surface in surfaces:
        if pressed and surface is pressed.surface:
            draw_slab(picture, scene, surface.pose, viewpoint)
        _lay(picture, mirrored, surface, viewpoint)
    picture *= falling[..., None]
    picture += mirrored[..., None]
    picture *= vignetting(scene.camera)[..., None]
    return picture


def _lay(picture: Picture, mirrored: Picture, surface: Surface, viewpoint: Viewpoint) -> None:
    """Compose one surface over what is already there, in place."""
    seen = see(surface, viewpoint)
    if seen is None:
        return
    window = (seen.rows, seen.columns)
    uncovered = 1.0 - seen.texture[..., 3]
    picture[window] = picture[window] * uncovered[..., None] + seen.texture[..., :3]
    mirrored[window] *= uncovered
    if seen.mirrored is not None:
        mirrored[window] += seen.mirrored


def _truth(scene: Scene, viewpoint: Viewpoint, pressed: PressedPiece | None) -> Truth:
    first = scene_poses(scene)[0]
    piece = scene.piece
    return Truth(
        scene=scene,
        card_corners=viewpoint.project(card_pose(scene.card).corners()) if scene.card else None,
        artwork_corners=viewpoint.project(artwork_corners(piece)) if piece else None,
        piece_corners=viewpoint.project(piece_pose(piece).corners()) if piece else None,
        reference_lab=pressed.lab if pressed else None,
        inside=pressed.inside if pressed else None,
        visible=visible_place(piece, pressed.inside) if piece and pressed and piece.peek else None,
        glare_share=pressed.glare_share if pressed else None,
        bare_lab=pressed.bare_lab if pressed else None,
        dose=piece.pressing.dose if piece else None,
        state=piece.pressing.state if piece else None,
        pixels_per_mm=viewpoint.pixels_per_mm(first.x_mm, first.y_mm),
        camera_distance_mm=viewpoint.distance_mm,
    )
