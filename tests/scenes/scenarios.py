"""Realistic scenes drawn by seed."""

from typing import Any

import numpy as np

from dyecast_calibration.card_layout import CardLayout, known_layouts
from scenes.artworks import DRAWN_AT_RANDOM, artwork
from scenes.observers import MEASURED_CAMERAS, PHONE_CAMERAS
from scenes.pressing import GOOD_DOSE, OVER_DOSE, UNDER_DOSE, State, pressing_at
from scenes.scene import Camera, Card, GlareBlob, Light, Phone, Piece, Profile, Scene, Shape, Table
from scenes.spoiling import SPOILED_KINDS, SpoiledKind, spoil

__all__ = ["SPOILED_KINDS", "SpoiledKind", "random_scene", "spoil"]

STATES: tuple[State, ...] = ("under-pressed", "good", "over-pressed")
DOSES = dict(zip(STATES, (UNDER_DOSE, GOOD_DOSE, OVER_DOSE), strict=True))
LIGHTS = ("D50", "D65", "FL2", "FL11", "LED-B1", "LED-B2", "LED-B3", "LED-B4", "LED-B5", "LED-RGB1", "A")
TABLES: tuple[Table, ...] = ("wood", "oak", "cloth", "laminate", "dark", "white", "tinted")
SHAPES: tuple[Shape, ...] = ("square", "rectangle", "rounded", "round")
PROFILES: tuple[Profile, ...] = ("sRGB", "Display P3")
SENSORS = (*PHONE_CAMERAS, MEASURED_CAMERAS[0])
SIZES_MM = ((100.0, 100.0), (90.0, 90.0), (120.0, 90.0), (90.0, 120.0), (150.0, 100.0), (200.0, 150.0))
"""Coasters, tiles and plates."""

ARTWORK_PIXELS = 480
GAP_MM = (15.0, 45.0)
"""Between card and piece before both are turned a little."""

TILT_DEG = (0.0, 30.0)

Generator = np.random.Generator


def _pick(random: Generator, choices: tuple[Any, ...]) -> Any:
    return choices[int(random.integers(len(choices)))]


def random_scene(
    seed: int,
    state: State | None = None,
    layout: CardLayout | None = None,
    artwork_name: str | None = None,
    **overrides: Any,
) -> Scene:
    """Draw a realistic scene; the same for the same seed.

    `state` picks the dose range, `artwork_name` one of `scenes.artworks.ARTWORKS`; every other field of any
    part may be set by name (see `Scene.changed`), which changes nothing else of the draw.
    """
    random = np.random.default_rng((seed, 7))
    wanted: State = state or _pick(random, STATES)
    dose = float(random.uniform(*DOSES[wanted]))
    card = _random_card(random, layout or known_layouts()[0])
    name = artwork_name or _pick(random, DRAWN_AT_RANDOM)
    piece = _random_piece(random, card, name, seed, dose)
    scene = Scene(
        card=card,
        piece=piece,
        table=_pick(random, TABLES),
        light=_random_light(random),
        camera=_random_camera(random),
        phone=_random_phone(random),
    )
    return scene.changed(**overrides)


def _random_card(random: Generator, layout: CardLayout) -> Card:
    return Card(
        layout=layout,
        card_x_mm=layout.width / 2.0,
        card_y_mm=layout.height / 2.0,
        card_rotation_deg=float(random.normal(0.0, 4.0)),
        bend_mm=float(random.choice([0.0, random.uniform(0.1, 0.8)])),
        gloss=float(random.uniform(0.0, 0.006)),
    )


