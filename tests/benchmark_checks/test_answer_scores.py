"""The benchmark's scores of corners and verdicts, and its rivals, on cases whose answer is known."""

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from benchmark.floor import gain_and_veil
from benchmark.geometry import card_error_px, piece_error_mm, piece_error_px
from benchmark.handed_photo import HandedPhoto
from benchmark.inspected import Answer
from benchmark.photo_cases import PhotoCase
from benchmark.piece_error import light_error, linear_light
from benchmark.rivals import RIVALS, Rival
from benchmark.verdicts import answered_rightly, expected

TRUTH: dict[str, Any] = {
    "dose": 1.0,
    "piece": {"w_mm": 150, "h_mm": 100, "border_mm": 5.0},
    "corners_display_px": {
        "card_corners": [[100.5, 100.5], [400.5, 100.5], [400.5, 310.5], [100.5, 310.5]],
        "piece_image_corners": [[500.5, 200.5], [800.5, 200.5], [800.5, 400.5], [500.5, 400.5]],
    },
}
"""A piece of 150 x 100 mm at 2 pixels a millimetre, squarely in the photo, with a border of 5 mm."""


def case(**changes: Any) -> PhotoCase:
    """The case above, changed."""
    return PhotoCase(Path("case"), "clear", TRUTH | changes)


def answer(
    verdict: str = "good", reasons: tuple[str, ...] = (), piece: Any = None, card: Any = None
) -> Answer:
    """What a product might say."""
    return Answer("case", verdict, 1.0, reasons, card, piece, None, None, 0.0)


ARTWORK = np.array([[510.0, 210], [790, 210], [790, 390], [510, 390]])


def test_the_artwork_lies_inside_the_border_and_pixel_centres_at_whole_numbers() -> None:
    assert case().artwork_corners() == pytest.approx(ARTWORK, abs=1e-3)


def test_corners_found_exactly_have_no_error() -> None:
    card = np.array([[100.0, 100], [400, 100], [400, 310], [100, 310]])
    exact = answer(piece=ARTWORK, card=card)
    assert card_error_px(case(), exact) == pytest.approx(0, abs=1e-6)
    assert piece_error_px(case(), exact) == pytest.approx(0, abs=1e-3)


def test_a_corner_off_by_two_pixels_is_off_by_one_millimetre() -> None:
    off = answer(piece=ARTWORK + np.array([[2, 0], [0, 0], [0, 0], [0, 0]]))
    assert piece_error_px(case(), off) == pytest.approx(2, abs=1e-2)
    assert piece_error_mm(case(), off) == pytest.approx(1, abs=1e-2)


def test_a_piece_that_was_not_found_has_no_error() -> None:
    assert piece_error_mm(case(), answer()) is None


@pytest.mark.parametrize(
    ("dose", "name"),
    [
        (0.4, "under-pressed"),
        (0.85, "under-pressed"),
        (0.9, "between the limits"),
        (0.93, "good"),
        (1.03, "good"),
        (1.16, "mildly over"),
        (1.25, "over-pressed"),
    ],
)
def test_doses_are_called_by_their_state(dose: float, name: str) -> None:
    assert expected(dose) == name


def test_a_spoiled_photo_must_be_refused_for_the_right_reason() -> None:
    blurred = case(spoiled="blurred")
    assert answered_rightly(blurred, answer("retake", ("photo-blurred",)))
    assert not answered_rightly(blurred, answer("retake", ("card-not-found",)))
    assert not answered_rightly(blurred, answer("good"))


def test_a_dark_photo_may_be_judged_if_rightly() -> None:
    dark = case(spoiled="underexposed")
    assert answered_rightly(dark, answer("good"))
    assert not answered_rightly(dark, answer("over-pressed"))


def camera_photo(veil: float = 0.0) -> tuple[HandedPhoto, Any]:
    """A camera that is a 3 x 3 matrix away from sRGB, and what the piece really looks like."""
    random = np.random.default_rng(3)
    reference = random.integers(40, 200, (4, 6, 4), dtype=np.uint8).repeat(30, axis=0).repeat(30, axis=1)
    reference[..., 3] = 255
    matrix = np.array([[0.6, 0.1, 0.0], [0.1, 0.7, 0.1], [0.0, 0.2, 0.5]])
    values = random.uniform(0.02, 0.9, (30, 3))
    light = linear_light(reference[..., :3]) @ matrix.T + veil
    handed = HandedPhoto(
        piece=light.astype(np.float32),
        patches=values @ matrix.T,
        whites=(np.ones((2, 3)) @ matrix.T),
        patch_values=values,
        to_linear_srgb=np.eye(3),
    )
    return handed, reference


def score(rival: Rival, handed: HandedPhoto, reference: Any) -> float:
    """Median score of one rival."""
    return light_error(rival(handed), np.ones(reference.shape[:2], np.float32), reference).median


@pytest.mark.parametrize("name", ["colour-science root-polynomial", "OpenCV ccm"])
def test_a_rival_that_holds_the_camera_s_matrix_corrects_it_wholly(name: str) -> None:
    handed, reference = camera_photo()
    assert score(RIVALS[name], handed, reference) < 0.3
    assert score(RIVALS["bare photo"], handed, reference) > 3


def test_the_floor_takes_a_veil_away_that_no_rival_sees() -> None:
    handed, reference = camera_photo(veil=0.04)
    rival = RIVALS["colour-science root-polynomial"]
    assert score(rival, handed, reference) > 2
    assert score(lambda photo: gain_and_veil(rival(photo), reference), handed, reference) < 1
