"""`dyecast calibrate`: teaching, listing, taking back, carrying elsewhere; bad input loses nothing."""

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from dyecast_api.cli import app
from dyecast_calibration.shop_profile import read_shop_profile
from inspected_scenes import SeenPiece, SeenPieces
from scenes.artworks import artwork

PROFILE = Path("shop.json")


def calibrate(*words: object) -> Result:
    return CliRunner().invoke(app, ["calibrate", *map(str, words), "--profile", str(PROFILE)])


def artwork_of(piece: SeenPiece) -> Path:
    return piece.path.with_suffix(".png")


@pytest.fixture(scope="module")
def seen(tmp_path_factory: pytest.TempPathFactory) -> SeenPieces:
    return SeenPieces(tmp_path_factory.mktemp("pieces"))


@pytest.fixture(autouse=True)
def in_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


@pytest.fixture
def taught(seen: SeenPieces) -> SeenPieces:
    good = seen["good"]
    result = calibrate("approve", good.path, "--artwork", artwork_of(good))
    assert result.exit_code == 0, result.output
    return seen


@pytest.mark.usefixtures("taught")
def test_an_approved_piece_is_added_with_its_colours_and_listed() -> None:
    (piece,) = read_shop_profile(PROFILE).pieces
    assert (piece.kind, piece.grade) == ("approved", "good")
    assert len(piece.colours) >= 2
    assert "1 approved and 0 labelled pieces" in calibrate("list").stdout


def test_a_labelled_piece_is_added_with_its_grade_and_undo_takes_it_back(taught: SeenPieces) -> None:
    pale = taught["under-pressed"]
    assert calibrate("label", pale.path, "--artwork", artwork_of(pale), "--as", "under").exit_code == 0
    assert [piece.grade for piece in read_shop_profile(PROFILE).pieces] == ["good", "under-pressed"]
    assert "Taken back" in calibrate("undo").stdout
    assert [piece.grade for piece in read_shop_profile(PROFILE).pieces] == ["good"]


def test_a_label_that_contradicts_an_earlier_one_is_refused_and_nothing_is_lost(taught: SeenPieces) -> None:
    before, good = PROFILE.read_text(), taught["good"]
    result = calibrate("label", good.path, "--artwork", artwork_of(good), "--as", "under")
    assert result.exit_code == 2
    assert "which is good" in result.output
    assert PROFILE.read_text() == before


def test_an_approved_piece_with_another_artwork_is_refused_and_nothing_is_lost(taught: SeenPieces) -> None:
    before, good = PROFILE.read_text(), taught["good"]
    taught.artwork("other", artwork("tiles", 5))
    result = calibrate("approve", good.path, "--artwork", taught.folder / "other.png")
    assert result.exit_code == 2
    assert "Nothing beside the card looks like the artwork" in result.output
    assert PROFILE.read_text() == before


@pytest.mark.usefixtures("taught")
def test_a_profile_is_exported_and_imported_without_doubling_pieces() -> None:
    assert calibrate("export", "copy.json").exit_code == 0
    assert json.loads(Path("copy.json").read_text())["format"] == "dyecast-shop"
    assert "0 pieces added, 1 in all" in calibrate("import", "copy.json").stdout
    PROFILE.unlink()
    assert "1 piece added, 1 in all" in calibrate("import", "copy.json").stdout


def test_a_damaged_profile_is_refused_by_name_and_left_as_it_was() -> None:
    PROFILE.write_text("{")
    result = calibrate("list")
    assert result.exit_code == 2
    assert "shop.json" in result.output
    assert PROFILE.read_text() == "{"


def test_nothing_taught_is_said_in_words() -> None:
    assert "Nothing was taught yet" in calibrate("list").stdout
    result = calibrate("undo")
    assert result.exit_code == 2
    assert "nothing to undo" in result.output
