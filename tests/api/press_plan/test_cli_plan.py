"""`dyecast plan` and `dyecast press again`: advice within the limits, refusals in words, maps with words."""

import re
import time
from pathlib import Path
from shutil import copytree
from xml.etree import ElementTree

import pytest
from typer.testing import CliRunner, Result

from dyecast_api.cli import app
from dyecast_api.press_log.entered_values import entered_temperature, entered_time
from dyecast_api.store.data_folder import FOLDER_VARIABLE

ADVICE = re.compile(r"Next: press .+ at (\d+) °C \((\d+) °F\) for ([^(.]+)")


def dyecast(*words: object) -> Result:
    return CliRunner().invoke(app, [*map(str, words)])


def done(*words: object) -> str:
    result = dyecast(*words)
    assert result.exit_code == 0, result.output
    return result.stdout


def refused(*words: object) -> str:
    result = dyecast(*words)
    assert result.exit_code == 2, result.output
    return " ".join(result.output.split())


@pytest.fixture(scope="module")
def kept_shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The data folder of a shop with one press and one blank, made once and copied."""
    folder = tmp_path_factory.mktemp("kept")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv(FOLDER_VARIABLE, str(folder))
        patch.delenv("DYECAST_DATABASE_URL", raising=False)
        done("press", "add-press", "big")
        add_blank("magnet")
    return folder


@pytest.fixture(autouse=True)
def shop(kept_shop: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The shop, in a folder of its own."""
    copytree(kept_shop, tmp_path / "data")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv(FOLDER_VARIABLE, str(tmp_path / "data"))
    monkeypatch.delenv("DYECAST_DATABASE_URL", raising=False)


def add_blank(name: str, *more: str, material: str = "glass") -> None:
    thick = ("--material", material, "--thickness", "4mm")
    supplier = ("--supplier-temperature", "380F", "--supplier-time", "60s")
    done("press", "add-blank", name, *thick, *supplier, *more)
    usual = ("--press", "big", "--temperature", "380F", "--time", "60s")
    done("press", "add-recipe", f"{name}s", "--blank", name, *usual)


def graded(grade: str, seconds: str, blank: str = "magnet") -> None:
    done("press", "log", f"{blank}s", "--grade", grade, "--judged-by", "Kim", "--time", seconds)


def advised(blank: str = "magnet", *more: str) -> tuple[float, float]:
    """Return what is advised, K by the Fahrenheit figure, and s."""
    found = ADVICE.search(done("plan", blank, "--press", "big", *more))
    assert found is not None
    return entered_temperature(f"{found[2]}F"), entered_time(found[3])


def test_before_the_first_piece_the_plan_starts_from_the_suppliers_figure() -> None:
    told = done("plan", "magnet", "--press", "big")
    assert "Nothing is known of this blank here but the supplier's 193 °C (380 °F) for 60 s." in told
    assert re.search(r"Chance of a good piece .+ %, pale .+ %, over-pressed .+ %\.", told)
    assert "Blanks still to lose until the first good piece" in told
    assert "never hotter than the supplier says" in told
    assert "suppliers' sheets" in told or "supplier's sheets" in told


def test_the_map_has_words_for_every_sign_and_shows_what_was_pressed() -> None:
    graded("under", "60s")
    told = done("plan", "magnet", "--press", "big")
    for words in ("/ likely pale", "x likely over-pressed", "# good with 90 %", "U under-pressed", "N next"):
        assert words in told
    rows = [line for line in told.splitlines() if re.match(r" *\d+ °C \(\d+ °F\) [#+\-/x.UGON ]+$", line)]
    assert len(rows) >= 3
    assert sum("U" in row for row in rows) == sum("N" in row for row in rows) == 1


def test_limits_of_blank_and_press_bind_the_advice() -> None:
    add_blank("plate", "--hottest", "380F", "--coolest", "370F", "--longest", "70s", "--shortest", "50s")
    for _ in range(2):
        graded("under", "60s", "plate")
    kelvin, seconds = advised("plate")
    assert entered_temperature("370F") - 0.01 <= kelvin <= entered_temperature("380F") + 0.01
    assert 50.0 <= seconds <= 70.0


