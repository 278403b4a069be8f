"""`dyecast demo`: three photos that come with dyecast, and a folder of reports."""

from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from typer.testing import CliRunner

from api.fake_stages import load_fake_stages
from dyecast_api import cli_demo, inspect_stages
from dyecast_api.cli import app
from dyecast_api.cli_demo import demo_pictures
from dyecast_shared.errors import DyecastError
from scenes.make_demo import LARGEST_PHOTO_BYTES, lane


def demo_folder(folder: Path) -> Path:
    folder.mkdir()
    for name in ("artwork.png", "good.jpg", "over.jpg", "under.jpg", "README.md"):
        (folder / name).write_bytes(b"")
    return folder


def test_the_demo_inspects_every_photo_and_says_where_the_reports_are(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(inspect_stages, "load_inspect_stages", load_fake_stages)
    demo_folder(tmp_path / "demo")
    monkeypatch.setattr(cli_demo, "files", lambda _package: tmp_path)
    monkeypatch.chdir(tmp_path)
    result = CliRunner().invoke(app, ["demo"], prog_name="dyecast")
    assert result.exit_code == 0, result.stderr
    lines = result.stdout.splitlines()
    assert lines[0] == "Inspecting 3 photos that come with dyecast against artwork.png."
    assert [line.split()[0] for line in lines[1:4]] == ["Good", "Over-pressed", "Under-pressed"]
    assert lines[-1] == f"Reports: {tmp_path / 'dyecast-demo' / 'index.html'}"
    assert {path.parent.name for path in tmp_path.glob("dyecast-demo/*/report.html")} == {
        "good",
        "over",
        "under",
    }


def test_the_artwork_is_told_from_the_photos_by_its_name(tmp_path: Path) -> None:
    artwork, photos = demo_pictures(demo_folder(tmp_path / "demo"))
    assert artwork.name == "artwork.png"
    assert [photo.name for photo in photos] == ["good.jpg", "over.jpg", "under.jpg"]


def test_an_installation_without_the_demo_says_so(tmp_path: Path) -> None:
    with pytest.raises(DyecastError, match="not part of this installation"):
        demo_pictures(tmp_path / "missing")


SHIPPED = Path(cli_demo.__file__).parent / "demo"


def test_the_photos_that_ship_get_the_three_verdicts(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    result = CliRunner().invoke(app, ["demo"], prog_name="dyecast")
    assert result.exit_code == 0, result.stderr
    told = {line.split(";")[0] for line in result.stdout.splitlines()}
    assert {
        "Under-pressed \u25bd  monday.jpg",
        "Good \u2713  tuesday.jpg",
        "Over-pressed \u25b2  wednesday.jpg",
    } <= told
    assert len(list(Path("dyecast-demo").glob("*/report.html"))) == 3


def test_the_demo_says_that_its_shop_is_invented_and_stays_small() -> None:
    assert "Invented for the demonstration" in (SHIPPED / "README.txt").read_text(encoding="utf-8")
    assert all(path.stat().st_size < LARGEST_PHOTO_BYTES for path in SHIPPED.glob("*.jpg"))


def test_the_artwork_that_ships_is_the_one_its_program_draws() -> None:
    with Image.open(SHIPPED / "artwork.png") as picture:
        assert np.abs(np.asarray(picture).astype(int) - lane()).max() <= 2
