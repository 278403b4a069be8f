"""Cards as a home printer makes them, photographed beside each other: test support, not shipped."""

from dataclasses import replace
from pathlib import Path

import numpy as np

from dyecast_calibration.card_layout import CardLayout, layout_named
from dyecast_calibration.card_values import CardValues, Lab, Trust, designed_values
from scenes.card_surface import printed_lab
from scenes.render import render, write_photo
from scenes.scenarios import random_scene
from scenes.scene import Card, Scene

GAP_MM = 8.0
"""Between the two cards."""

NEW_CARD_TURN_DEG = 90.0


def home_printed(layout: CardLayout, seed: int = 3) -> CardLayout:
    """Return the card as a printer with weak, warm inks and lifted blacks makes it; places stay."""
    random = np.random.default_rng(seed)
    patches = []
    for patch in layout.patches:
        lightness, a, b = designed_values(layout).lab_d50[patch.id]
        off = random.normal(0.0, 1.5, 3)
        printed = (min(96.0, 10 + 0.86 * lightness + off[0]), 0.85 * a + 1.5 + off[1], 0.85 * b - 2 + off[2])
        patches.append(replace(patch, lab_d50=printed))
    return replace(layout, patches=tuple(patches))


def true_colours(printed: CardLayout) -> dict[str, Lab]:
    """Return the printed patches' CIELAB (D50) from their reflectances, by patch id."""
    colours = printed_lab(printed).tolist()
    return {patch.id: (lab[0], lab[1], lab[2]) for patch, lab in zip(printed.patches, colours, strict=True)}


def measured_card(printed: CardLayout) -> CardValues:
    """Return what a spectrophotometer would say of a printed card."""
    return CardValues(Trust.MEASURED, true_colours(printed), None, "read from the scene's spectra", None)


def photo_of_two_cards(path: Path, new: CardLayout, seed: int, **changes: object) -> Path:
    """Photograph an a6 card and, to its right or left by turns, a new one, in the light of a drawn scene."""
    trusted = layout_named("a6")
    drawn = random_scene(seed)
    side = 1 if seed % 2 == 0 else -1
    beside = side * (trusted.width / 2 + new.height / 2 + GAP_MM)
    other = Card(
        new, trusted.width / 2 + beside, trusted.height / 2, card_rotation_deg=NEW_CARD_TURN_DEG, gloss=0.002
    )
    scene = Scene(drawn.card, None, drawn.table, drawn.light, drawn.camera, drawn.phone, extra_card=other)
    write_photo(path, render(scene.changed(**changes), seed))
    return path
