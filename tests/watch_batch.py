"""Watch a batch in an empty folder, pressed by the simulated press, and draw the README's picture of it.

    python tests/watch_batch.py --picture tests/pictures/watch_batch.svg

Twenty-six coasters are pressed for 150 s at 380 °F; from the sixteenth on the platen loses 1 K a piece. Each
is photographed beside the card with another tilt, turn, exposure, veil and fall of light, and added.
"""

import argparse
import os
import sys
import tempfile
from contextlib import chdir
from pathlib import Path

import numpy as np
from PIL import Image
from typer.testing import CliRunner

from dyecast_api.batches.batch_chart_svg import batch_chart_svg
from dyecast_api.batches.opened_shop import opened_shop
from dyecast_api.batches.whole_batch import whole_batch
from dyecast_api.cli import app
from dyecast_api.store.data_folder import FOLDER_VARIABLE
from dyecast_shared.units import fahrenheit_to_kelvin
from inspected_scenes import PLAIN
from scenes.render import render, write_photo
from scenes.scenarios import random_scene
from simulated_press import pressed_piece

PIECES = 26
STEADY_PIECES = 15
LOSS_K = 1.0
SCATTER_K = 0.5
TIME_SCATTER = 0.03
"""How fast the platen cools after the steady pieces, its scatter, and that of the time in its logarithm."""


def piece_photo(number: int, photo: Path) -> None:
    """Press a piece, and write its photo and the artwork beside it."""
    random = np.random.default_rng(number)
    kelvin = fahrenheit_to_kelvin(380.0) - LOSS_K * max(0, number - STEADY_PIECES)
    time = 150.0 * np.exp(TIME_SCATTER * random.standard_normal())
    pressing = pressed_piece(kelvin + SCATTER_K * random.standard_normal(), float(time))
    taken = {
        "tilt_deg": random.uniform(4.0, 10.0),
        "rotation_deg": random.uniform(-8.0, 8.0),
        "exposure": random.uniform(0.68, 0.8),
        "veil": random.uniform(0.006, 0.02),
        "gradient": random.uniform(0.0, 0.15),
    }
    scene = random_scene(1, "good", artwork_name="label", **(PLAIN | taken)).changed(pressing=pressing)
    assert scene.piece is not None
    Image.fromarray(scene.piece.artwork).save(photo.with_name("artwork.png"))
    write_photo(photo, render(scene, number))


def run(*words: str) -> str:
    """Run a command and print it with its answer."""
    result = CliRunner().invoke(app, list(words))
    sys.stdout.write(f"$ dyecast {' '.join(words)}\n{result.output}\n")
    sys.stdout.flush()
    return result.output


def play(folder: Path, pieces: int = PIECES) -> str:
    """Play the story into a folder; return what the last piece's command said."""
    settings = ("--temperature", "380F", "--time", "150s")
    run("press", "add-press", "front")
    run("press", "add-blank", "coaster", "--material", "glass", "--thickness", "4mm", "--coating", "back")
    run("press", "add-recipe", "coasters", "--press", "front", "--blank", "coaster", *settings)
    told = ""
    for number in range(1, pieces + 1):
        photo = folder / f"piece-{number}.jpg"
        piece_photo(number, photo)
        if number == 1:
            run("batch", "start", "May", "--recipe", "coasters", "--artwork", "artwork.png")
        moment = f"2026-05-04T{8 + number // 10:02}:{6 * (number % 10):02}+00:00"
        told = run("batch", "add", "May", photo.name, "--at", moment)
        if number == 1:
            run("batch", "approve", "May", "--by", "Kim")
    run("batch", "show", "May", "--out", "page")
    run("batch", "close", "May", "--by", "Kim", "--out", "certificate")
    return told


def main() -> None:
    """Play the story, print it, and draw the chart of the ink."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--picture", type=Path)
    given = parser.parse_args()
    place = None if given.picture is None else given.picture.resolve()
    with tempfile.TemporaryDirectory() as temporary, chdir(temporary):
        os.environ[FOLDER_VARIABLE] = temporary
        play(Path(temporary))
        if place is not None:
            with opened_shop() as shop:
                ink, *_ = whole_batch(shop, "May").charts.quantities
            place.write_text(batch_chart_svg(ink), encoding="utf-8")


if __name__ == "__main__":
    main()
