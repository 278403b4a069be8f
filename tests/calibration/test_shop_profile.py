"""The shop profile: one readable file that loses nothing, and says so when it cannot be used."""

import json
from pathlib import Path

import pytest

from dyecast_calibration.shop_profile import (
    APPROVED,
    LABELLED,
    ColourPair,
    ShopPiece,
    ShopProfile,
    read_shop_profile,
    record_of,
    write_shop_profile,
)
from dyecast_shared.errors import FileUnreadable, ShopFileInvalid, ShopFileNewer, ShopProfileEmpty


def piece(photo: str, kind: str = APPROVED, grade: str = "good", added: str = "2026-11-25") -> ShopPiece:
    colours = (ColourPair((50.0, 10.0, -20.0), (51.0, 9.0, -19.0)),)
    return ShopPiece(0, added, photo, "artwork.png", kind, grade, "as designed", {"ink": -0.02}, colours)


def profile() -> ShopProfile:
    return ShopProfile().with_piece(piece("one.jpg")).with_piece(piece("two.jpg", LABELLED, "under-pressed"))


def test_what_is_written_is_what_is_read(tmp_path: Path) -> None:
    write_shop_profile(tmp_path / "profile.json", profile())
    assert read_shop_profile(tmp_path / "profile.json") == profile()


def test_the_file_can_be_read_by_a_person(tmp_path: Path) -> None:
    write_shop_profile(tmp_path / "profile.json", profile())
    text = (tmp_path / "profile.json").read_text()
    assert '"photo": "one.jpg"' in text
    assert '"grade": "under-pressed"' in text


def test_pieces_are_counted_up_and_undo_takes_the_last_one_back() -> None:
    taught = profile()
    assert [each.number for each in taught.pieces] == [1, 2]
    left, taken = taught.without_last()
    assert taken.photo == "two.jpg"
    assert left == ShopProfile().with_piece(piece("one.jpg"))


def test_undo_of_an_empty_profile_says_that_there_is_nothing() -> None:
    with pytest.raises(ShopProfileEmpty):
        ShopProfile().without_last()


def test_importing_adds_only_what_is_not_there_yet() -> None:
    other = profile().with_piece(piece("three.jpg"))
    joined = profile().joined(other)
    assert [each.photo for each in joined.pieces] == ["one.jpg", "two.jpg", "three.jpg"]
    assert joined.joined(other) == joined


@pytest.mark.parametrize(
    "text",
    ["", "{", "[]", '{"format": "something else"}', '{"format": "dyecast-shop", "format_version": 1}'],
)
def test_a_damaged_file_is_refused_and_left_as_it_was(tmp_path: Path, text: str) -> None:
    file = tmp_path / "profile.json"
    file.write_text(text)
    with pytest.raises(ShopFileInvalid, match=r"profile\.json"):
        read_shop_profile(file)
    assert file.read_text() == text


def test_a_piece_with_an_unknown_grade_is_refused(tmp_path: Path) -> None:
    record = record_of(profile())
    record["pieces"][1]["grade"] = "splendid"
    file = tmp_path / "profile.json"
    file.write_text(json.dumps(record))
    with pytest.raises(ShopFileInvalid, match="splendid"):
        read_shop_profile(file)


def test_a_file_from_a_newer_dyecast_is_refused_by_name(tmp_path: Path) -> None:
    record = record_of(profile()) | {"format_version": 2}
    file = tmp_path / "profile.json"
    file.write_text(json.dumps(record))
    with pytest.raises(ShopFileNewer, match="format 2"):
        read_shop_profile(file)


def test_a_missing_file_is_unreadable(tmp_path: Path) -> None:
    with pytest.raises(FileUnreadable):
        read_shop_profile(tmp_path / "none.json")
