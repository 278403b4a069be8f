"""Card values from end to end: photos of two cards, or a measurement file, to a surer inspection.

Nothing is faked here: the photos come from the scene maker, and every command is the one a shop types.
"""

import json
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from typer.testing import CliRunner, Result

from api.batches.batch_shop import done, refused, set_up
from dyecast_api.cli import app
from dyecast_api.store.data_folder import FOLDER_VARIABLE
from dyecast_calibration.card_layout import layout_named
from dyecast_calibration.card_values import load_card_values
from dyecast_shared.delta_e import delta_e_2000
from printed_cards import home_printed, photo_of_two_cards, true_colours
from scenes.render import render, write_photo
from scenes.scenarios import random_scene

A6, POCKET = layout_named("a6"), layout_named("pocket")
PRINTED = home_printed(POCKET)
CGATS_HEAD = """CGATS.17
ILLUMINATION_NAME "D50"
OBSERVER_ANGLE "2"
BEGIN_DATA_FORMAT
SAMPLE_NAME LAB_L LAB_A LAB_B
END_DATA_FORMAT
"""


def dyecast(*arguments: str) -> Result:
    return CliRunner().invoke(app, list(arguments), prog_name="dyecast")


def measurements(path: Path, printed: Any) -> Path:
    rows = [f"{name} {lab[0]:.2f} {lab[1]:.2f} {lab[2]:.2f}" for name, lab in true_colours(printed).items()]
    data = f"NUMBER_OF_SETS {len(rows)}\nBEGIN_DATA\n" + "\n".join(rows) + "\nEND_DATA\n"
    path.write_text(CGATS_HEAD + data)
    return path


def photo_of_a_good_piece(folder: Path) -> tuple[Path, Path]:
    """Photograph a good matt tile beside the home-printed pocket card; return photo and artwork."""
    scene = random_scene(
        4, "good", PRINTED, "tiles", glass=False, veil=0.0, glare=(), illuminant="D50", shape="square",
        width_mm=90.0, height_mm=90.0, border_mm=0.0, mirrored=False, tilt_deg=5.0, shadow_depth=0.0,
    )  # fmt: skip
    write_photo(folder / "tile.jpg", render(scene, 4))
    assert scene.piece is not None
    cv2.imwrite(str(folder / "artwork.png"), scene.piece.artwork[..., ::-1])
    return folder / "tile.jpg", folder / "artwork.png"


def inspected(photo: Path, artwork: Path, *options: str) -> dict[str, Any]:
    result = dyecast("inspect", str(photo), "--artwork", str(artwork), "--json", *options)
    document: dict[str, Any] = json.loads(result.stdout)
    return document


def from_truth(values_file: Path) -> float:
    """Mean CIEDE2000 of a values file from what the printed pocket card really shows."""
    values, truth = load_card_values(values_file, POCKET).lab_d50, true_colours(PRINTED)
    pairs = np.array([(values[name], truth[name]) for name in truth])
    return float(np.mean(delta_e_2000(pairs[:, 0], pairs[:, 1])))


def test_a_card_too_far_off_to_be_used_as_designed_is_used_after_photos_beside_a_measured_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    measurements(Path("a6.txt"), A6)
    assert dyecast("card-values", "measured", "a6.txt", "--out", "a6.json").exit_code == 0
    photos = [str(photo_of_two_cards(tmp_path / f"two-{seed}.jpg", PRINTED, seed)) for seed in (5, 6, 8)]
    result = dyecast(
        "card-values", "transferred", *photos, "--trusted-values", "a6.json", "--out", "pocket.json"
    )
    assert result.exit_code == 0, result.output
    first, spread = result.stdout.splitlines()
    assert first == "pocket.json: colours of card pocket, edition 1, transferred."
    assert spread.startswith("The single readings differ from it by ΔE00 0.")
    assert from_truth(Path("pocket.json")) < 0.8

    photo, artwork = photo_of_a_good_piece(tmp_path)
    before = inspected(photo, artwork)
    assert (before["verdict"], before["card"]["trust"]) == ("retake", "as designed")
    assert before["reasons"][0]["code"] == "colour-uncertain"
    after = inspected(photo, artwork, "--card-values", "pocket.json")
    assert (after["verdict"], after["card"]["trust"]) == ("good", "transferred")
    assert after["card"]["leave_one_out_mean"] < before["card"]["leave_one_out_mean"] / 2
    assert after["delta_e_2000"]["median"] < 3.0


def test_or_after_it_was_measured(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    measurements(Path("pocket.txt"), PRINTED)
    options = ("--layout", "pocket", "--out", "pocket.json")
    assert dyecast("card-values", "measured", "pocket.txt", *options).exit_code == 0
    assert from_truth(Path("pocket.json")) < 0.05
    photo, artwork = photo_of_a_good_piece(tmp_path)
    after = inspected(photo, artwork, "--card-values", "pocket.json")
    assert (after["verdict"], after["card"]["trust"]) == ("good", "measured")
    assert after["delta_e_2000"]["median"] < 3.0


def test_values_kept_with_the_shop_correct_its_batches_too(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv(FOLDER_VARIABLE, str(tmp_path / "data"))
    measurements(Path("pocket.txt"), PRINTED)
    dyecast("card-values", "measured", "pocket.txt", "--layout", "pocket", "--out", "pocket.json")
    photo, artwork = photo_of_a_good_piece(tmp_path)
    set_up()
    done("batch", "start", "May", "--recipe", "coasters", "--artwork", artwork)
    assert "has to be taken again: The card's colours come out only" in refused("batch", "add", "May", photo)
    kept = dyecast("card-values", "keep", "pocket.json")
    assert kept.stdout == "Kept: colours of card pocket, edition 1, measured.\n"
    assert "Piece 1" in done("batch", "add", "May", photo)


def test_two_cards_of_one_kind_are_refused_with_the_reason(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    measurements(Path("a6.txt"), A6)
    assert dyecast("card-values", "measured", "a6.txt", "--out", "a6.json").exit_code == 0
    result = dyecast(
        "card-values", "transferred", "two.jpg", "--layout", "a6", "--trusted-values", "a6.json",
        "--out", "new.json",
    )  # fmt: skip
    assert result.exit_code == 2
    assert "which is which" in " ".join(result.stderr.split())
    assert not Path("new.json").exists()
