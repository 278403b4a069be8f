"""`dyecast inspect`: what it prints, writes and tells the shell."""

import errno
import json
import os
import re
from pathlib import Path
from urllib.parse import unquote

import jsonschema
import numpy as np
import pytest
from PIL import Image
from typer.testing import CliRunner, Result

import dyecast_calibration
from api.fake_stages import load_fake_stages
from api.inspections import pictures
from dyecast_api import inspect_stages
from dyecast_api.cli import app
from dyecast_api.inspection_document import inspection_schema
from dyecast_calibration.card_layout import layout_named
from dyecast_calibration.card_values import designed_values, save_card_values


@pytest.fixture(autouse=True)
def fake_pipeline(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Answer by the photo's name, in an empty folder."""
    monkeypatch.setattr(inspect_stages, "load_inspect_stages", load_fake_stages)
    monkeypatch.chdir(tmp_path)


def dyecast(*arguments: str) -> Result:
    return CliRunner().invoke(app, list(arguments), prog_name="dyecast")


def inspect(*arguments: str) -> Result:
    return dyecast("inspect", *arguments, "--artwork", "sunset.png")


def test_a_good_piece_is_told_verdict_first_and_ends_with_status_0() -> None:
    result = inspect("good.jpg")
    assert result.exit_code == 0
    lines = result.stdout.splitlines()
    assert lines[0] == "Good ✓  good.jpg"
    assert lines[1] == "  97 % sure."
    assert lines[2].startswith("  ΔE00 from the artwork: 1.4 mean, 1.2 median, 3.0 at 95 %")
    assert "ink that arrived 62 ± 4 %, veil of mirrored light 2.1 ± 0.4 %" in result.stdout
    assert result.stderr == ""


def test_an_under_pressed_piece_is_told_why_what_next_and_with_what_caution() -> None:
    result = inspect("under.jpg")
    assert result.exit_code == 1
    assert "  Why: Only 62 % of the ink" in result.stdout
    assert "  Next: Press 15 s longer" in result.stdout
    assert "    Caution: Glass is still hot" in result.stdout


def test_an_over_pressed_piece_ends_with_status_1() -> None:
    assert inspect("over.jpg").exit_code == 1


def test_a_retake_tells_what_went_wrong_and_how_to_do_better_and_ends_with_status_2() -> None:
    result = inspect("retake.jpg")
    assert result.exit_code == 2
    assert result.stdout.startswith("Retake the photo ↺  retake.jpg\n")
    assert "too blurred" in result.stdout
    assert "Hold the phone still" in result.stdout
    assert "ΔE00" not in result.stdout
    assert "% sure" not in result.stdout


@pytest.mark.parametrize(
    ("photos", "status"),
    [
        (("good-1.jpg", "good-2.jpg"), 0),
        (("good.jpg", "over.jpg"), 1),
        (("under.jpg", "retake.jpg", "good.jpg"), 2),
        (("broken.jpg", "good.jpg"), 2),
    ],
)
def test_of_several_photos_the_worst_gives_the_status(photos: tuple[str, ...], status: int) -> None:
    assert inspect(*photos).exit_code == status


def test_several_photos_get_a_line_each_and_a_summary() -> None:
    result = inspect("good.jpg", "under.jpg", "retake.jpg")
    assert result.stdout.splitlines() == [
        "Good ✓  good.jpg; 97 % sure; ΔE00 1.4 mean",
        "Under-pressed ▽  under.jpg; 93 % sure; ΔE00 6.5 mean",
        "Retake the photo ↺  retake.jpg; The photo is too blurred to measure colours from",
        "3 photos: 1 under-pressed, 1 good, 1 retake.",
    ]


def test_a_photo_that_cannot_be_used_does_not_stop_the_others() -> None:
    result = inspect("broken.txt", "bent.jpg", "good.jpg")
    assert result.exit_code == 2
    assert "Retake the photo ↺  broken.txt; The file is no picture" in result.stdout
    assert "Retake the photo ↺  bent.jpg; The card is bent" in result.stdout
    assert "Good ✓  good.jpg" in result.stdout


def test_quiet_leaves_one_line_and_no_summary() -> None:
    assert inspect("good.jpg", "--quiet").stdout == "Good ✓  good.jpg; 97 % sure; ΔE00 1.4 mean\n"
    assert len(inspect("good.jpg", "under.jpg", "-q").stdout.splitlines()) == 2


def test_json_is_one_valid_document_a_photo_on_one_line_and_nothing_else() -> None:
    result = inspect("good.jpg", "broken.txt", "bent.jpg", "under.jpg", "--json")
    assert result.exit_code == 2
    documents = [json.loads(line) for line in result.stdout.splitlines()]
    for document in documents:
        jsonschema.validate(document, json.loads(inspection_schema()))
    assert [document["photo"] for document in documents] == [
        "good.jpg",
        "broken.txt",
        "bent.jpg",
        "under.jpg",
    ]
    assert [document["verdict"] for document in documents] == ["good", "retake", "retake", "under-pressed"]
    assert documents[1]["reasons"][0]["code"] == "not-a-picture"
    assert documents[1]["error"]["code"] == "not-a-picture"
    assert documents[2]["reasons"][0]["code"] == "card-bent"
    assert documents[3]["error"] is None


def test_out_writes_a_report_folder_for_each_photo_and_says_where() -> None:
    result = inspect("good.jpg", "broken.txt", "--out", "reports")
    assert "reports/good/report.html" in result.stdout
    assert "reports/broken/report.html" in result.stdout
    assert Path("reports/good/inspection.json").is_file()
    assert "no picture" in Path("reports/broken/report.html").read_text(encoding="utf-8")
    assert json.loads(Path("reports/broken/inspection.json").read_text())["error"]["code"] == "not-a-picture"


def test_reports_of_several_photos_get_an_index_that_leads_to_each() -> None:
    result = inspect("good 1.jpg", "under.jpg", "retake.jpg", "--out", "reports")
    assert result.stdout.splitlines()[-2:] == [
        "3 photos: 1 under-pressed, 1 good, 1 retake.",
        "All reports: reports/index.html",
    ]
    index = Path("reports/index.html").read_text(encoding="utf-8")
    places = re.findall(r'href="([^"]*)"', index)
    assert places == ["good%201/report.html", "under/report.html", "retake/report.html"]
    assert all((Path("reports") / unquote(place)).is_file() for place in places)
    assert "Under-pressed" in index


def test_measured_writes_the_piece_pixel_for_pixel_and_transparent_where_it_was_not_judged() -> None:
    assert inspect("under.jpg", "--measured", "piece.png").exit_code == 1
    with Image.open("piece.png") as picture:
        assert (picture.mode, picture.info["srgb"]) == ("RGBA", 0)
        pixels = np.asarray(picture)
    assert (pixels[..., :3] == pictures().piece).all()
    assert np.unique(pixels[..., 3]).tolist() == [0, 255]
    assert ((pixels[..., 3] == 255) == pictures().judged).all()


def test_measured_writes_nothing_for_a_retake_and_says_so() -> None:
    result = inspect("retake.jpg", "--measured", "piece.png")
    assert result.exit_code == 2
    assert not Path("piece.png").exists()
    assert "piece.png: not written" in result.stderr


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("good-1.jpg", "good-2.jpg", "--measured", "piece.png"), "exactly one photo"),
        (("good.jpg", "--measured", "piece.jpg"), "must end in .png"),
        (("good.png", "--measured", "./good.png"), "not written over"),
        (("good.jpg", "--measured", "sunset.png"), "not written over"),
    ],
)
def test_measured_refuses_what_would_lose_something(arguments: tuple[str, ...], words: str) -> None:
    result = inspect(*arguments)
    assert result.exit_code == 2
    assert words in " ".join(result.stderr.split())
    assert result.stdout == ""


