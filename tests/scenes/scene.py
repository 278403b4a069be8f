"""Everything that makes one synthetic photo, as frozen records.

Places are millimetres on the table: the origin is the top-left corner of the card as it would lie unturned
at its default place, x runs right, y runs down. Angles are degrees, clockwise as seen in the photo.
"""

from dataclasses import dataclass, field, fields, replace
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.card_layout import CardLayout
from scenes.faults import Fault, print_box
from scenes.pressing import Pressing

GLASS_REFRACTIVE_INDEX = 1.52
"""Soda-lime float glass, handbook value from memory."""

Shape = Literal["square", "rectangle", "rounded", "round"]
Table = Literal["wood", "oak", "cloth", "laminate", "dark", "white", "tinted"]
Profile = Literal["sRGB", "Display P3"]


@dataclass(frozen=True, slots=True)
class GlareBlob:
    """A mirrored lamp: centre and half axes in mm from the piece's top-left, turn, share of white."""

    x_mm: float
    y_mm: float
    half_width_mm: float
    half_height_mm: float
    rotation_deg: float
    strength: float


@dataclass(frozen=True, slots=True)
class Peek:
    """The transfer paper, still taped over the piece, one corner of it folded back along a straight line.

    Attributes
    ----------
    visible_share
        Share of the artwork that the fold uncovers, 0..1; what a finger then hides comes off it.
    fold_direction_deg
        Way towards the lifted corner: 0 = to the right of the piece, 90 = to its bottom.
    overhang_mm
        How far the paper reaches beyond the piece.
    browned
        0 = off-white paper, 1 = browned by the heat.
    ghost
        Share of the printed density that stayed in the paper: it shows on the flap, mirrored in the fold.
    show_through
        Share of the printed density that shows through the back of the paper, in its place.
    shadow_depth, shadow_reach_mm
        Share of light that the flap takes from the piece at the fold, and the distance in which the loss
        falls to 1/e.
    bounce
        Light that the flap throws back onto the piece at the fold, as a share of the light there; it has the
        paper's colour and reaches twice as far as the shadow.
    tapes
        Strips of heat tape over the paper's edges.
    finger_mm
        Width of the gloved finger tip that holds the flap; 0 = none in the photo.
    seed
        Decides where tapes and finger lie.
    """

    visible_share: float = 0.35
    fold_direction_deg: float = 45.0
    overhang_mm: float = 5.0
    browned: float = 0.2
    ghost: float = 0.15
    show_through: float = 0.02
    shadow_depth: float = 0.15
    shadow_reach_mm: float = 6.0
    bounce: float = 0.04
    tapes: int = 2
    finger_mm: float = 0.0
    seed: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """The pressed piece.

    Attributes
    ----------
    artwork
        (h, w, 3) uint8 sRGB; fills the piece inside the border.
    pressing, ink_set
        What the press did, and which of `scenes.spectra.INK_SETS` was printed with.
    width_mm, height_mm, shape, corner_radius_mm, border_mm
        The whole outline, its form, and the white border left around the artwork.
    x_mm, y_mm, rotation_deg
        Centre on the table and turn.
    mirrored
        True when the artwork is seen mirrored (printed for the other side of the glass).
    thickness_mm
        Height of the top face above the table; side faces are drawn when it is not 0.
    glass
        A mirroring surface: veil and glare apply; otherwise a matt coating.
    glass_tint
        0 = clear, 1 = about 10 mm of green float glass.
    veil, veil_gradient
        Evenly mirrored light as a share of perfect white, and its relative change across the piece.
    glare
        Mirrored lamps.
    peek
        The transfer paper still over it, one corner lifted; None = the paper is off.
    faults
        What went wrong with it, beside pressing.
    """

    artwork: NDArray[np.uint8]
    pressing: Pressing = field(default_factory=Pressing)
    ink_set: str = "sublimation"
    width_mm: float = 100.0
    height_mm: float = 100.0
    shape: Shape = "rectangle"
    corner_radius_mm: float = 0.0
    border_mm: float = 0.0
    x_mm: float = 210.0
    y_mm: float = 52.0
    rotation_deg: float = 0.0
    mirrored: bool = False
    thickness_mm: float = 0.0
    glass: bool = True
    glass_tint: float = 0.0
    veil: float = 0.0
    veil_gradient: float = 0.0
    glare: tuple[GlareBlob, ...] = ()
    peek: Peek | None = None
    faults: tuple[Fault, ...] = ()

    @property
    def print_box_mm(self) -> tuple[float, float, float, float]:
        """Where the print lies on the piece: left, top, width, height."""
        return print_box(self.width_mm, self.height_mm, self.border_mm, self.faults)

    @property
    def layer_height_mm(self) -> float:
        """Height at which the printed layer appears above the table.

        On top of a matt piece; under a glass one, lifted by refraction to t (1 - 1/n) (apparent depth of a
        plate seen from straight above, any optics textbook).
        """
        return self.thickness_mm * (1.0 - 1.0 / GLASS_REFRACTIVE_INDEX) if self.glass else self.thickness_mm


@dataclass(frozen=True, slots=True, eq=False)
class Card:
    """The reference card: its layout, where it lies, how far its middle bulges up (mm), and its gloss.

    `hidden_corner` lays a dark disc over one marker; `gloss` is evenly mirrored light as a share of white;
    `misprint` is the relative scatter of the patches' densities, drawn by `misprint_seed`.
    """

    layout: CardLayout
    card_x_mm: float = 74.0
    card_y_mm: float = 52.5
    card_rotation_deg: float = 0.0
    bend_mm: float = 0.0
    gloss: float = 0.0
    hidden_corner: str = ""
    misprint: float = 0.0
    misprint_seed: int = 0


