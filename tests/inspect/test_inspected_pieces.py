"""A photo of a pressed piece beside its card: where it lies, what colour it has, and how it was pressed."""

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from dyecast_calibration.card_layout import layout_named
from dyecast_calibration.pressing_model import xyz_from_bands
from dyecast_inspect.approved_piece import approved_from
from dyecast_inspect.card_checks import edge_width_limit_mm, off_plane_limit_mm
from dyecast_inspect.inspection import Inspection, PieceReport, PressFeatures, Verdict
from dyecast_inspect.outline import ellipse
from dyecast_inspect.pipeline import inspect_photo, measure_photo
from dyecast_shared.cielab import xyz_to_lab
from dyecast_shared.delta_e import delta_e_2000
from inspected_scenes import SeenPiece, SeenPieces

PRESSED = ["under-pressed", "good", "over-pressed"]
PLACED = [*PRESSED, "turned by 90", "turned by 180", "turned by 270", "white border", "round", "mirrored"]

CORNERS_MM = 0.5
"""The worst corner of a registered print is off by no more than this."""

COLOUR_ERROR = 2.5
"""Median CIEDE2000 between the corrected and the true colours of a piece in daylight."""


def piece_of(inspection: Inspection) -> PieceReport:
    assert inspection.piece is not None
    return inspection.piece


def features_of(inspection: Inspection) -> PressFeatures:
    assert inspection.features is not None
    return inspection.features


def judged_of(inspection: Inspection) -> NDArray[np.bool_]:
    assert inspection.pictures is not None
    return inspection.pictures.judged


def codes(inspection: Inspection) -> list[str]:
    return [each.code for each in inspection.reasons] + [each.code for each in inspection.advice]


def worst_corner_mm(found: SeenPiece) -> float:
    assert found.truth.artwork_corners is not None
    away = np.linalg.norm(piece_of(found.inspection).corners_px - found.truth.artwork_corners, axis=1)
    return float(away.max()) / found.truth.pixels_per_mm


@pytest.mark.parametrize("state", PRESSED)
def test_a_piece_gets_the_verdict_of_its_pressing(seen: SeenPieces, state: str) -> None:
    assert seen[state].inspection.verdict.value == state == seen[state].truth.state


@pytest.mark.parametrize("state", PRESSED)
def test_the_confidence_is_the_probability_of_the_verdict(seen: SeenPieces, state: str) -> None:
    inspection = seen[state].inspection
    assert sum(inspection.probabilities.values()) == pytest.approx(1.0)
    assert 0.5 < inspection.confidence <= 1.0
    assert inspection.confidence == max(inspection.probabilities.values())
    assert list(inspection.probabilities) == PRESSED


@pytest.mark.parametrize(
    ("state", "advice"), [("under-pressed", "longer"), ("good", "keep"), ("over-pressed", "shorter")]
)
def test_every_verdict_has_its_advice(seen: SeenPieces, state: str, advice: str) -> None:
    assert any(advice in each.code for each in seen[state].inspection.advice)


@pytest.mark.parametrize("name", PLACED)
def test_the_print_is_found_to_half_a_millimetre(seen: SeenPieces, name: str) -> None:
    assert worst_corner_mm(seen[name]) < CORNERS_MM


@pytest.mark.parametrize("name", PLACED)
def test_the_size_of_the_print_is_measured_on_the_table(seen: SeenPieces, name: str) -> None:
    """The printed layer lies a little above the table and so looks a little larger."""
    true, found = seen[name].truth.scene.piece, piece_of(seen[name].inspection)
    assert true is not None
    assert found.width_mm == pytest.approx(true.width_mm - 2 * true.border_mm, rel=0.02)
    assert found.height_mm == pytest.approx(true.height_mm - 2 * true.border_mm, rel=0.02)


@pytest.mark.parametrize("name", PLACED)
def test_only_a_mirrored_print_is_called_mirrored(seen: SeenPieces, name: str) -> None:
    inspection = seen[name].inspection
    assert piece_of(inspection).mirrored == (name == "mirrored")
    assert ("mirrored-print" in [fault.code for fault in inspection.faults]) == (name == "mirrored")
    assert ("check-mirroring" in codes(inspection)) == (name == "mirrored")


@pytest.mark.parametrize(
    "name", ["turned by 90", "turned by 180", "turned by 270", "white border", "mirrored"]
)
def test_how_a_piece_lies_does_not_change_its_verdict(seen: SeenPieces, name: str) -> None:
    usual, other = features_of(seen["good"].inspection), features_of(seen[name].inspection)
    assert seen[name].inspection.verdict is Verdict.GOOD
    assert other.transferred_fraction.value == pytest.approx(usual.transferred_fraction.value, abs=0.03)


def test_of_a_round_piece_only_the_round_face_is_judged(seen: SeenPieces) -> None:
    judged = judged_of(seen["round"].inspection)
    assert seen["round"].inspection.verdict is Verdict.GOOD
    assert not (judged & ~ellipse(*judged.shape)).any()
    assert float(judged[ellipse(*judged.shape)].mean()) > 0.9


@pytest.mark.parametrize("state", PRESSED)
def test_the_corrected_colours_of_the_piece_are_near_the_truth(seen: SeenPieces, state: str) -> None:
    true, found = seen[state].truth, seen[state]
    explained = measure_photo(found.path, found.artwork).explained
    height, width = explained.judged.shape
    assert true.reference_lab is not None
    reference = cv2.resize(true.reference_lab, (width, height), interpolation=cv2.INTER_AREA)
    difference = delta_e_2000(reference, xyz_to_lab(xyz_from_bands(explained.bands)))
    assert float(np.median(difference[explained.judged])) < COLOUR_ERROR