def _random_piece(random: Generator, card: Card, name: str, seed: int, dose: float) -> Piece:
    shape: Shape = _pick(random, SHAPES)
    width, height = _pick(random, SIZES_MM[:2] if shape in {"square", "round"} else SIZES_MM)
    border = float(random.choice([0.0, 0.0, random.uniform(2.0, 6.0)]))
    scale = ARTWORK_PIXELS / max(width - 2 * border, height - 2 * border)
    pixels = [round((side - 2 * border) * scale) for side in (width, height)]
    beside = card.layout.width / 2.0 + width / 2.0 + float(random.uniform(*GAP_MM))
    below = card.layout.height / 2.0 + height / 2.0 + float(random.uniform(*GAP_MM))
    right = bool(random.random() < 0.6)
    slide = float(random.uniform(-20.0, 20.0))
    glass = bool(random.random() < 0.7)
    return Piece(
        artwork=artwork(name, seed, pixels[0], pixels[1]),
        pressing=pressing_at(dose, seed, unevenness=float(random.uniform(0.0, 0.06))),
        width_mm=width,
        height_mm=height,
        shape=shape,
        corner_radius_mm=8.0 if shape == "rounded" else 0.0,
        border_mm=border,
        x_mm=card.card_x_mm + (beside if right else slide),
        y_mm=card.card_y_mm + (slide if right else below),
        rotation_deg=float(random.normal(0.0, 6.0)),
        mirrored=bool(glass and random.random() < 0.1),
        thickness_mm=float(random.uniform(3.0, 6.0) if glass else random.uniform(0.8, 5.0)),
        glass=glass,
        glass_tint=float(random.uniform(0.0, 0.6)) if glass else 0.0,
        veil=float(random.uniform(0.0, 0.05)) if glass else 0.0,
        veil_gradient=float(random.uniform(-0.8, 0.8)),
        glare=_random_glare(random, width, height) if glass and random.random() < 0.3 else (),
    )


def _random_glare(random: Generator, width: float, height: float) -> tuple[GlareBlob, ...]:
    """One to three tubes or bulbs side by side, near an edge more often than not."""
    x, y = random.uniform(0.0, width), random.uniform(0.0, height)
    half_width, half_height = random.uniform(2.0, 6.0), random.uniform(4.0, 18.0)
    turn, strength = float(random.uniform(0.0, 180.0)), float(random.uniform(0.2, 1.2))
    return tuple(
        GlareBlob(float(x + index * 14.0), float(y), float(half_width), float(half_height), turn, strength)
        for index in range(int(random.integers(1, 4)))
    )


def _random_light(random: Generator) -> Light:
    shadow = bool(random.random() < 0.15)
    return Light(
        illuminant=_pick(random, LIGHTS),
        gradient=float(random.uniform(0.0, 0.22)),
        gradient_direction_deg=float(random.uniform(0.0, 360.0)),
        falloff=float(random.uniform(0.0, 0.15)),
        shadow_depth=float(random.uniform(0.05, 0.20)) if shadow else 0.0,
        shadow_x_mm=float(random.uniform(60.0, 240.0)),
        shadow_y_mm=float(random.uniform(20.0, 120.0)),
        shadow_direction_deg=float(random.uniform(0.0, 360.0)),
        shadow_softness_mm=float(random.uniform(6.0, 40.0)),
        table_sheen=float(random.choice([0.0, random.uniform(0.0, 0.15)])),
        contact_shadow=float(random.uniform(0.2, 0.6)),
    )


def _random_camera(random: Generator) -> Camera:
    upright = bool(random.random() < 0.4)
    return Camera(
        width_px=1500 if upright else 2000,
        height_px=2000 if upright else 1500,
        focal_length_35mm=float(random.choice([24.0, 26.0, 28.0, 48.0])),
        tilt_deg=float(random.uniform(*TILT_DEG)),
        tilt_direction_deg=float(random.uniform(0.0, 360.0)),
        roll_deg=float(random.choice([random.normal(0.0, 8.0), random.uniform(-180.0, 180.0)])),
        margin=float(random.uniform(0.03, 0.15)),
        radial_distortion=float(random.uniform(-0.02, 0.02)),
        vignetting=float(random.uniform(0.0, 0.2)),
    )


def _random_phone(random: Generator) -> Phone:
    return Phone(
        sensor=_pick(random, SENSORS),
        exposure=float(random.uniform(0.55, 0.90)),
        white_balance_error=_random_balance(random),
        saturation=float(random.uniform(1.0, 1.2)),
        contrast=float(random.uniform(0.0, 0.4)),
        flare=float(random.uniform(0.0, 0.01)),
        noise=float(random.uniform(0.5, 3.0)),
        blur_px=float(random.uniform(0.4, 1.1)),
        sharpening=float(random.uniform(0.0, 0.6)),
        jpeg_quality=int(random.integers(78, 97)),
        colour_profile=_pick(random, PROFILES),
        exif_orientation=int(random.choice([1, 1, 3, 6, 8])),
    )


def _random_balance(random: Generator) -> tuple[float, float, float]:
    """Right in half of the scenes, warm, cool, green or magenta in the other half."""
    strength = float(random.uniform(0.03, 0.12)) if random.random() < 0.5 else 0.0
    red, green, blue = (
        np.array(_pick(random, ((1, 0, -1), (-1, 0, 1), (0, 1, 0), (0, -1, 0)))) * strength + 1.0
    )
    return (float(red), float(green), float(blue))
