"""The printed face: rectangle, rounded or round, told by the corners that do not look like the artwork."""

import numpy as np
import pytest
from numpy.typing import NDArray

from dyecast_inspect.outline import ellipse, find_outline, rounded


def agreement_within(face: NDArray[np.bool_]) -> NDArray[np.float32]:
    """High agreement on the face and low beside it, with some noise."""
    noise = np.random.default_rng(2).uniform(-0.05, 0.05, face.shape)
    return np.asarray(np.where(face, 0.9, 0.1) + noise, np.float32)


def found(face: NDArray[np.bool_]) -> NDArray[np.bool_]:
    return find_outline(agreement_within(face), np.ones(face.shape, bool), 240, 320)


def test_a_piece_that_agrees_up_to_its_corners_is_a_rectangle() -> None:
    assert found(np.ones((48, 64), bool)).all()


def test_a_round_piece_is_found_round() -> None:
    assert np.array_equal(found(ellipse(48, 64)), ellipse(240, 320))


@pytest.mark.parametrize("radius", [0.10, 0.22])
def test_rounded_corners_are_left_out_and_the_rest_is_kept(radius: float) -> None:
    face, truth = found(rounded(48, 64, radius)), rounded(240, 320, radius)
    assert not face[0, 0]
    assert float((face ^ truth).mean()) < 0.02


def test_a_lamp_in_the_middle_does_not_make_a_piece_round() -> None:
    face = np.ones((48, 64), bool)
    face[18:30, 20:40] = False
    assert found(face).all()


def test_corners_that_were_not_seen_are_given_the_benefit_of_the_doubt() -> None:
    seen = ellipse(48, 64)
    assert find_outline(agreement_within(seen), seen, 48, 64).all()


def test_where_nothing_was_seen_the_whole_frame_is_the_face() -> None:
    nothing = np.zeros((48, 64), bool)
    assert find_outline(agreement_within(nothing), nothing, 48, 64).all()


def test_faces_have_the_area_that_geometry_gives_them() -> None:
    assert float(ellipse(400, 600).mean()) == pytest.approx(np.pi / 4, abs=2e-3)
    assert float(rounded(400, 400, 0.2).mean()) == pytest.approx(1 - (4 - np.pi) * 0.04, abs=2e-3)