def test_after_a_good_piece_the_goal_is_the_centre() -> None:
    graded("good", "2min")
    assert "the centre of the window" in done("plan", "magnet", "--press", "big")


def test_small_steps_come_with_a_dear_blank_or_when_asked_for() -> None:
    assert advised("magnet", "--steps", "small")[1] <= 60.0 * 1.3
    add_blank("board", "--cost", "18", "--currency", "EUR")
    assert advised("board")[1] <= 60.0 * 1.3
    assert "because a blank is dear" in done("plan", "board", "--press", "big")


def test_a_later_plan_counts_what_other_blanks_taught_of_the_press() -> None:
    add_blank("sign", material="aluminium")
    graded("under", "60s", "sign")
    assert "and of 1 piece of other blanks on this press" in done("plan", "magnet", "--press", "big")


def test_a_plan_without_the_suppliers_figure_or_between_closed_limits_is_refused() -> None:
    done("press", "add-blank", "bare", "--material", "glass", "--thickness", "4mm")
    assert "makes up no recipe" in refused("plan", "bare", "--press", "big")
    done("press", "add-press", "cool", "--hottest", "150C")
    add_blank("warm", "--coolest", "370F")
    assert "leave nothing between them" in refused("plan", "warm", "--press", "cool")
    assert "There are: 'big'" in refused("plan", "magnet", "--press", "small")


@pytest.mark.parametrize("name", ["plan.html", "plan.svg"])
def test_a_written_plan_needs_nothing_else_and_says_in_words_what_its_map_shows(name: str) -> None:
    graded("under", "60s")
    done("plan", "magnet", "--press", "big", "--out", name)
    written = Path(name).read_text(encoding="utf-8")
    assert "Each field holds the chance of a good piece" in written
    assert not re.search(r"https?://(?!www\.w3\.org)", written)
    assert "<script" not in written


def test_the_picture_is_well_formed_and_names_are_escaped() -> None:
    add_blank("<b>&")
    done("plan", "<b>&", "--press", "big", "--out", "plan.svg")
    picture = ElementTree.parse("plan.svg").getroot()
    assert any(
        "'<b>&' on 'big'" in (text.text or "") for text in picture.iter("{http://www.w3.org/2000/svg}text")
    )


def test_a_plan_is_written_to_a_page_or_a_picture_only() -> None:
    assert "must end in .html or .svg" in refused("plan", "magnet", "--press", "big", "--out", "plan.png")


def test_a_pale_piece_with_its_paper_on_is_pressed_again_for_the_seconds_it_lacks() -> None:
    graded("under", "60s")
    told = done("press", "again", 1, "--paper", "taped", "--cooling", "90s")
    assert re.search(r"Press piece 1 again at 193 °C \(380 °F\) for .+ s", told)
    assert re.search(r"After 90 s on the pad, under the open press the coating is at about \d+ °C", told)
    assert "warming up" in told
    assert "two times in three" in told
    assert "faint second print" in told


@pytest.mark.parametrize(
    ("grade", "paper", "why"),
    [
        ("under", "off", "cannot be laid back so that the print lines up"),
        ("good", "taped", "is good: more heat would only take away"),
        ("over", "taped", "is over-pressed: more heat makes it worse"),
    ],
)
def test_what_cannot_be_pressed_again_is_refused_in_words(grade: str, paper: str, why: str) -> None:
    graded(grade, "60s")
    assert why in refused("press", "again", 1, "--paper", paper)


def test_a_piece_that_was_taken_back_or_is_not_there_is_not_pressed_again() -> None:
    graded("under", "60s")
    done("press", "take-back", 1)
    assert "was taken back" in refused("press", "again", 1, "--paper", "taped")
    assert "no pressing 7" in refused("press", "again", 7, "--paper", "taped")


def test_a_plan_with_six_pressings_takes_a_second_of_computing_at_most() -> None:
    for number in range(6):
        graded("under" if number < 4 else "good", f"{60 + 20 * number}s")
    started = time.process_time()
    advised()
    assert time.process_time() - started < 1.5