def test_the_approved_piece_is_compared_with() -> None:
    assert "ΔE00 from the approved piece: 1.0 mean" in inspect("good.jpg", "--approved", "first.jpg").stdout


def test_every_card_that_ships_is_looked_for() -> None:
    assert "layouts ['a6', 'pocket'], values []" in inspect("good.jpg").stdout


def test_an_own_card_is_looked_for_alone() -> None:
    own = Path(dyecast_calibration.__file__).parent / "cards" / "pocket.json"
    assert "layouts ['pocket']" in inspect("good.jpg", "--card", str(own)).stdout


def test_card_values_are_given_to_the_card_they_belong_to() -> None:
    for name in ("a6", "pocket"):
        save_card_values(Path(f"{name}.json"), designed_values(layout_named(name)), layout_named(name))
    result = inspect("good.jpg", "--card-values", "a6.json", "--card-values", "pocket.json")
    assert "values ['a6', 'pocket']" in result.stdout


@pytest.mark.parametrize(
    ("content", "words"), [("{}", "no dyecast card values file"), ("[1", "not readable as JSON")]
)
def test_a_wrong_card_values_file_is_named_and_ends_with_status_2(content: str, words: str) -> None:
    Path("values.json").write_text(content)
    result = inspect("good.jpg", "--card-values", "values.json")
    assert result.exit_code == 2
    assert result.stderr.startswith("dyecast: values.json: ")
    assert words in result.stderr
    assert result.stdout == ""


