"""Pieces under their paper, as the scene maker draws them: truth and photo agree on what shows."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from dyecast_shared.geometry import apply_homography
from scenes.peeking import peeked_scene
from scenes.render import RenderedPhoto, render
from scenes.scene import Scene

SMALL: dict[str, Any] = {"width_px": 800, "height_px": 600, "shadow_depth": 0.0, "glare": ()}


def scene(dose: float = 1.0, **changes: Any) -> Scene:
    """A peek in which a third of the artwork shows, its paper changed by name."""
    made = peeked_scene(3, dose, 0.35, **SMALL)
    assert made.piece is not None
    assert made.piece.peek is not None
    return made.changed(peek=replace(made.piece.peek, **changes))


def visible(photo: RenderedPhoto) -> Any:
    assert photo.truth.visible is not None
    return photo.truth.visible


def test_the_same_peek_and_seed_give_the_same_file() -> None:
    assert render(scene(), 1).jpeg() == render(scene(), 1).jpeg()


@pytest.mark.parametrize("share", [0.1, 0.6])
def test_the_fold_uncovers_the_share_that_was_asked_for(share: float) -> None:
    photo = render(scene(visible_share=share, finger_mm=0.0), 1)
    assert photo.truth.inside is not None
    assert visible(photo).sum() / photo.truth.inside.sum() == pytest.approx(share, abs=0.01)


def test_a_finger_hides_a_part_of_what_the_fold_uncovers() -> None:
    without, held = (render(scene(finger_mm=size), 1) for size in (0.0, 18.0))
    assert not (visible(held) & ~visible(without)).any()
    assert 0.01 < 1.0 - visible(held).sum() / visible(without).sum() < 0.5


def test_what_shows_is_the_pressed_piece_and_what_does_not_is_paper() -> None:
    """Dose changes the photo where the truth says that the piece shows, and nowhere else."""
    plain: dict[str, Any] = {"ghost": 0.0, "show_through": 0.0, "finger_mm": 0.0}
    pale, good = (render(scene(dose, **plain), 1) for dose in (0.5, 1.0))
    changed = np.abs(good.pixels.astype(int) - pale.pixels).max(axis=2) > 12
    corners = np.asarray(good.truth.artwork_corners)
    shown = visible(good)
    height, width = shown.shape
    rows, columns = np.nonzero(np.ones_like(shown))
    place = np.stack([(columns + 0.5) / width, (rows + 0.5) / height], axis=1)
    to_photo = unit_to(corners)
    x, y = np.round(apply_homography(to_photo, place)).astype(int).T
    seen = changed[y, x].reshape(height, width)
    assert seen[shown].mean() > 0.5
    assert seen[~shown].mean() < 0.03


def unit_to(corners: Any) -> Any:
    import cv2

    unit = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], np.float32)
    return cv2.getPerspectiveTransform(unit, corners.astype(np.float32))


def test_a_peek_lets_the_piece_itself_be_as_it_is() -> None:
    made = scene()
    bare = render(made.changed(peek=None), 1).truth.reference_lab
    under_paper = render(made, 1).truth.reference_lab
    assert bare is not None
    assert under_paper is not None
    assert np.array_equal(bare, under_paper)
