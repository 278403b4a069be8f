"""Faults of a piece beside its pressing: each is named with its place and size, and no other."""

from dataclasses import replace
from pathlib import Path

import pytest
from PIL import Image

from dyecast_inspect.explain_faults import FAULT_NAMES, advice_for_faults, faults_reason, place_words
from dyecast_inspect.inspection import Fault, Inspection, Verdict
from dyecast_inspect.pipeline import inspect_photo
from dyecast_inspect.read_artwork import read_artwork
from inspected_scenes import FAULTY, SeenPiece, SeenPieces
from scenes.faulty import faulty_scene
from scenes.render import render, write_photo

WHOLE = ((0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0))
FAULTS_OF = {
    "off-centre": "off-centre",
    "pale corner": "uneven",
    "dusty": "lint-or-dust",
    "scratched": "unknown-blemish",
    "moved paper": "ghosting",
    "banded": "banding",
}
"""The scenes of `FAULTY` and what they should be told to have."""


def codes(inspection: Inspection) -> set[str]:
    return {fault.code for fault in inspection.faults}


def fault(seen: SeenPieces, name: str) -> Fault:
    return next(fault for fault in seen[name].inspection.faults if fault.code == FAULTS_OF[name])


def size(fault: Fault, name: str) -> float:
    return next(size.value for size in fault.sizes if size.name == name)


def of_size(found: SeenPiece, factor: float) -> Inspection:
    """Inspect a piece that should have been printed larger by a factor."""
    piece = found.truth.scene.piece
    assert piece is not None
    _, _, width, height = piece.print_box_mm
    return inspect_photo(found.path, replace(found.artwork, print_size_mm=(factor * width, factor * height)))


@pytest.mark.parametrize("name", ["tiles", "white border", "round", "under a lamp", "over-pressed"])
def test_a_piece_without_fault_is_told_none(seen: SeenPieces, name: str) -> None:
    assert seen[name].inspection.faults == ()


def test_light_from_one_side_and_a_bright_room_are_no_uneven_press(seen: SeenPieces) -> None:
    assert seen["lit from one side"].inspection.faults == ()


def test_a_mirrored_print_is_told_with_its_advice(seen: SeenPieces) -> None:
    inspection = seen["mirrored"].inspection
    assert codes(inspection) == {"mirrored-print"}
    assert "check-mirroring" in [advice.code for advice in inspection.advice]


@pytest.mark.parametrize(("name", "code"), FAULTS_OF.items())
def test_a_fault_is_named_and_no_other(seen: SeenPieces, name: str, code: str) -> None:
    assert codes(seen[name].inspection) == {code}


@pytest.mark.parametrize("name", FAULTS_OF)
def test_a_fault_does_not_change_the_verdict(seen: SeenPieces, name: str) -> None:
    faulty, faultless = seen[name].inspection, seen["tiles"].inspection
    assert faulty.verdict is faultless.verdict
    assert faulty.probabilities["good"] == pytest.approx(faultless.probabilities["good"], abs=0.2)


def test_a_good_piece_with_a_pale_corner_is_good_but_uneven(seen: SeenPieces) -> None:
    inspection = seen["pale corner"].inspection
    assert inspection.verdict is Verdict.GOOD
    assert "Good, but uneven." in [reason.sentence for reason in inspection.reasons]
    assert "even-pressure" in [advice.code for advice in inspection.advice]
    assert place_words(fault(seen, "pale corner").place) == "lower left corner"
    assert 20.0 < size(fault(seen, "pale corner"), "lack at the edge") < 60.0


def test_a_pale_piece_is_under_pressed_and_not_uneven(seen: SeenPieces) -> None:
    assert seen["under-pressed"].inspection.faults == ()


def test_lint_is_shown_where_it_lies(seen: SeenPieces) -> None:
    piece = seen["dusty"].truth.scene.piece
    assert piece is not None
    _, _, width, height = piece.print_box_mm
    for x, y in ((30.0 / width, 40.0 / height), (60.0 / width, 70.0 / height)):
        assert any(
            min(across) - 0.02 < x < max(across) + 0.02 and min(down) - 0.02 < y < max(down) + 0.02
            for across, down in (zip(*fault.place, strict=True) for fault in seen["dusty"].inspection.faults)
        )


def test_a_scratch_is_told_with_its_length(seen: SeenPieces) -> None:
    assert size(fault(seen, "scratched"), "length") == pytest.approx(25.0, rel=0.2)


