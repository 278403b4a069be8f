"""The reference card as data: the two cards that ship, and what a layout file of one's own must obey."""

import json
from importlib.resources import files
from itertools import combinations
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from dyecast_calibration.card_layout import CORNERS, CardLayout, known_layouts, layout_named, load_card_layout
from dyecast_shared.delta_e import delta_e_2000
from dyecast_shared.encodings import srgb8_to_lab
from dyecast_shared.errors import BadInput, CardFileInvalid, FileUnreadable

BOTH = pytest.mark.parametrize("layout", known_layouts(), ids=lambda layout: layout.name)


def shipped_record(name: str = "a6") -> dict[str, Any]:
    text = (files("dyecast_calibration") / "cards" / f"{name}.json").read_text(encoding="utf-8")
    record: dict[str, Any] = json.loads(text)
    return record


def written(folder: Path, record: object) -> Path:
    path = folder / "card.json"
    path.write_text(json.dumps(record), encoding="utf-8")
    return path


def test_two_cards_ship_an_a6_and_one_for_the_wallet() -> None:
    assert [layout.name for layout in known_layouts()] == ["a6", "pocket"]
    assert known_layouts() is known_layouts()


def test_the_cards_have_the_standard_sizes() -> None:
    """ISO 216: A6 is 105 × 148 mm. ISO/IEC 7810: ID-1 is 85.60 × 53.98 mm, here 54."""
    assert (layout_named("a6").width, layout_named("a6").height) == (148.0, 105.0)
    pocket = layout_named("pocket")
    assert pocket.width == pytest.approx(85.60)
    assert pocket.height == pytest.approx(53.98, abs=0.05)


def test_layouts_are_told_apart_by_the_ids_of_their_markers() -> None:
    for one, other in combinations(known_layouts(), 2):
        assert not one.marker_ids() & other.marker_ids()
        assert one.marker_dictionary == other.marker_dictionary


def test_a_layout_is_found_by_name_and_an_unknown_name_lists_the_choices() -> None:
    assert layout_named(" A6 ").name == "a6"
    with pytest.raises(CardFileInvalid, match=r"no card layout named 'b5'.*a6, pocket"):
        layout_named("b5")


@BOTH
def test_a_marker_stands_in_every_corner_of_the_card(layout: CardLayout) -> None:
    middle = (layout.width / 2, layout.height / 2)
    for marker in layout.markers:
        left, top = marker.x < middle[0], marker.y < middle[1]
        assert marker.corner == f"{'top' if top else 'bottom'}_{'left' if left else 'right'}"
    assert [marker.corner for marker in layout.markers] == list(CORNERS)


@BOTH
def test_a_patch_is_large_against_detail_and_a_marker_against_blur(layout: CardLayout) -> None:
    assert min(min(patch.width, patch.height) for patch in layout.patches) >= 8.0
    assert min(marker.size for marker in layout.markers) >= 9.0


@BOTH
def test_no_patch_comes_into_a_marker_s_white_margin_of_one_cell(layout: CardLayout) -> None:
    for marker in layout.markers:
        margin = marker.size / 7
        for patch in layout.patches:
            beside = patch.x >= marker.x + marker.size + margin or patch.x + patch.width <= marker.x - margin
            under = patch.y >= marker.y + marker.size + margin or patch.y + patch.height <= marker.y - margin
            assert beside or under


@BOTH
def test_the_greys_run_from_dark_to_white_and_lie_spread_over_the_card(layout: CardLayout) -> None:
    """Light that falls off to one side must not look like a tone curve: lightness and place do not go
    together (correlation under 0.5), and every quarter of the patch field has a grey."""
    greys = layout.neutral_patches()
    levels = np.array([patch.srgb[0] for patch in greys])
    places = np.array([(patch.x + patch.width / 2, patch.y + patch.height / 2) for patch in greys])
    assert len(greys) >= 6
    assert all(len(set(patch.srgb)) == 1 for patch in greys)
    assert levels.min() < 40
    assert levels.max() == 255
    for axis in range(2):
        assert abs(np.corrcoef(levels, places[:, axis])[0, 1]) < 0.5
    field = np.array([(patch.x + patch.width / 2, patch.y + patch.height / 2) for patch in layout.patches])
    quarters = {tuple(place > field.mean(axis=0)) for place in places}
    assert len(quarters) == 4


