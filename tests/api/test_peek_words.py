"""A peek's answer, as the terminal, the document and the report give it."""

import json
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from typer.testing import CliRunner

from api.fake_stages import FAKE
from api.inspections import good, retake, under_pressed
from dyecast_api import cli_inspect
from dyecast_api.cli import app
from dyecast_api.inspection_document import document_line, inspection_schema
from dyecast_api.inspection_text import inspection_text, summary_line
from dyecast_api.report_index import index_line, index_page
from dyecast_api.report_page import report_page
from dyecast_inspect.explain_peek import peek_advice
from dyecast_inspect.inspection import Inspection, PeekAnswer, PeekReport, Verdict
from dyecast_shared.errors import NotAPicture

EITHER = {"under-pressed": 0.88, "good": 0.12}

PEEKS = {
    "enough": good(
        peek=PeekReport(PeekAnswer.ENOUGH, 0.34, 0.97),
        probabilities={"under-pressed": 0.03, "good": 0.97},
        advice=peek_advice(PeekAnswer.ENOUGH),
    ),
    "not enough": under_pressed(
        peek=PeekReport(PeekAnswer.NOT_ENOUGH, 0.34, 0.88),
        confidence=0.88,
        probabilities=EITHER,
        advice=peek_advice(PeekAnswer.NOT_ENOUGH),
    ),
    "can't tell": retake(
        peek=PeekReport(PeekAnswer.CANT_TELL, None, None), advice=peek_advice(PeekAnswer.CANT_TELL)
    ),
}

STATUS = {"enough": 0, "not enough": 1, "can't tell": 2}

each_answer = pytest.mark.parametrize("answer", list(PEEKS))


def peek_photo(path: Path, *_: Any, **__: Any) -> Inspection:
    """Answer by the photo's name."""
    if path.stem == "broken":
        raise NotAPicture("The file is no picture.", file=path.name)
    return replace(PEEKS[path.stem], photo=path.name)


@pytest.fixture
def fake_peeks(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Put the answers above in the place of the pipeline, in an empty folder."""
    monkeypatch.setattr(cli_inspect, "load_peek_stages", lambda: replace(FAKE, inspect_photo=peek_photo))
    monkeypatch.chdir(tmp_path)


def ask(*photos: str) -> Any:
    arguments = ["inspect", *photos, "--artwork", "sunset.png", "--peek"]
    return CliRunner().invoke(app, arguments, prog_name="dyecast")


@pytest.mark.usefixtures("fake_peeks")
@each_answer
def test_the_answer_stands_first_and_decides_the_exit_status(answer: str) -> None:
    result = ask(f"{answer}.jpg")
    assert result.stdout.lower().startswith(answer)
    assert result.exit_code == STATUS[answer]
    assert "Caution:" in result.stdout


@pytest.mark.usefixtures("fake_peeks")
def test_several_peeks_are_summed_up_in_a_peeks_own_words() -> None:
    result = ask("enough.jpg", "not enough.jpg", "can't tell.jpg")
    assert result.exit_code == 2
    assert result.stdout.splitlines()[-1] == "3 photos: 1 not enough, 1 enough, 1 can't tell."


@pytest.mark.usefixtures("fake_peeks")
def test_a_file_that_is_no_picture_cannot_tell_either() -> None:
    result = ask("broken.jpg")
    assert result.exit_code == 2
    assert result.stdout.startswith("Can't tell ↺  broken.jpg")


@each_answer
def test_the_document_holds_the_answer_beside_the_verdict_that_stands_for_it(answer: str) -> None:
    document = json.loads(document_line(PEEKS[answer]))
    jsonschema.Draft202012Validator(json.loads(inspection_schema())).validate(document)
    assert document["peek"]["answer"] == answer
    verdicts = {"enough": "good", "not enough": "under-pressed", "can't tell": "retake"}
    assert document["verdict"] == verdicts[answer]


def test_a_whole_piece_is_no_peek() -> None:
    assert json.loads(document_line(good()))["peek"] is None
    assert summary_line([Verdict.GOOD]) == "1 photos: 1 good."


@each_answer
def test_the_report_speaks_of_the_answer_and_not_of_a_verdict(answer: str) -> None:
    page = report_page(PEEKS[answer])
    heading = re.search(r"<h1>(.*?)</h1>", page)
    assert heading is not None
    assert heading[1].replace("&#x27;", "'").lower() == answer
    assert "Why this verdict" not in page
    assert "Over-pressed" not in page


def test_both_answers_have_their_odds_in_the_report() -> None:
    odds = re.search(r'<ul class="odds".*?</ul>', report_page(PEEKS["not enough"]))
    assert odds is not None
    assert re.findall(r"<span>(.*?)</span>", odds[0]) == ["Not enough", "Enough"]


@each_answer
def test_the_index_of_reports_uses_the_same_words(answer: str, tmp_path: Path) -> None:
    line = index_line(PEEKS[answer], tmp_path / "a" / "report.html")
    page = index_page([line], "1 photos.", tmp_path).replace("&#x27;", "'")
    assert f"<b>{answer.capitalize()}</b>" in page


def test_the_text_of_a_peek_gives_the_confidence_of_its_answer() -> None:
    assert "88 % sure." in inspection_text(PEEKS["not enough"])
