"""A peek: one corner of the paper lifted, and the question whether the piece may come out of the press."""

from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from dyecast_calibration.grader_model import trained_grader
from dyecast_calibration.grading_limits import grading_limits
from dyecast_inspect.explain_peek import KEEP_TAPED, peek_advice, peek_reasons
from dyecast_inspect.inspection import Estimate, Inspection, PeekAnswer, PeekReport, Verdict
from dyecast_inspect.peek import COVERED_GREY, peek_photo
from dyecast_inspect.peek_answer import answer_peek, beside_paper, under_pressed_probability
from dyecast_inspect.read_artwork import read_artwork
from inspected_scenes import piece_scene
from scenes.peeking import peeked_scene
from scenes.render import render, write_photo
from scenes.scene import Peek, Scene
from signs_of_pieces import signs_with

LIMITS = grading_limits()
GRADER = trained_grader()

Asked = Callable[[str], Inspection]


def held(dose: float, share: float = 0.45, **paper: Any) -> Scene:
    """The usual piece under its paper, its lower right corner lifted by a gloved finger."""
    peek = replace(Peek(visible_share=share, fold_direction_deg=40.0, finger_mm=14.0), **paper)
    return piece_scene(dose, peek=peek)


SCENES: dict[str, Callable[[], Scene]] = {
    "pale": lambda: held(0.6),
    "good": lambda: held(1.0),
    "a sliver": lambda: held(1.0, share=0.12, finger_mm=0.0),
    "strong ghost": lambda: held(1.0, share=0.4, ghost=0.28),
    "coated glass": lambda: held(0.7).changed(mirrored=True),
    "soft picture": lambda: peeked_scene(17 + 1000, 0.7, 0.55, artwork_name="washes", exif_orientation=1),
}


@pytest.fixture(scope="module")
def asked(tmp_path_factory: pytest.TempPathFactory) -> Asked:
    """Return what asks about a peek by name, each rendered and asked once."""
    folder = tmp_path_factory.mktemp("peeks")

    @cache
    def ask(name: str) -> Inspection:
        scene = SCENES[name]()
        assert scene.piece is not None
        photo, artwork = folder / f"{name}.jpg", folder / f"{name}.png"
        write_photo(photo, render(scene, 1))
        Image.fromarray(scene.piece.artwork).save(artwork)
        return peek_photo(photo, read_artwork(artwork))

    return ask


def peek_of(inspection: Inspection) -> PeekReport:
    assert inspection.peek is not None
    return inspection.peek


def test_a_pale_piece_goes_back_into_the_press(asked: Asked) -> None:
    inspection = asked("pale")
    assert peek_of(inspection).answer is PeekAnswer.NOT_ENOUGH
    assert inspection.verdict is Verdict.UNDER_PRESSED
    assert [step.code for step in inspection.advice] == ["peek-press-again"]
    assert "200 °C" in inspection.advice[0].caution


def test_a_good_piece_may_come_out(asked: Asked) -> None:
    inspection = asked("good")
    assert peek_of(inspection).answer is PeekAnswer.ENOUGH
    assert inspection.verdict is Verdict.GOOD
    assert inspection.confidence == peek_of(inspection).confidence
    assert [step.code for step in inspection.advice] == ["peek-take-out"]


def test_it_tells_how_much_of_the_picture_it_judged_from(asked: Asked) -> None:
    """The fold uncovers 45 %, the finger hides some of it."""
    assert peek_of(asked("good")).visible_share == pytest.approx(0.43, abs=0.04)
    assert "peek-part" in [reason.code for reason in asked("good").reasons]


def test_nothing_is_made_up_of_what_the_paper_covers(asked: Asked) -> None:
    pictures = asked("good").pictures
    assert pictures is not None
    assert 0.5 < (~pictures.judged).mean() < 0.75
    assert (pictures.piece[~pictures.judged] == COVERED_GREY).all()
    assert np.isnan(pictures.delta_e_map[~pictures.judged]).all()