@BOTH
def test_every_patch_differs_clearly_from_every_other(layout: CardLayout) -> None:
    lab = srgb8_to_lab(np.array([patch.srgb for patch in layout.patches], dtype=np.uint8))
    apart = [float(delta_e_2000(one, other)) for one, other in combinations(lab, 2)]
    assert min(apart) > 4.0


@BOTH
def test_the_colours_surround_grey_in_all_directions(layout: CardLayout) -> None:
    colours = np.array([patch.srgb for patch in layout.patches if not patch.neutral], dtype=np.uint8)
    lab = srgb8_to_lab(colours)
    hues = np.sort(np.degrees(np.arctan2(lab[:, 2], lab[:, 1])))
    gaps = np.diff(np.append(hues, hues[0] + 360.0))
    assert gaps.max() < 75.0
    assert lab[:, 0].min() < 30.0
    assert lab[:, 0].max() > 80.0


def test_the_corners_of_a_marker_run_clockwise_from_the_top_left() -> None:
    assert layout_named("a6").markers[0].corners() == ((5.0, 5.0), (19.0, 5.0), (19.0, 19.0), (5.0, 19.0))


def test_a_layout_of_one_s_own_needs_no_white_areas_and_no_ruler(tmp_path: Path) -> None:
    record = shipped_record()
    del record["white_areas"], record["ruler"]
    record["patches"][0]["lab_d50"] = [95.0, 0.1, -2.0]
    layout = load_card_layout(written(tmp_path, record))
    assert layout.white_areas == ()
    assert layout.ruler is None
    assert layout.patches[0].lab_d50 == (95.0, 0.1, -2.0)


def test_markers_may_come_from_another_dictionary_in_another_order(tmp_path: Path) -> None:
    record = shipped_record()
    record["marker_dictionary"] = "DICT_4X4_50"
    record["markers"] = [record["markers"][place] | {"id": place} for place in (0, 1, 3, 2)]
    layout = load_card_layout(written(tmp_path, record))
    assert [marker.corner for marker in layout.markers][2:] == ["bottom_left", "bottom_right"]
    assert layout.marker_ids() == {0, 1, 2, 3}


@pytest.mark.parametrize(
    "name", ["name", "edition", "width", "height", "marker_dictionary", "markers", "patches"]
)
def test_a_missing_field_is_named(tmp_path: Path, name: str) -> None:
    record = shipped_record()
    del record[name]
    with pytest.raises(CardFileInvalid, match=f"The card has no field '{name}'"):
        load_card_layout(written(tmp_path, record))


@pytest.mark.parametrize("name", ["id", "x", "y", "width", "height", "srgb", "neutral"])
def test_a_field_missing_in_a_patch_is_named_with_the_patch(tmp_path: Path, name: str) -> None:
    record = shipped_record()
    del record["patches"][7][name]
    where = "A patch" if name == "id" else "Patch b2"
    with pytest.raises(CardFileInvalid, match=f"{where} has no field '{name}'"):
        load_card_layout(written(tmp_path, record))


@pytest.mark.parametrize(
    ("change", "complaint"),
    [
        ({"width": -1.0}, "Patch b2: 'width' must be above zero"),
        ({"x": "left"}, "Patch b2: 'x' must be a number"),
        ({"x": float("nan")}, "Patch b2: 'x' must be a number"),
        ({"x": 10**400}, "Patch b2: 'x' must be a number"),
        ({"x": True}, "Patch b2: 'x' must be a number"),
        ({"srgb": [0, 0, 256]}, "Patch b2: 'srgb' must be three whole numbers from 0 to 255"),
        ({"srgb": [0, 0]}, "Patch b2: 'srgb' must be a list of three numbers"),
        ({"neutral": "yes"}, "Patch b2: 'neutral' must be true or false"),
        ({"lab_d50": [50, 0]}, "Patch b2: 'lab_d50' must be a list of three numbers"),
        ({"id": "A1"}, "The id of patch a1 is used more than once"),
        ({"x": 140.0}, "Patch b2 lies outside the card"),
        ({"y": -0.1}, "Patch b2 lies outside the card"),
        ({"x": 25.0}, "The patch b1 and patch b2 overlap"),
        ({"x": 5.0, "y": 5.0}, "The marker 10 and patch b2 overlap"),
        ({"x": 6.0, "y": 40.0}, "The patch b2 and white area left overlap"),
        ({"x": 60.0, "y": 82.0, "height": 20.0}, "The patch b2 and patch e3 overlap"),
        ({"x": 60.0, "y": 90.5, "height": 6.0}, "The patch b2 and ruler overlap"),
    ],
)
def test_a_patch_that_cannot_be_is_refused(tmp_path: Path, change: dict[str, Any], complaint: str) -> None:
    record = shipped_record()
    record["patches"][7] |= change
    with pytest.raises(CardFileInvalid, match=complaint):
        load_card_layout(written(tmp_path, record))