@dataclass(frozen=True, slots=True)
class Light:
    """The light on the table.

    Attributes
    ----------
    illuminant
        CIE name known to colour-science, e.g. ``"D50"``, ``"FL11"``, ``"LED-B3"``.
    gradient, gradient_direction_deg
        Relative change of illuminance from the middle to 150 mm away, along the direction.
    falloff
        Relative loss 150 mm from the middle of the picture, growing with the square of the distance.
    shadow_depth, shadow_x_mm, shadow_y_mm, shadow_direction_deg, shadow_softness_mm
        A straight shadow edge through a point: share of light lost beyond it, and its softness.
    table_sheen
        Peak of a broad mirrored highlight on the table, share of white.
    contact_shadow
        Share of light lost right beside a thing that lies on the table.
    """

    illuminant: str = "D50"
    gradient: float = 0.0
    gradient_direction_deg: float = 0.0
    falloff: float = 0.0
    shadow_depth: float = 0.0
    shadow_x_mm: float = 0.0
    shadow_y_mm: float = 0.0
    shadow_direction_deg: float = 0.0
    shadow_softness_mm: float = 3.0
    table_sheen: float = 0.0
    contact_shadow: float = 0.35


@dataclass(frozen=True, slots=True)
class Camera:
    """Where the phone is and what its lens does.

    Attributes
    ----------
    width_px, height_px
        Of the upright photo.
    focal_length_35mm
        Equivalent focal length, mm, over the long side.
    tilt_deg, tilt_direction_deg, roll_deg
        Angle from looking straight down, which way it leans, and the turn about the viewing axis.
    distance_mm
        From the aimed point; None frames card and piece with `margin` (share of the frame) around.
    aim_x_mm, aim_y_mm
        Point the camera looks at; None is the middle of everything.
    radial_distortion
        k1 of x_distorted = x (1 + k1 r^2), normalised coordinates (Brown 1966, first term).
    vignetting
        Relative loss of light in the corners of the frame.
    """

    width_px: int = 2000
    height_px: int = 1500
    focal_length_35mm: float = 26.0
    tilt_deg: float = 0.0
    tilt_direction_deg: float = 90.0
    roll_deg: float = 0.0
    distance_mm: float | None = None
    aim_x_mm: float | None = None
    aim_y_mm: float | None = None
    margin: float = 0.06
    radial_distortion: float = 0.0
    vignetting: float = 0.0


@dataclass(frozen=True, slots=True)
class Phone:
    """What the phone does with the light.

    Attributes
    ----------
    sensor
        A name in `scenes.observers.CAMERAS`.
    exposure
        Linear value that a perfect white gets at illuminance 1; beyond 1 it clips.
    white_balance_error
        Factors on red, green, blue after a correct white balance.
    saturation
        1 = as measured; phones boost to 1.05..1.25.
    contrast
        Strength of the S-shaped tone curve, 0..1.
    flare
        Share of the mean light that the lens spreads over the frame.
    noise
        0 = none; 1 = a good sensor at base gain; 4 = a dark room.
    blur_px, motion_px, motion_direction_deg
        Defocus standard deviation and length of the smear.
    sharpening
        Unsharp mask amount, 0..1.
    jpeg_quality, colour_profile, exif_orientation
        How the file is written.
    """

    sensor: str = "phone A"
    exposure: float = 0.80
    white_balance_error: tuple[float, float, float] = (1.0, 1.0, 1.0)
    saturation: float = 1.0
    contrast: float = 0.0
    flare: float = 0.0
    noise: float = 1.0
    blur_px: float = 0.6
    motion_px: float = 0.0
    motion_direction_deg: float = 0.0
    sharpening: float = 0.2
    jpeg_quality: int = 92
    colour_profile: Profile = "sRGB"
    exif_orientation: int = 1


@dataclass(frozen=True, slots=True, eq=False)
class Scene:
    """One photo to be. `card` or `piece` may be missing; `extra_card` is a second one by mistake."""

    card: Card | None
    piece: Piece | None
    table: Table = "laminate"
    light: Light = Light()
    camera: Camera = Camera()
    phone: Phone = Phone()
    extra_card: Card | None = None

    def changed(self, **changes: Any) -> "Scene":
        """Return a copy with fields replaced, wherever they live: ``scene.changed(tilt_deg=20, veil=0.03)``.

        Names of the scene's own fields (``piece=None``) replace whole parts first. Changes to a part that
        is missing are ignored. Raises TypeError for a name no part has.
        """
        own = {name: value for name, value in changes.items() if name in _names(Scene)}
        rest = {name: value for name, value in changes.items() if name not in own}
        unknown = rest.keys() - {name for kind in _PARTS.values() for name in _names(kind)}
        if unknown:
            raise TypeError(f"no part of a scene has a field named {', '.join(sorted(unknown))}")
        scene = replace(self, **own)
        parts = {
            part: replace(getattr(scene, part), **{k: v for k, v in rest.items() if k in _names(kind)})
            for part, kind in _PARTS.items()
            if getattr(scene, part) is not None
        }
        return replace(scene, **parts)


def _names(kind: type) -> frozenset[str]:
    return frozenset(part.name for part in fields(kind))


_PARTS: dict[str, type] = {"card": Card, "piece": Piece, "light": Light, "camera": Camera, "phone": Phone}
"""Parts whose fields `Scene.changed` reaches by name; no name occurs in two of them."""
