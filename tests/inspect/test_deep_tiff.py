"""TIFFs of 16 bits a colour, written by another library than those that read them."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import tifffile
from numpy.typing import NDArray
from PIL import ImageCms

from dyecast_inspect.read_artwork import read_artwork
from dyecast_inspect.read_photo import read_photo
from dyecast_inspect.reading_bounds import DEFAULT_BOUNDS
from dyecast_shared.errors import NotAPicture, PictureDamaged, PictureTooLarge
from picture_files import gradient

ORIENTATION = 274
ICC_PROFILE = 34675


def deep_colours() -> NDArray[np.uint16]:
    """Colours whose low bytes differ from pixel to pixel, so that a picture of 8 bits cannot pass."""
    fine = np.random.default_rng(1).integers(0, 256, gradient().shape, dtype=np.uint16)
    return gradient().astype(np.uint16) * 256 + fine


def written(path: Path, codes: NDArray[Any], **options: Any) -> Path:
    tifffile.imwrite(path, codes, photometric="rgb", **options)
    return path


@pytest.mark.parametrize(
    "options",
    [
        {},
        {"byteorder": ">"},
        {"compression": "zlib", "predictor": True},
        {"tile": (32, 32)},
        {"bigtiff": True},
        {"rowsperstrip": 7},
    ],
    ids=str,
)
def test_sixteen_bits_are_kept_however_the_file_is_laid_out(tmp_path: Path, options: dict[str, Any]) -> None:
    photo = read_photo(written(tmp_path / "deep.tif", deep_colours(), **options))
    assert photo.pixels.dtype == np.uint16
    assert np.array_equal(photo.pixels, deep_colours())


STORED: dict[int, Callable[[NDArray[np.uint16]], NDArray[np.uint16]]] = {
    1: lambda upright: upright,
    2: lambda upright: upright[:, ::-1],
    3: lambda upright: upright[::-1, ::-1],
    4: lambda upright: upright[::-1],
    5: lambda upright: upright.transpose(1, 0, 2),
    6: np.rot90,
    7: lambda upright: np.rot90(upright, 2).transpose(1, 0, 2),
    8: lambda upright: np.rot90(upright, -1),
}
"""How an upright picture is stored under each orientation (TIFF 6.0, tag Orientation)."""


@pytest.mark.parametrize("orientation", STORED)
def test_it_is_turned_upright(tmp_path: Path, orientation: int) -> None:
    stored = np.ascontiguousarray(STORED[orientation](deep_colours()))
    extra = [(ORIENTATION, "H", 1, orientation, True)]
    photo = read_photo(written(tmp_path / "turned.tif", stored, extratags=extra))
    assert photo.full_size == (96, 128)
    assert np.array_equal(photo.pixels, deep_colours())


def test_its_profile_is_obeyed(tmp_path: Path) -> None:
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    photo = read_photo(written(tmp_path / "deep.tif", deep_colours(), iccprofile=profile))
    assert photo.pixels.dtype == np.uint16
    assert not photo.encoding.assumed
    assert not photo.notes


def test_a_large_one_is_reduced_at_sixteen_bits(tmp_path: Path) -> None:
    wide = np.full((100, 3202, 3), 30001, np.uint16)
    photo = read_photo(written(tmp_path / "wide.tif", wide))
    assert photo.scale == 2.0
    assert (photo.pixels == 30001).all()


def test_transparent_parts_become_white(tmp_path: Path) -> None:
    opacity = np.full((96, 128, 1), 65535, np.uint16)
    opacity[:, :64] = 0
    codes = np.concatenate([deep_colours(), opacity], axis=2)
    photo = read_photo(written(tmp_path / "clear.tif", codes, extrasamples=["unassalpha"]))
    assert (photo.pixels[:, :64] == 65535).all()
    assert np.array_equal(photo.pixels[:, 64:], deep_colours()[:, 64:])


def test_an_artwork_keeps_tones_that_eight_bits_round_away(tmp_path: Path) -> None:
    halves = np.full((64, 64, 3), 20000, np.uint16)
    halves[:, 32:] = 20060
    light = read_artwork(written(tmp_path / "artwork.tif", halves)).xyz[..., 1]
    assert light[0, 63] > light[0, 0]


def test_separate_planes_are_refused_since_no_decoder_here_gets_them_right(tmp_path: Path) -> None:
    planes = np.ascontiguousarray(np.moveaxis(deep_colours(), 2, 0))
    path = written(tmp_path / "planes.tif", planes, planarconfig="separate")
    with pytest.raises(NotAPicture, match="separate planes"):
        read_photo(path)


def test_one_that_breaks_off_is_refused(tmp_path: Path) -> None:
    path = written(tmp_path / "deep.tif", deep_colours(), compression="zlib")
    path.write_bytes(path.read_bytes()[:-20000])
    with pytest.raises(PictureDamaged):
        read_photo(path)


def test_the_bounds_hold_before_a_pixel_is_decoded(tmp_path: Path) -> None:
    path = written(tmp_path / "deep.tif", deep_colours())
    with pytest.raises(PictureTooLarge):
        read_photo(path, bounds=replace(DEFAULT_BOUNDS, pixels=96 * 128 - 1))
