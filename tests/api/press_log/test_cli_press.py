"""`dyecast press` from an empty folder: kept, questioned, contradicted, carried elsewhere; nothing lost."""

import json
from pathlib import Path
from shutil import copytree

import pytest
from typer.testing import CliRunner, Result

from api.fake_stages import load_fake_stages
from dyecast_api import inspect_stages
from dyecast_api.cli import app
from dyecast_api.store.data_folder import FOLDER_VARIABLE


def press(*words: object) -> Result:
    return CliRunner().invoke(app, ["press", *map(str, words)])


def done(*words: object) -> str:
    result = press(*words)
    assert result.exit_code == 0, result.output
    return " ".join(result.stdout.split())


def refused(*words: object) -> str:
    result = press(*words)
    assert result.exit_code == 2, result.output
    return " ".join(result.output.split())


@pytest.fixture(scope="module")
def kept_shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A data folder with one press, one blank and one recipe, made once and copied."""
    folder = tmp_path_factory.mktemp("kept")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv(FOLDER_VARIABLE, str(folder))
        patch.delenv("DYECAST_DATABASE_URL", raising=False)
        fill_shop()
    return folder


@pytest.fixture(autouse=True)
def shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An empty data folder in the working folder."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv(FOLDER_VARIABLE, str(tmp_path / "data"))
    monkeypatch.delenv("DYECAST_DATABASE_URL", raising=False)
    monkeypatch.setattr(inspect_stages, "load_inspect_stages", load_fake_stages)


@pytest.fixture
def set_up(shop: None, kept_shop: Path, tmp_path: Path) -> None:  # noqa: ARG001 (after the empty folder)
    copytree(kept_shop, tmp_path / "data")


def fill_shop() -> None:
    done("add-press", "big", "--hottest", "210C")
    supplier = ("--supplier-temperature", "380F", "--supplier-time", "70s")
    done("add-blank", "magnet", "--material", "glass", "--thickness", "4mm", "--coating", "back", *supplier)
    done(
        "add-recipe",
        "magnets",
        "--press",
        "big",
        "--blank",
        "magnet",
        "--temperature",
        "380F",
        "--time",
        "70",
    )


def graded(grade: str, time: str, *more: str) -> str:
    return done("log", "magnets", "--grade", grade, "--judged-by", "Kim", "--time", time, *more)


def test_an_empty_log_says_so() -> None:
    assert done("list") == "Nothing was logged yet."


@pytest.mark.usefixtures("set_up")
def test_presses_blanks_recipes_and_pressings_are_listed_with_both_units() -> None:
    graded("good", "1:30")
    told = done("list")
    assert "Press big, never above 210 °C (410 °F)" in told
    assert "4 mm glass, coated on the back, supplier says 193 °C (380 °F) for 70 s" in told
    assert "193 °C (380 °F) for 90 s good by Kim" in told


@pytest.mark.usefixtures("set_up")
def test_a_photo_is_inspected_and_its_measured_transfer_kept() -> None:
    Path("under.jpg").write_bytes(b"one")
    told = done("log", "magnets", "--photo", "under.jpg", "--artwork", "a.png")
    assert "under-pressed by dyecast" in told
    assert "% of the dye" in told
    done("export", "log.json")
    (kept,) = json.loads(Path("log.json").read_text())["pressings"]
    assert kept["transferred_fraction_uncertainty"] > 0.0
    assert len(kept["photo_sha256"]) == 64


@pytest.mark.usefixtures("set_up")
def test_the_same_photo_is_not_logged_twice() -> None:
    Path("good.jpg").write_bytes(b"one")
    done("log", "magnets", "--photo", "good.jpg", "--artwork", "a.png")
    told = refused("log", "magnets", "--photo", "good.jpg", "--artwork", "a.png")
    assert "logged already, as pressing 1" in told


@pytest.mark.usefixtures("set_up")
def test_a_photo_to_take_again_logs_nothing_and_says_why() -> None:
    Path("retake.jpg").write_bytes(b"one")
    assert "has to be taken again" in refused("log", "magnets", "--photo", "retake.jpg", "--artwork", "a.png")
    assert "retake" not in done("list")


@pytest.mark.usefixtures("set_up")
def test_a_person_may_grade_what_the_photo_only_measures() -> None:
    Path("under.jpg").write_bytes(b"one")
    told = done(
        "log",
        "magnets",
        "--photo",
        "under.jpg",
        "--artwork",
        "a.png",
        "--grade",
        "good",
        "--judged-by",
        "Kim",
    )
    assert "good by Kim" in told
    assert "% of the dye" in told


@pytest.mark.usefixtures("set_up")
def test_contradictions_are_kept_and_said() -> None:
    graded("over", "60s")
    assert "the shorter pressing 1 (60 s) is over-pressed and the longer" in graded("under", "90s")
    told = done("grade", 2, "--grade", "good", "--judged-by", "Lee")
    assert "graded differently: under-pressed (Kim), good (Lee)" in told


@pytest.mark.usefixtures("set_up")
def test_a_piece_pressed_beyond_a_limit_is_kept_and_said() -> None:
    assert "pressed beyond a limit: 216 °C (420 °F)" in graded("over", "70s", "--temperature", "420F")
    assert "216 °C" in done("list")


@pytest.mark.usefixtures("set_up")
def test_a_clock_that_was_set_back_is_said_and_the_order_of_the_log_stays() -> None:
    graded("good", "70s")
    assert "was the clock set back?" in graded("good", "71s", "--at", "2020-01-01T12:00")
    told = done("list")
    assert told.index("70 s good") < told.index("71 s good")


@pytest.mark.usefixtures("set_up")
def test_taking_back_marks_the_last_pressing_and_keeps_it() -> None:
    graded("good", "80s")
    graded("over", "81s")
    assert "81 s" in done("take-back")
    assert "81 s" not in done("list")
    assert "TAKEN BACK" in done("list", "--all")
    assert "was taken back" in refused("grade", 2, "--grade", "good", "--judged-by", "Kim")


@pytest.mark.usefixtures("set_up")
def test_an_exported_log_is_imported_once_with_grades_and_what_was_taken_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    graded("good", "80s")
    graded("over", "81s")
    done("grade", 1, "--grade", "under", "--judged-by", "Lee")
    done("take-back", 2)
    before = done("list", "--all")
    done("export", "log.json")
    assert done("import", "log.json") == "0 pressings added."
    monkeypatch.setenv(FOLDER_VARIABLE, str(tmp_path / "other"))
    assert done("import", "log.json") == "2 pressings added."
    assert done("list", "--all") == before


@pytest.mark.usefixtures("set_up")
def test_an_import_that_contradicts_what_is_here_changes_nothing() -> None:
    done("export", "log.json")
    written = json.loads(Path("log.json").read_text())
    written["blanks"][0]["thickness_mm"] = 3.0
    written["presses"].append(written["presses"][0] | {"name": "small"})
    Path("log.json").write_text(json.dumps(written))
    assert "here already with other values" in refused("import", "log.json")
    assert "small" not in done("list")


@pytest.mark.parametrize("content", ["", "{}", '{"format": "dyecast-press-log"}', "[1]", "\xff"])
def test_a_file_that_is_no_log_is_refused_by_name(content: str) -> None:
    Path("log.json").write_text(content)
    assert "log.json" in refused("import", "log.json")


def test_a_log_with_a_missing_field_or_a_blank_without_thickness_is_refused() -> None:
    blank = {
        "name": "b",
        "material": "glass",
        "coating_side": "back",
        "created_at": "2026-05-04T12:00:00+00:00",
    }
    for wrong in (blank, blank | {"thickness_mm": 0.0}):
        log = {"format": "dyecast-press-log", "format_version": 1, "presses": [], "blanks": [wrong]}
        Path("log.json").write_text(json.dumps(log | {"recipes": [], "pressings": []}))
        assert "thickness" in refused("import", "log.json")


@pytest.mark.usefixtures("set_up")
@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("log", "magnets"), "--grade with --judged-by"),
        (("log", "magnets", "--grade", "good"), "go together"),
        (("log", "magnets", "--grade", "good", "--judged-by", "dyecast"), "which person"),
        (
            (
                "add-recipe",
                "hot",
                "--press",
                "big",
                "--blank",
                "magnet",
                "--temperature",
                "420F",
                "--time",
                "70s",
            ),
            "lies above the highest of 'big'",
        ),
        (("log", "tiles", "--grade", "good", "--judged-by", "Kim"), "There are: 'magnets'"),
        (("log", "magnets", "--grade", "good", "--judged-by", "Kim", "--time", "-5"), "no time|cannot be"),
        (("log", "magnets", "--grade", "good", "--judged-by", "Kim", "--at", "noon"), "no moment"),
        (("log", "magnets", "--grade", "good", "--judged-by", "Kim", "--temperature", "380C"), "380 °F"),
        (("grade", "9", "--grade", "good", "--judged-by", "Kim"), "no pressing 9"),
        (("grade", "9", "--grade", "good", "--judged-by", " "), "which person"),
        (("take-back",), "no pressing to take back"),
        (("add-press", "big"), "already"),
        (("add-press", "cool", "--hottest", "110C"), "Confirm it with --as-written."),
        (("add-press", "  "), "A name has"),
        (("add-blank", "tile", "--material", "ceramic"), "needs a thickness"),
        (("add-blank", "tile", "--material", "cheese", "--thickness", "8"), "Known are: glass"),
        (
            ("add-blank", "tile", "--material", "ceramic", "--thickness", "8", "--supplier-time", "9"),
            "together",
        ),
        (
            (
                "add-blank",
                "t",
                "--material",
                "glass",
                "--thickness",
                "8",
                "--shortest",
                "90",
                "--longest",
                "60",
            ),
            "lies above",
        ),
    ],
)
def test_bad_input_is_answered_in_words_and_changes_nothing(words: tuple[str, ...], said: str) -> None:
    before = done("list", "--all")
    told = refused(*words)
    assert any(part in told for part in said.split("|")), told
    assert done("list", "--all") == before


@pytest.mark.usefixtures("set_up")
def test_what_was_entered_wrongly_is_changed_and_what_was_logged_stays() -> None:
    done("log", "magnets", "--grade", "good", "--judged-by", "Kim")
    changed = done("change-blank", "magnet", "--thickness", "3mm", "--longest", "5min", "--hottest", "200C")
    assert "3 mm" in changed
    assert "380 °F" in changed
    assert "5 min" in changed
    assert "200 °C" not in done("change-blank", "magnet", "--hottest", "none")
    assert "big" in done("change-press", "big", "--hottest", "none", "--notes", "the left one")
    assert "good by Kim" in done("list")


@pytest.mark.usefixtures("set_up")
@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("change-blank", "plate", "--longest", "5min"), "There is no blank called 'plate'"),
        (("change-blank", "magnet", "--hottest", "150C"), "supplier's temperature lies outside your limits"),
        (("change-blank", "magnet", "--supplier-time", "none"), "is a temperature and a time"),
        (("change-blank", "magnet", "--hottest", "385C"), "385F"),
        (("change-blank", "magnet", "--thickness", "-4mm"), "thickness"),
    ],
)
def test_a_change_that_contradicts_is_refused_and_changes_nothing(words: tuple[str, ...], said: str) -> None:
    before = done("list")
    assert said in refused(*words)
    assert done("list") == before
