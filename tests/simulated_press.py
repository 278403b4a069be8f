"""A press that exists only in the computer: presses a blank and writes the photo of the piece.

    python tests/simulated_press.py piece-1.jpg --temperature 380F --time 70s

The truth is invented and told to nobody: the platen is 9 K cooler than it shows, contact is 0.65 times the
usual, the blank is 4 mm of glass, dye and coating are as the priors' centres say. What the press model makes
of it is rendered by the tests' scene maker; the artwork is written beside the photo as artwork.png.
"""

import argparse
from dataclasses import replace
from pathlib import Path
from typing import Final

import numpy as np
from PIL import Image

from dyecast_api.press_log.entered_values import entered_temperature, entered_time
from dyecast_calibration.grading_limits import grading_limits
from dyecast_calibration.press.press_model import expected_pressing
from dyecast_calibration.press.press_parameters import PressParameters
from dyecast_calibration.press.press_priors import typical_parameters
from dyecast_calibration.press.press_stack import pressed_stack
from inspected_scenes import PLAIN
from scenes.pressing import CYAN_LAG, Pressing
from scenes.render import render, write_photo
from scenes.scenarios import random_scene
from scenes.scene import Scene

PLATEN_OFFSET: Final = -9.0
CONTACT: Final = 0.65
BLANK: Final = pressed_stack("glass", 4e-3)
"""K; times the usual; what lies in the press."""


def truth() -> PressParameters:
    """Return what this press, dye and coating really are."""
    usual = typical_parameters()
    return replace(
        usual, platen_offset=PLATEN_OFFSET, contact_scale=CONTACT * np.asarray(usual.contact_scale)
    )


def pressed_piece(kelvin: float, seconds: float) -> Pressing:
    """Press a piece; return what the scene maker needs of it."""
    expected = expected_pressing(BLANK, kelvin, [seconds], truth())
    ink, damage = float(expected.transferred[0, 0]), float(expected.damage[0, 0])
    limits = grading_limits()
    return Pressing(
        dose=ink,
        transferred=ink,
        by_dye=(1.0 - CYAN_LAG * (1.0 - ink), 1.0, 1.0),
        yellowing=limits.most_yellowing * damage,
        bleed_mm=float(np.sqrt(limits.most_bleed) * damage),
    )


def photographed(kelvin: float, seconds: float) -> Scene:
    """Lay the piece beside the card under a lamp."""
    scene = random_scene(1, "good", artwork_name="label", **PLAIN)
    return scene.changed(pressing=pressed_piece(kelvin, seconds))


def press_piece(photo: Path, kelvin: float, seconds: float) -> None:
    """Press a piece, write its photo, and the artwork beside it."""
    scene = photographed(kelvin, seconds)
    assert scene.piece is not None
    Image.fromarray(scene.piece.artwork).save(photo.with_name("artwork.png"))
    write_photo(photo, render(scene, len(photo.stem)))


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("photo", type=Path)
    parser.add_argument("--temperature", required=True)
    parser.add_argument("--time", required=True)
    given = parser.parse_args()
    press_piece(given.photo, entered_temperature(given.temperature), entered_time(given.time))
