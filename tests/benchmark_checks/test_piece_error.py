"""The benchmark's score of a measured piece: what it answers when the answer is known."""

import numpy as np
import pytest
from colour.difference import delta_E_CIE2000
from numpy.typing import NDArray

from benchmark.piece_error import artwork_frame, lab_d50, linear_light, piece_error


def patchwork(height: int = 120, width: int = 180) -> NDArray[np.uint8]:
    """A picture of large fields of colour with an alpha channel that lets everything count."""
    fields = np.random.default_rng(7).integers(30, 230, (4, 6, 3), dtype=np.uint8)
    colours = fields.repeat(height // 4, axis=0).repeat(width // 6, axis=1)
    return np.dstack([colours, np.full((height, width), 255, np.uint8)])


def plain(colour: tuple[int, int, int], height: int = 60, width: int = 90) -> NDArray[np.uint8]:
    """One colour, opaque."""
    return np.broadcast_to(np.array([*colour, 255], np.uint8), (height, width, 4)).copy()


def test_an_identical_picture_scores_zero() -> None:
    error = piece_error(patchwork()[..., :3], patchwork())
    assert error.median == pytest.approx(0, abs=1e-3)
    assert error.p95 == pytest.approx(0, abs=1e-3)
    assert error.judged_share == 1


def test_a_veiled_picture_scores_what_colour_science_computes_for_the_veil() -> None:
    piece, veiled = plain((60, 90, 140)), plain((81, 106, 150))
    expected = delta_E_CIE2000(
        lab_d50(linear_light(piece[0, 0, :3])), lab_d50(linear_light(veiled[0, 0, :3]))
    )
    assert expected > 3
    assert piece_error(veiled, piece).median == pytest.approx(expected, abs=0.02)


def test_a_picture_of_another_size_scores_the_same() -> None:
    twice = patchwork().repeat(2, axis=0).repeat(2, axis=1)
    assert piece_error(twice, patchwork()).p95 < 0.05


def test_what_lies_outside_the_outline_does_not_count() -> None:
    reference, measured = patchwork(), patchwork()[..., :3]
    reference[:, 90:, 3] = 0
    measured[:, 90:] = 0
    error = piece_error(measured, reference)
    assert error.p95 == pytest.approx(0, abs=1e-3)
    assert error.judged_share == 1


def test_a_hidden_part_is_left_out_and_told() -> None:
    measured = patchwork()
    measured[:, 120:] = 0
    error = piece_error(measured, patchwork())
    assert error.p95 == pytest.approx(0, abs=1e-3)
    assert error.judged_share == pytest.approx(2 / 3, abs=0.02)


def test_with_everything_hidden_there_is_no_score() -> None:
    measured = plain((60, 90, 140))
    measured[..., 3] = 0
    error = piece_error(measured, plain((60, 90, 140)))
    assert np.isnan(error.median)
    assert error.judged_share == 0


def test_a_picture_in_another_frame_is_refused() -> None:
    with pytest.raises(ValueError, match="frame"):
        piece_error(plain((9, 9, 9), 90, 90), plain((9, 9, 9)))


def test_fine_dither_counts_as_the_colour_it_makes_from_afar() -> None:
    dithered = plain((255, 255, 255), 120, 180)
    dithered[(np.indices((120, 180)).sum(axis=0) % 2).astype(bool), :3] = 0
    assert piece_error(plain((188, 188, 188), 120, 180), dithered).median < 0.3


def test_the_white_border_is_cut_off_the_reference() -> None:
    whole = plain((255, 255, 255), 100, 150)
    whole[10:-10, 10:-10, :3] = (60, 90, 140)
    inside = artwork_frame(whole, border_mm=1, width_mm=15, height_mm=10)
    assert inside.shape == (80, 130, 4)
    assert np.unique(inside[..., :3].reshape(-1, 3), axis=0).tolist() == [[60, 90, 140]]


def test_white_is_lab_white_and_grey_has_no_chroma() -> None:
    assert lab_d50(np.array([1.0, 1.0, 1.0])) == pytest.approx([100, 0, 0], abs=0.02)
    grey = lab_d50(linear_light(np.array([119, 119, 119], np.uint8)))
    assert grey == pytest.approx([50.03, 0, 0], abs=0.05)
