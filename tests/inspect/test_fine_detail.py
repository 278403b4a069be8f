"""The blur of a print is found from tiles of its finest detail."""

import cv2
import numpy as np
import pytest

from dyecast_inspect.fine_detail import MARGIN_PX, TILE_PX, _best_blur_px, _Tiles


def tiles_blurred_by(blur_px: float, *, gain: float = 0.7, veil: float = 0.05) -> _Tiles:
    """Five tiles of coarse noise, photographed with a blur, another light and a veil."""
    side = TILE_PX + 2 * MARGIN_PX
    noise = np.random.default_rng(3).random((5, side // 2, side // 2), np.float32)
    around = np.stack([cv2.resize(each, (side, side), interpolation=cv2.INTER_NEAREST) for each in noise])
    inside = np.s_[MARGIN_PX:-MARGIN_PX, MARGIN_PX:-MARGIN_PX]
    seen = [gain * cv2.GaussianBlur(each, (0, 0), blur_px)[inside].ravel() + veil for each in around]
    return _Tiles(np.asarray(seen, np.float32), np.asarray(around, np.float32))


@pytest.mark.parametrize("blur_px", [0.9, 1.3, 1.9, 2.7])
def test_the_blur_put_in_is_found_whatever_light_and_veil(blur_px: float) -> None:
    assert _best_blur_px(tiles_blurred_by(blur_px)) == pytest.approx(blur_px, rel=0.05)


def test_a_blur_between_those_tried_is_found_between_them() -> None:
    assert 1.3 < _best_blur_px(tiles_blurred_by(1.6)) < 1.9


def test_a_tile_whose_blurred_artwork_is_flat_does_not_stop_the_others() -> None:
    tiles = tiles_blurred_by(1.3)
    tiles.around[0] = 0.5
    assert _best_blur_px(tiles) == pytest.approx(1.3, rel=0.1)


def test_noise_in_one_tile_does_not_hide_the_blur_of_the_others() -> None:
    tiles = tiles_blurred_by(1.3)
    tiles.seen[0] = np.random.default_rng(1).random(tiles.seen.shape[1], np.float32)
    assert _best_blur_px(tiles) == pytest.approx(1.3, rel=0.1)
