"""What colour each patch really has: as designed, and kept in a file that belongs to one card."""

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import colour
import numpy as np
import pytest

from dyecast_calibration.card_layout import CardLayout, known_layouts, layout_named
from dyecast_calibration.card_values import (
    CardValues,
    Trust,
    designed_values,
    load_card_values,
    save_card_values,
)
from dyecast_shared.errors import CardFileInvalid, FileUnreadable, OutputFailed

BOTH = pytest.mark.parametrize("layout", known_layouts(), ids=lambda layout: layout.name)


def measured(layout: CardLayout) -> CardValues:
    designed = designed_values(layout)
    return replace(
        designed,
        trust=Trust.MEASURED,
        white_lab=(94.7, 0.6, -3.1),
        source="July batch, “matte” paper",
        spread={layout.patches[0].id: 0.12, layout.patches[5].id: 0.0},
    )


def saved(path: Path, layout: CardLayout) -> dict[str, Any]:
    save_card_values(path, measured(layout), layout)
    record: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    return record


@BOTH
def test_designed_values_are_the_srgb_colours_under_d50(layout: CardLayout) -> None:
    """Checked against colour-science: sRGB to XYZ, Bradford to the ICC's D50, CIELAB."""
    values = designed_values(layout)
    d50 = np.array([0.9642, 1.0, 0.8249])
    white = colour.XYZ_to_xy(d50)
    for patch in layout.patches:
        xyz = colour.sRGB_to_XYZ(
            np.array(patch.srgb) / 255.0, illuminant=white, chromatic_adaptation_transform="Bradford"
        )
        expected = colour.XYZ_to_Lab(xyz, white)
        assert values.lab_d50[patch.id] == pytest.approx(tuple(expected), abs=0.05)
    assert values.trust == "as designed"
    assert values.white_lab == (100.0, 0.0, 0.0)
    assert values.spread is None
    assert f"card {layout.name}, edition 1" in values.source


def test_a_patch_that_carries_its_own_lab_keeps_it() -> None:
    layout = layout_named("a6")
    known = replace(layout.patches[0], lab_d50=(37.54, 14.37, 14.92))
    values = designed_values(replace(layout, patches=(known, *layout.patches[1:])))
    assert values.lab_d50["a1"] == (37.54, 14.37, 14.92)


@BOTH
def test_what_is_saved_comes_back_the_same(tmp_path: Path, layout: CardLayout) -> None:
    for values in (designed_values(layout), measured(layout), replace(measured(layout), white_lab=None)):
        save_card_values(tmp_path / "values.json", values, layout)
        assert load_card_values(tmp_path / "values.json", layout) == values


def test_the_file_can_be_read_by_a_person(tmp_path: Path) -> None:
    saved(tmp_path / "values.json", layout_named("pocket"))
    lines = (tmp_path / "values.json").read_text(encoding="utf-8").splitlines()
    assert ' "format": "dyecast card values",' in lines
    assert ' "colour": "CIELAB, D50, 2 degree observer",' in lines
    assert ' "source": "July batch, “matte” paper",' in lines
    assert len([line for line in lines if line.startswith('  "')]) == 20 + 2


def test_values_of_another_card_or_edition_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "values.json"
    a6 = layout_named("a6")
    saved(path, a6)
    with pytest.raises(CardFileInvalid, match="belong to card a6, edition 1, not to pocket"):
        load_card_values(path, layout_named("pocket"))
    with pytest.raises(CardFileInvalid, match="belong to card a6, edition 1, not to a6, edition 2"):
        load_card_values(path, replace(a6, edition=2))
    moved = tuple(replace(marker, id=marker.id + 40) for marker in a6.markers)
    with pytest.raises(CardFileInvalid, match="belong to card a6"):
        load_card_values(path, replace(a6, markers=moved))


@pytest.mark.parametrize(
    ("change", "complaint"),
    [
        ({"format": "something else"}, "no dyecast card values file"),
        ({"version": 2}, "version 2; this dyecast reads version 1"),
        ({"trust": "guessed"}, "'trust' must be one of: as designed, measured, transferred"),
        ({"source": 7}, "'source' must be text"),
        ({"white_lab": [95, 0]}, "'white_lab' must be a list of three numbers"),
        ({"white_lab": [140.0, 0.0, 0.0]}, "'white_lab' is no colour of a print"),
        ({"lab_d50": {}}, "There is no value for patch a1, a2"),
        ({"lab_d50": [1, 2, 3]}, "'lab_d50' is not a JSON object"),
        (
            {"spread_delta_e_2000": {"a1": -0.1}},
            "Patch a1: 'spread_delta_e_2000' must be a number, zero or more",
        ),
        ({"spread_delta_e_2000": {"z9": 0.1}}, "The card has no patch z9"),
    ],
)
def test_a_values_file_that_contradicts_itself_is_refused(
    tmp_path: Path, change: dict[str, Any], complaint: str
) -> None:
    path = tmp_path / "values.json"
    record = saved(path, layout_named("a6")) | change
    path.write_text(json.dumps(record), encoding="utf-8")
    with pytest.raises(CardFileInvalid, match=complaint):
        load_card_values(path, layout_named("a6"))


def test_a_colour_no_print_can_have_is_refused_with_its_patch(tmp_path: Path) -> None:
    path = tmp_path / "values.json"
    for lab in ([-5.0, 0.0, 0.0], [50.0, 200.0, 0.0], [50.0, 0.0, float("nan")]):
        record = saved(path, layout_named("a6"))
        record["lab_d50"]["c3"] = lab
        path.write_text(json.dumps(record), encoding="utf-8")
        with pytest.raises(CardFileInvalid, match="Patch c3: 'lab_d50'"):
            load_card_values(path, layout_named("a6"))


@pytest.mark.parametrize(
    "name",
    ["format", "version", "card", "edition", "marker_ids", "trust", "source", "white_lab", "lab_d50"],
)
def test_a_values_file_without_one_of_its_fields_is_refused(tmp_path: Path, name: str) -> None:
    path = tmp_path / "values.json"
    record = saved(path, layout_named("a6"))
    del record[name]
    path.write_text(json.dumps(record), encoding="utf-8")
    with pytest.raises(CardFileInvalid, match=f"'{name}'" if name != "format" else "no dyecast card values"):
        load_card_values(path, layout_named("a6"))


def test_a_values_file_cut_off_anywhere_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "values.json"
    saved(path, layout_named("pocket"))
    whole = path.read_bytes()
    for length in range(0, len(whole) - 2, 97):
        path.write_bytes(whole[:length])
        with pytest.raises(CardFileInvalid):
            load_card_values(path, layout_named("pocket"))


def test_a_missing_values_file_is_unreadable(tmp_path: Path) -> None:
    with pytest.raises(FileUnreadable):
        load_card_values(tmp_path / "none.json", layout_named("a6"))


def test_values_that_cannot_be_written_leave_nothing_behind(tmp_path: Path) -> None:
    layout = layout_named("a6")
    with pytest.raises(OutputFailed, match=r"values\.json"):
        save_card_values(tmp_path / "no folder" / "values.json", designed_values(layout), layout)
    (tmp_path / "values.json").mkdir()
    with pytest.raises(OutputFailed):
        save_card_values(tmp_path / "values.json", designed_values(layout), layout)
    assert [entry.name for entry in tmp_path.iterdir()] == ["values.json"]
