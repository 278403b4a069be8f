"""The README's story of a new blank, played as it stands there: every advice is followed to the letter."""

import re
from pathlib import Path

import pytest

from dial_in import Told, play, story_commands
from dyecast_api.press_log.entered_values import entered_temperature, entered_time
from dyecast_api.store.data_folder import FOLDER_VARIABLE
from house.source_tree import ROOT

ADVICE = re.compile(r"at \d+ °C \((\d+ °F)\) for ([^(.]+)")


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> list[Told]:
    folder = tmp_path_factory.mktemp("shop")
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        patch.setenv(FOLDER_VARIABLE, str(folder / "data"))
        patch.delenv("DYECAST_DATABASE_URL", raising=False)
        found = list(play(story_commands()))
        (folder / "kept.svg").write_bytes(Path("plan.svg").read_bytes())
    return found


def test_every_command_of_the_story_works(told: list[Told]) -> None:
    assert [one for one in told if one.status != 0] == []
    assert len(told) == len(story_commands()) >= 7


def test_a_pale_piece_is_followed_by_a_good_one_pressed_as_advised(told: list[Told]) -> None:
    first, second = (one for one in told if one.command.startswith("dyecast press log"))
    advice = next(one.output for one in told if one.command.startswith("dyecast plan"))
    assert "under-pressed" in first.output
    assert "good" in second.output
    found = ADVICE.search(advice)
    assert found is not None
    logged = re.search(r"--time (\S+)", second.command)
    assert logged is not None
    assert entered_time(logged[1]) == entered_time(found[2])
    assert entered_temperature(found[1]) == pytest.approx(entered_temperature("380F"))


def test_the_readme_quotes_the_advice_as_it_is_given(told: list[Told]) -> None:
    advice = next(one.output for one in told if one.command.startswith("dyecast plan"))
    assert advice.splitlines()[0] in (ROOT / "README.md").read_text(encoding="utf-8")


def test_the_readmes_picture_is_the_one_the_story_draws(
    told: list[Told], tmp_path_factory: pytest.TempPathFactory
) -> None:
    assert "Written: plan.svg" in told[-1].output
    drawn = next(tmp_path_factory.getbasetemp().glob("shop*/kept.svg")).read_text(encoding="utf-8")
    kept = (ROOT / "tests" / "pictures" / "dial_in.svg").read_text(encoding="utf-8")
    framed = re.compile(r"The heavy frame marks the next pressing, [^,]+")
    assert framed.findall(drawn) == framed.findall(kept) != []