def test_the_ghost_on_the_flap_is_not_taken_for_a_pale_print(asked: Asked) -> None:
    inspection = asked("strong ghost")
    assert inspection.features is not None
    assert inspection.features.transferred_fraction.value == pytest.approx(1.0, abs=0.1)
    assert inspection.piece is not None
    assert not inspection.piece.mirrored


def test_a_coated_glass_shows_its_picture_the_other_way_round_and_that_is_no_fault(asked: Asked) -> None:
    inspection = asked("coated glass")
    assert inspection.piece is not None
    assert inspection.piece.mirrored
    assert "mirrored-print" not in [reason.code for reason in inspection.reasons]
    assert peek_of(inspection).answer is PeekAnswer.NOT_ENOUGH


def test_a_picture_without_details_is_found_by_its_colours(asked: Asked) -> None:
    assert peek_of(asked("soft picture")).answer is PeekAnswer.NOT_ENOUGH


def test_a_sliver_of_the_picture_tells_nothing_and_the_paper_stays_where_it_is(asked: Asked) -> None:
    inspection = asked("a sliver")
    assert peek_of(inspection).answer is PeekAnswer.CANT_TELL
    assert inspection.verdict is Verdict.RETAKE
    assert inspection.advice[0].caution == KEEP_TAPED


def test_another_artwork_is_not_recognised(asked: Asked, tmp_path: Path) -> None:
    asked("good")
    photo, other = tmp_path / "photo.jpg", tmp_path / "other.png"
    write_photo(photo, render(held(1.0), 1))
    scene = peeked_scene(5, 1.0, 0.4, artwork_name="tiles")
    assert scene.piece is not None
    Image.fromarray(scene.piece.artwork).save(other)
    inspection = peek_photo(photo, read_artwork(other))
    assert [reason.code for reason in inspection.reasons] == ["piece-not-found"]
    assert peek_of(inspection) == PeekReport(PeekAnswer.CANT_TELL, None, None)


def test_the_answer_needs_four_in_five() -> None:
    answers = {share: answer_peek(share, 0.3).answer for share in (0.1, 0.19, 0.5, 0.79, 0.81)}
    assert list(answers.values()) == [
        PeekAnswer.ENOUGH,
        PeekAnswer.ENOUGH,
        PeekAnswer.CANT_TELL,
        PeekAnswer.CANT_TELL,
        PeekAnswer.NOT_ENOUGH,
    ]
    assert answer_peek(0.3, 0.3).confidence == pytest.approx(0.7)


def test_the_more_ink_shows_the_likelier_it_is_enough() -> None:
    likely = [under_pressed_probability(signs_with(0.01 * percent), GRADER) for percent in range(70, 101)]
    assert likely == sorted(likely, reverse=True)
    assert likely[0] > 0.8
    assert likely[-1] < 0.2


def test_a_piece_whose_dyes_faded_in_the_heat_is_not_sent_back_into_the_press() -> None:
    assert under_pressed_probability(signs_with(0.78), GRADER) > 0.8
    assert under_pressed_probability(signs_with(0.78, 0.12), GRADER) < 0.2


def test_paper_beside_the_print_makes_its_ink_less_certain() -> None:
    fraction = Estimate(0.9, 0.05, "of the intended ink")
    widened = beside_paper(fraction)
    assert (widened.value, widened.unit) == (fraction.value, fraction.unit)
    assert 0.05 < widened.uncertainty < 0.06


def test_heat_is_mentioned_only_when_the_coating_has_clearly_yellowed() -> None:
    peek = PeekReport(PeekAnswer.ENOUGH, 0.3, 0.9)
    told = {
        yellowing: [
            reason.code
            for reason in peek_reasons(peek, Estimate(1.0, 0.05), Estimate(yellowing, 0.01), LIMITS)
        ]
        for yellowing in (0.04, 0.08)
    }
    assert told == {
        0.04: ["ink-arrived", "peek-part"],
        0.08: ["ink-arrived", "peek-part", "coating-yellow"],
    }


@pytest.mark.parametrize("answer", list(PeekAnswer))
def test_every_answer_has_one_advice_with_its_caution(answer: PeekAnswer) -> None:
    (step,) = peek_advice(answer)
    assert step.sentence.endswith(".")
    assert step.caution