def test_ghosting_is_told_with_distance_and_direction(seen: SeenPieces) -> None:
    ghost = fault(seen, "moved paper")
    assert size(ghost, "distance") == pytest.approx(3.0, abs=0.5)
    assert size(ghost, "direction") == pytest.approx(90.0, abs=12.0)
    assert size(ghost, "dye of the second print") == pytest.approx(25.0, abs=5.0)
    assert "towards the bottom" in ghost.sentence


def test_the_edges_of_a_second_print_are_no_lint(tmp_path: Path) -> None:
    scene = faulty_scene("ghost", 1055)
    assert scene.piece is not None
    write_photo(tmp_path / "photo.jpg", render(scene, 1055))
    Image.fromarray(scene.piece.artwork).save(tmp_path / "artwork.png")
    inspection = inspect_photo(tmp_path / "photo.jpg", read_artwork(tmp_path / "artwork.png"))
    assert codes(inspection) == {"ghosting"}


def test_the_dye_of_a_ghost_does_not_count_as_dye_that_arrived(seen: SeenPieces) -> None:
    ghosted, pale = seen["pale and moved"].inspection, seen["under-pressed"].inspection
    assert codes(ghosted) == {"ghosting"}
    assert ghosted.verdict is Verdict.UNDER_PRESSED
    assert ghosted.features is not None and pale.features is not None
    arrived = pale.features.transferred_fraction.value
    assert ghosted.features.transferred_fraction.value == pytest.approx(arrived, rel=0.05)


def test_banding_is_told_with_its_period_and_dye(seen: SeenPieces) -> None:
    banding = fault(seen, "banded")
    assert size(banding, "period") == pytest.approx(6.0, abs=0.2)
    assert "less magenta run across" in banding.sentence


def test_off_centre_is_told_in_millimetres(seen: SeenPieces) -> None:
    off = fault(seen, "off-centre")
    assert size(off, "to the right") == pytest.approx(3.0, abs=0.4)
    assert size(off, "down") == pytest.approx(-2.0, abs=0.4)
    assert "too far right" in off.sentence


def test_without_a_white_border_centring_is_not_judged(seen: SeenPieces) -> None:
    assert "border-not-seen" in [reason.code for reason in seen["tiles"].inspection.faults_not_judged]
    bordered = seen["white border"].inspection.faults_not_judged
    assert "border-not-seen" not in [reason.code for reason in bordered]


def test_the_print_size_is_judged_only_when_it_is_known(seen: SeenPieces) -> None:
    unknown = [reason.code for reason in seen["tiles"].inspection.faults_not_judged]
    known = [reason.code for reason in of_size(seen["tiles"], 1.0).faults_not_judged]
    assert "print-size-not-given" in unknown
    assert "print-size-not-given" not in known


@pytest.mark.parametrize(("factor", "expected"), [(1.0, set()), (1.05, {"wrong-print-size"})])
def test_a_print_of_the_wrong_size_is_told(seen: SeenPieces, factor: float, expected: set[str]) -> None:
    assert codes(of_size(seen["tiles"], factor)) == expected


def test_every_fault_has_a_name_an_advice_and_a_caution_where_the_press_is_hot() -> None:
    for code in FAULT_NAMES:
        named = Fault(code, "A sentence.", 0.9, WHOLE)
        assert faults_reason(Verdict.GOOD, (named,))[0].sentence.startswith("Good, but ")
        assert advice_for_faults((named, named))[0].because


def test_several_faults_are_named_in_one_sentence() -> None:
    named = tuple(Fault(code, "A sentence.", 0.9, WHOLE) for code in ("uneven", "ghosting", "banding"))
    told = faults_reason(Verdict.UNDER_PRESSED, named)
    assert [reason.sentence for reason in told] == ["Under-pressed, and uneven, ghosted and banded."]
    assert faults_reason(Verdict.GOOD, ()) == ()


@pytest.mark.parametrize(
    ("place", "words"),
    [
        (WHOLE, "everywhere"),
        (((0.0, 0.0), (0.4, 0.0), (0.0, 0.4)), "upper left corner"),
        (((0.0, 0.0), (0.3, 0.0), (0.3, 1.0), (0.0, 1.0)), "left side"),
        (((0.4, 0.8), (0.6, 0.8), (0.6, 0.9), (0.4, 0.9)), "bottom side"),
        (((0.45, 0.45), (0.5, 0.45), (0.5, 0.5)), "middle"),
    ],
)
def test_a_place_is_said_in_words(place: tuple[tuple[float, float], ...], words: str) -> None:
    assert place_words(place) == words


def test_every_faulty_scene_has_a_story() -> None:
    assert set(FAULTY) == {"tiles", "lit from one side", *FAULTS_OF}