def test_an_artwork_that_cannot_be_read_stops_before_any_photo() -> None:
    result = dyecast("inspect", "good.jpg", "--artwork", "missing.png")
    assert result.exit_code == 2
    assert result.stderr == (
        "dyecast: missing.png: There is no such file. Check the name and that the file may be read.\n"
    )
    assert result.stdout == ""


def test_a_fault_nobody_foresaw_is_a_sentence_not_a_traceback() -> None:
    result = inspect("fault.jpg")
    assert result.exit_code == 2
    assert "ZeroDivisionError: division by zero" in result.stderr
    assert "fault in dyecast" in result.stderr
    assert "Traceback" not in result.stderr


def test_a_developer_can_ask_for_the_traceback(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("DYECAST_TRACEBACK", "1")
    assert "fake_stages.py" in inspect("fault.jpg").stderr


def test_a_full_disk_ends_with_status_2_a_sentence_and_no_folder(monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> int:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(Path, "write_bytes", full)
    result = inspect("good.jpg", "--out", "reports")
    assert result.exit_code == 2
    assert "No space left on device" in result.stderr
    assert not Path("reports").exists()


def test_ctrl_c_while_writing_ends_with_130_and_leaves_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupted(*_: object) -> int:
        raise KeyboardInterrupt

    monkeypatch.setattr(Path, "write_bytes", interrupted)
    result = inspect("good.jpg", "--out", "reports")
    assert result.exit_code == 130
    assert list(Path().iterdir()) == []


def test_an_order_that_names_nothing_to_compare_with_is_a_usage_error() -> None:
    result = dyecast("inspect", "good.jpg")
    assert result.exit_code == 2
    assert "--artwork" in result.stderr
    assert "--approved" in result.stderr


def test_an_approved_piece_may_stand_for_the_artwork() -> None:
    result = dyecast("inspect", "good.jpg", "--approved", "friday.jpg")
    assert result.exit_code == 0
    assert "ΔE00 from the approved piece: 1.4 mean" in result.stdout
    assert "from the artwork" not in result.stdout


def test_json_says_that_an_approved_piece_stood_for_the_artwork() -> None:
    document = json.loads(dyecast("inspect", "good.jpg", "--approved", "friday.jpg", "--json").stdout)
    assert (document["artwork"], document["compared_with"]) == ("friday.jpg", "approved piece")
    assert json.loads(inspect("good.jpg", "--json").stdout)["compared_with"] == "artwork"
    jsonschema.validate(document, json.loads(inspection_schema()))


def test_a_file_that_cannot_be_used_still_says_what_it_was_to_be_compared_with() -> None:
    document = json.loads(dyecast("inspect", "broken.jpg", "--approved", "friday.jpg", "--json").stdout)
    assert (document["verdict"], document["compared_with"]) == ("retake", "approved piece")


def test_a_printer_profile_needs_the_artwork() -> None:
    result = dyecast("inspect", "good.jpg", "--approved", "friday.jpg", "--printer-profile", "p.icc")
    assert result.exit_code == 2
    assert "--artwork" in result.stderr


def test_missing_opencv_libraries_are_told_with_the_package_to_install(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.undo()

    def fails(_name: str) -> None:
        raise ImportError("libGL.so.1: cannot open shared object file: No such file or directory")

    monkeypatch.setattr("importlib.import_module", fails)
    result = inspect("good.jpg")
    assert result.exit_code == 2
    assert "apt-get install libgl1" in result.stderr


def test_the_schema_is_printed_as_it_ships() -> None:
    assert json.loads(dyecast("schema").stdout) == json.loads(inspection_schema())


def test_the_version_is_printed() -> None:
    result = dyecast("--version")
    assert (result.exit_code, result.stdout) == (0, "dyecast 0.1.0\n")


def test_where_the_paper_is_and_the_shop_profile_are_handed_on() -> None:
    Path("shop.json").write_text("{}")
    document = json.loads(inspect("good.jpg", "--json", "--paper", "off", "--profile", "shop.json").stdout)
    assert "The paper is off." in document["notes"][0]
    assert "Graded as shop.json taught." in document["notes"][0]