@pytest.mark.parametrize(
    ("change", "complaint"),
    [
        ({"id": 10}, "The id of marker 10 is used more than once"),
        ({"id": 100}, "DICT_5X5_100 has no marker 100"),
        ({"id": -1}, "A marker: 'id' must be a whole number"),
        ({"corner": "middle"}, "Marker 11: 'corner' must be one of top_left"),
        ({"corner": "top_left"}, "must have four markers, one in each corner"),
        ({"size": 0}, "Marker 11: 'size' must be above zero"),
        ({"x": 135.0}, "Marker 11 lies outside the card"),
    ],
)
def test_a_marker_that_cannot_be_is_refused(tmp_path: Path, change: dict[str, Any], complaint: str) -> None:
    record = shipped_record()
    record["markers"][1] |= change
    with pytest.raises(CardFileInvalid, match=complaint):
        load_card_layout(written(tmp_path, record))


@pytest.mark.parametrize(
    ("change", "complaint"),
    [
        ({"marker_dictionary": "DICT_9X9_12"}, "no marker dictionary 'DICT_9X9_12'"),
        ({"marker_dictionary": "ArucoDetector"}, "no marker dictionary 'ArucoDetector'"),
        ({"unit": "inch"}, "'unit' must be mm"),
        ({"patches": []}, "no patches"),
        ({"patches": {}}, "'patches' must be a list"),
        ({"patches": [17]}, "A patch is not a JSON object"),
        ({"name": " "}, "'name' must be text"),
        ({"edition": 1.5}, "'edition' must be a whole number"),
        ({"width": 100.0}, "lies outside the card"),
        ({"ruler": {"x": 60.0, "y": 96.0, "length": 100.0, "tick": 10.0}}, "The ruler lies outside the card"),
        ({"ruler": {"x": 60.0, "y": 96.0, "length": 50.0, "tick": 60.0}}, "'tick' is longer than the ruler"),
        (
            {"white_areas": [{"id": "left", "x": 5, "y": 24, "width": 14}]},
            "White area left has no field 'height'",
        ),
    ],
)
def test_a_card_that_cannot_be_is_refused(tmp_path: Path, change: dict[str, Any], complaint: str) -> None:
    with pytest.raises(CardFileInvalid, match=complaint):
        load_card_layout(written(tmp_path, shipped_record() | change))


@pytest.mark.parametrize(
    "content",
    [b"", b"{", b"[]", b"17", b"\xff\xfe\x00", b"[" * 100_000, b'{"a": 1}' + b" " * 1_000_001, b"1" * 5000],
    ids=["empty", "cut", "list", "number", "not utf-8", "deep", "huge", "long number"],
)
def test_a_file_that_is_no_card_layout_is_refused(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "card.json"
    path.write_bytes(content)
    with pytest.raises(CardFileInvalid) as refusal:
        load_card_layout(path)
    assert refusal.value.file == "card.json"


def test_a_missing_file_and_a_folder_are_unreadable(tmp_path: Path) -> None:
    for path in (tmp_path / "none.json", tmp_path):
        with pytest.raises(FileUnreadable):
            load_card_layout(path)


@settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(data=st.data())
def test_a_layout_file_damaged_anywhere_loads_or_is_refused_and_nothing_else(
    tmp_path: Path, data: st.DataObject
) -> None:
    """One value anywhere in the file becomes something else: never an error other than BadInput."""
    record = shipped_record("pocket")
    holder: Any = record
    while True:
        key = data.draw(st.sampled_from(sorted(holder) if isinstance(holder, dict) else range(len(holder))))
        if not isinstance(holder[key], dict | list) or data.draw(st.integers(0, 4)) == 0:
            break
        holder = holder[key]
    junk = st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5)
    holder[key] = data.draw(junk | st.lists(junk, max_size=4) | st.dictionaries(st.text(max_size=3), junk))
    try:
        assert load_card_layout(written(tmp_path, record)).patches
    except BadInput as refusal:
        assert refusal.message.endswith(".")
