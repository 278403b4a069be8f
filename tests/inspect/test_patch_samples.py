"""Sampling the card in a photo."""

from dataclasses import replace

import numpy as np
import pytest

from coloured_photo import Shot, card_to_photo, photograph, through
from dyecast_calibration.card_layout import CardLayout, known_layouts, layout_named
from dyecast_inspect.patch_samples import (
    bare_paper_points,
    move_points,
    patch_points,
    sample_patches,
    white_area_points,
)

CARD = layout_named("a6")
EVEN = Shot(slope=((0.0, 0.0),) * 3, lens=0.0, noise=0.0)


def test_every_patch_gives_its_own_even_colour() -> None:
    samples = sample_patches(photograph(CARD, EVEN), card_to_photo(CARD), CARD).patches

    assert samples.ids == tuple(patch.id for patch in CARD.patches)
    np.testing.assert_allclose(samples.mean, samples.median, atol=1e-6)
    assert samples.outlier_share.max() == 0.0
    assert samples.clipped_share.max() == 0.0


def test_noise_averages_out() -> None:
    clean = sample_patches(photograph(CARD, EVEN), card_to_photo(CARD), CARD).patches
    noisy = sample_patches(photograph(CARD, replace(EVEN, noise=0.03)), card_to_photo(CARD), CARD).patches

    assert np.abs(noisy.mean - clean.mean).max() < 0.01
    assert noisy.spread.min() > 0.0


def test_specks_of_dust_and_glare_do_not_count() -> None:
    photo = photograph(CARD, EVEN)
    clean = sample_patches(photo, card_to_photo(CARD), CARD).patches
    (x, y), soiled = np.rint(clean.centres_px[8]).astype(int), photo.pixels.copy()
    soiled[y - 6 : y + 6, x - 10 : x + 6] = 255

    samples = sample_patches(replace(photo, pixels=soiled), card_to_photo(CARD), CARD).patches

    np.testing.assert_allclose(samples.mean[8], clean.mean[8], atol=1e-3)
    assert samples.outlier_share[8] > 0.05
    assert samples.clipped_share[8] > 0.05


def test_a_patch_outside_the_photo_has_no_colour() -> None:
    shifted = np.array([[1.0, 0.0, -300.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]) @ card_to_photo(CARD)

    samples = sample_patches(photograph(CARD, EVEN), shifted, CARD).patches

    assert np.isnan(samples.mean[0]).all()
    assert np.isfinite(samples.mean[5]).all()


@pytest.mark.parametrize("layout", known_layouts(), ids=lambda layout: layout.name)
def test_bare_paper_keeps_clear_of_everything_printed(layout: CardLayout) -> None:
    points = bare_paper_points(layout).reshape(-1, 2)
    printed = [(m.x, m.y, m.size, m.size) for m in layout.markers]
    printed += [(p.x, p.y, p.width, p.height) for p in layout.patches]

    assert len(points) > 0
    for x, y, width, height in printed:
        inside = (points[:, 0] > x) & (points[:, 0] < x + width)
        assert not (inside & (points[:, 1] > y) & (points[:, 1] < y + height)).any()


def test_white_areas_are_cut_into_a_few_cells_inside_them() -> None:
    names, points = white_area_points(CARD)

    assert len(names) == len(points) == 8
    area = CARD.white_areas[0]
    assert (points[:4, :, 0] > area.x).all()
    assert (points[:4, :, 0] < area.x + area.width).all()


def test_points_lie_well_inside_their_patch() -> None:
    points = patch_points(CARD)
    for patch, inside in zip(CARD.patches, points, strict=True):
        assert inside[:, 0].min() > patch.x + 0.15 * patch.width
        assert inside[:, 1].max() < patch.y + 0.85 * patch.height


def test_points_move_through_a_homography() -> None:
    points = np.random.default_rng(0).uniform(0, 100, (4, 5, 2))

    found = move_points(card_to_photo(CARD), points)

    np.testing.assert_allclose(found.reshape(-1, 2), through(card_to_photo(CARD), points.reshape(-1, 2)))