def test_a_lamp_in_the_glass_hides_the_share_that_it_covers(seen: SeenPieces) -> None:
    true, found = seen["under a lamp"].truth, piece_of(seen["under a lamp"].inspection)
    assert true.glare_share is not None
    assert found.hidden_share == pytest.approx(float((true.glare_share > 0.1).mean()), abs=0.04)
    assert piece_of(seen["good"].inspection).hidden_share == pytest.approx(0.0, abs=0.01)


def test_a_lamp_in_the_glass_is_left_out_and_does_not_change_the_verdict(seen: SeenPieces) -> None:
    inspection = seen["under a lamp"].inspection
    judged = judged_of(inspection)
    height, width = judged.shape
    assert not judged[round(0.3 * height), round(0.3 * width)]
    assert judged[round(0.8 * height) :, round(0.8 * width) :].all()
    assert inspection.verdict is Verdict.GOOD


@pytest.mark.parametrize("state", PRESSED)
def test_the_arrived_share_of_ink_is_near_the_truth(seen: SeenPieces, state: str) -> None:
    piece = seen[state].truth.scene.piece
    assert piece is not None
    true = float(piece.pressing.gains[:3].mean())
    fraction = features_of(seen[state].inspection).transferred_fraction
    assert abs(fraction.value - true) < 3.0 * fraction.uncertainty


def test_signs_follow_the_pressing(seen: SeenPieces) -> None:
    under, good, over = (features_of(seen[state].inspection) for state in PRESSED)
    assert under.transferred_fraction.value < 0.75 < good.transferred_fraction.value
    assert over.coating_yellowing.value > good.coating_yellowing.value + 1.5
    assert over.detail_loss.value > good.detail_loss.value + 0.1
    assert over.warmth_of_darks.value > good.warmth_of_darks.value


def test_every_dye_and_every_tone_of_a_pale_piece_is_pale(seen: SeenPieces) -> None:
    under, good = (features_of(seen[state].inspection) for state in ("under-pressed", "good"))
    assert set(under.transferred_by_dye) == {"cyan", "magenta", "yellow"}
    assert all(share < 0.75 for share in under.transferred_by_dye.values())
    assert (
        under.transferred_by_tone.keys()
        == good.transferred_by_tone.keys()
        <= {
            "highlights",
            "midtones",
            "shadows",
        }
    )
    assert under.transferred_by_tone
    assert all(share < good.transferred_by_tone[tone] for tone, share in under.transferred_by_tone.items())


def test_a_pale_piece_differs_more_from_the_artwork_than_a_good_one(seen: SeenPieces) -> None:
    under, good = (seen[state].inspection.delta_e_2000 for state in ("under-pressed", "good"))
    assert under is not None
    assert good is not None
    assert under.median > 2.0 * good.median
    assert good.median <= good.p95


def test_the_main_colours_of_a_pale_piece_are_lighter_than_intended(seen: SeenPieces) -> None:
    regions = seen["under-pressed"].inspection.regions
    assert sum(region.area_share for region in regions) <= 1.0 + 1e-9
    coloured = [region for region in regions if region.intended_lab[0] < 75.0]
    assert coloured
    assert all(region.delta_lightness > 0.0 for region in coloured)


def test_a_piece_in_two_lights_differs_less_from_itself_than_from_the_artwork(seen: SeenPieces) -> None:
    """Somebody approved a pale look: what counts from then on is the approved piece."""
    first, second = seen["under-pressed"], seen["under-pressed, another light"]
    approved = approved_from(measure_photo(first.path, first.artwork))
    inspection = inspect_photo(second.path, second.artwork, approved=approved)
    assert inspection.delta_e_2000 is not None
    assert inspection.delta_e_2000_approved is not None
    assert inspection.delta_e_2000_approved.median < inspection.delta_e_2000.median / 2
    assert second.inspection.delta_e_2000_approved is None


def test_the_checks_of_a_clear_photo_all_pass_with_value_and_limit(seen: SeenPieces) -> None:
    checks = {check.name: check for check in seen["good"].inspection.checks}
    assert {"sharpness", "card-colours", "hidden-share", "artwork-match"} <= set(checks)
    assert all(check.passed and check.advice and check.unit for check in checks.values())
    assert checks["card-colours"].value < checks["card-colours"].limit
    assert checks["artwork-match"].value > checks["artwork-match"].limit


def test_pictures_stand_in_one_frame_and_unjudged_places_are_marked(seen: SeenPieces) -> None:
    pictures = seen["under a lamp"].inspection.pictures
    assert pictures is not None
    assert pictures.piece.shape == pictures.intended.shape == (*pictures.judged.shape, 3)
    assert np.array_equal(np.isnan(pictures.delta_e_map), ~pictures.judged)


def test_stages_are_told_in_the_order_of_the_work(seen: SeenPieces) -> None:
    told: list[str] = []
    inspect_photo(seen["good"].path, seen["good"].artwork, progress=told.append)
    assert told[0] == "reading the photo"
    assert told.index("finding the card") < told.index("correcting colour") < told.index("finding the piece")
    assert told[-1] == "comparing and grading"


def test_the_limits_of_sharpness_and_flatness_are_those_of_the_card_that_was_used(seen: SeenPieces) -> None:
    limits = {check.name: check.limit for check in seen["good"].inspection.checks}
    a6 = layout_named("a6")
    assert limits["sharpness"] == edge_width_limit_mm(a6, 7)
    assert limits["card-flatness"] == off_plane_limit_mm(a6) == 1.5
    assert off_plane_limit_mm(layout_named("pocket")) < 1.0
