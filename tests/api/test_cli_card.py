"""`dyecast card` and `dyecast card-values`: printing the card and knowing its colours."""

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pypdfium2
import pytest
from PIL import Image
from typer.testing import CliRunner, Result

from dyecast_api import transfer_stage
from dyecast_api.cli import app
from dyecast_calibration.card_layout import CardLayout, layout_named
from dyecast_calibration.card_values import (
    CardValues,
    Lab,
    designed_values,
    load_card_values,
    save_card_values,
)
from dyecast_shared.errors import CardClipped


@pytest.fixture(autouse=True)
def empty_folder(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.chdir(tmp_path)


def dyecast(*arguments: str) -> Result:
    return CliRunner().invoke(app, list(arguments), prog_name="dyecast")


def test_without_options_the_a6_card_is_written_as_a_pdf_page() -> None:
    result = dyecast("card")
    assert result.exit_code == 0
    assert result.stdout == "dyecast-card-a6.pdf: card a6, edition 1.\n"
    assert "100 %" in result.stderr
    with pypdfium2.PdfDocument("dyecast-card-a6.pdf") as document:
        assert len(document) == 1
        width, height = document[0].get_size()
    assert (round(width / 72 * 25.4), round(height / 72 * 25.4)) == (210, 297)


def test_the_ending_of_the_name_chooses_the_kind_of_file() -> None:
    assert dyecast("card", "--layout", "pocket", "--out", "card.png", "--dpi", "100").exit_code == 0
    layout = layout_named("pocket")
    with Image.open("card.png") as picture:
        assert picture.size == (round(layout.width / 25.4 * 100), round(layout.height / 25.4 * 100))
        assert picture.info["dpi"][0] == pytest.approx(100, abs=0.1)


def test_a_mirrored_card_is_the_card_flipped_left_to_right() -> None:
    plain = dyecast("card", "--png", "--dpi", "60", "--out", "plain.png")
    mirrored = dyecast("card", "--png", "--dpi", "60", "--mirrored", "--out", "mirrored.png")
    assert (plain.exit_code, mirrored.exit_code) == (0, 0)
    with Image.open("plain.png") as one, Image.open("mirrored.png") as other:
        assert (np.asarray(one)[:, ::-1] == np.asarray(other)).all()


def test_a_mirrored_card_says_so_in_its_default_name() -> None:
    assert dyecast("card", "--mirrored").stdout.startswith("dyecast-card-a6-mirrored.pdf: ")


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--layout", "a7"), "Choose one of: a6, pocket"),
        (("--pdf", "--out", "card.png"), "the other kind"),
        (("--dpi", "300"), "a PDF has no dpi"),
        (("--page", "a3"), "choose one of a4, a5, letter"),
        (("--png", "--dpi", "5"), "dpi"),
        (("--out", "missing/card.pdf"), "could not be written"),
        (("--card", "missing.json"), "missing.json"),
    ],
)
def test_what_cannot_be_done_ends_with_status_2_and_a_sentence(
    arguments: tuple[str, ...], words: str
) -> None:
    result = dyecast("card", *arguments)
    assert result.exit_code == 2
    assert words in " ".join(result.stderr.split())
    assert result.stdout == ""
    assert list(Path().iterdir()) == []


def measurement_file(layout: CardLayout) -> str:
    rows = [
        f"{name} {lab[0]:.3f} {lab[1]:.3f} {lab[2]:.3f}"
        for name, lab in designed_values(layout).lab_d50.items()
    ]
    return "\n".join(
        [
            "CGATS.17",
            "BEGIN_DATA_FORMAT",
            "SAMPLE_NAME LAB_L LAB_A LAB_B",
            "END_DATA_FORMAT",
            f"NUMBER_OF_SETS {len(rows)}",
            "BEGIN_DATA",
            *rows,
            "END_DATA\n",
        ]
    )


def test_measurements_become_a_values_file_of_the_card() -> None:
    layout = layout_named("pocket")
    Path("readings.txt").write_text(measurement_file(layout))
    result = dyecast("card-values", "measured", "readings.txt", "--layout", "pocket", "--out", "values.json")
    assert result.exit_code == 0, result.stderr
    assert result.stdout == "values.json: colours of card pocket, edition 1, measured.\n"
    assert load_card_values(Path("values.json"), layout).trust == "measured"


def test_a_file_that_holds_no_measurements_ends_with_status_2() -> None:
    Path("readings.txt").write_text("shopping list")
    result = dyecast("card-values", "measured", "readings.txt", "--out", "values.json")
    assert result.exit_code == 2
    assert result.stderr.startswith("dyecast: readings.txt: ")
    assert not Path("values.json").exists()


def fake_reader(
    path: Path, *, new: CardLayout, trusted: CardLayout, trusted_values: CardValues
) -> Mapping[str, Lab]:
    """Read every patch as designed; `clipped*` shows only half of the card."""
    if path.name.startswith("clipped"):
        raise CardClipped("Part of the card lies outside the frame.", file=path.name)
    assert (trusted.name, trusted_values.trust) == ("a6", "measured")
    return designed_values(new).lab_d50


def transfer(monkeypatch: pytest.MonkeyPatch, *photos: str) -> Result:
    monkeypatch.setattr(transfer_stage, "load_read_card_beside", lambda: fake_reader)
    layout = layout_named("a6")
    Path("readings.txt").write_text(measurement_file(layout))
    assert dyecast("card-values", "measured", "readings.txt", "--out", "trusted.json").exit_code == 0
    return dyecast(
        "card-values", "transferred", *photos, "--trusted-values", "trusted.json", "--out", "new.json"
    )


def test_photos_beside_a_trusted_card_become_values_of_the_new_card(monkeypatch: pytest.MonkeyPatch) -> None:
    result = transfer(monkeypatch, "one.jpg", "two.jpg", "three.jpg")
    assert result.exit_code == 0, result.stderr
    assert result.stdout.splitlines()[0] == "new.json: colours of card pocket, edition 1, transferred."
    record: dict[str, Any] = json.loads(Path("new.json").read_text())
    assert record["source"] == "3 photos beside card a6, edition 1 (measured)"


def test_a_photo_that_cannot_be_used_is_named_and_left_out(monkeypatch: pytest.MonkeyPatch) -> None:
    result = transfer(monkeypatch, "one.jpg", "clipped.jpg")
    assert result.exit_code == 0
    assert "left out: clipped.jpg: Part of the card lies outside the frame." in result.stderr


def test_without_one_usable_photo_no_file_is_written(monkeypatch: pytest.MonkeyPatch) -> None:
    result = transfer(monkeypatch, "clipped-1.jpg", "clipped-2.jpg")
    assert result.exit_code == 2
    assert "no photo to take the card's values from" in result.stderr
    assert not Path("new.json").exists()


def test_values_of_another_card_are_not_trusted(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(transfer_stage, "load_read_card_beside", lambda: fake_reader)
    pocket = layout_named("pocket")
    save_card_values(Path("wrong.json"), designed_values(pocket), pocket)
    result = dyecast(
        "card-values", "transferred", "a.jpg", "--trusted-values", "wrong.json", "--out", "new.json"
    )
    assert result.exit_code == 2
    assert "belong to card pocket" in result.stderr
