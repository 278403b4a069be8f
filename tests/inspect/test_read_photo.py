"""Reading a photo: what comes in upright and with known colours, and what is refused in plain words."""

from io import BytesIO
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pillow_heif
import pytest
from numpy.typing import NDArray
from PIL import Image, ImageCms, features

from dyecast_inspect.colour_conversion import matrix_profile
from dyecast_inspect.read_photo import read_photo
from dyecast_shared.cielab import xyz_to_lab
from dyecast_shared.delta_e import delta_e_2000
from dyecast_shared.encodings import DISPLAY_P3_TO_XYZ_D50, srgb8_to_lab, xyz_d50_to_srgb8
from dyecast_shared.errors import (
    ProfileUnusable,
)
from dyecast_shared.photo import Photo
from picture_files import gradient, with_chunk
from small_profiles import printed_lab, printer_profile

EXIF_ORIENTATION = 0x0112

STORED_AS = {
    1: None,
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_90,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_270,
}
"""How a camera held in each EXIF orientation stores an upright scene."""


def lab_of(photo: Photo) -> NDArray[np.floating]:
    """Return a photo's CIELAB, D50, through its own encoding."""
    return xyz_to_lab(photo.linear(photo.pixels) @ photo.encoding.to_xyz_d50.T)


def test_a_photo_comes_in_as_it_was_stored(tmp_path: Path) -> None:
    path = tmp_path / "piece.jpg"
    Image.fromarray(gradient()).save(path, quality=100, subsampling=0)
    photo = read_photo(path)
    assert photo.name == "piece.jpg"
    assert photo.pixels.shape == (96, 128, 3)
    assert photo.full_size == (96, 128)
    assert photo.scale == 1.0
    assert np.abs(photo.pixels.astype(int) - gradient()).max() <= 5
    assert not photo.pixels.flags.writeable


@pytest.mark.parametrize(
    ("width", "factor"), [(3200, 1), (3202, 2), (4001, 2), (6398, 2), (6400, 4), (9001, 4)]
)
@pytest.mark.parametrize("extension", ["jpg", "png"])
def test_large_photos_are_halved_as_long_as_1600_pixels_are_left(
    tmp_path: Path, width: int, factor: int, extension: str
) -> None:
    path = tmp_path / f"large.{extension}"
    scene = gradient(width, 131)
    Image.fromarray(scene).save(path)
    photo = read_photo(path)
    assert photo.scale == factor
    assert photo.full_size == (131, width)
    assert photo.pixels.shape[:2] == (-(-131 // factor), -(-width // factor))
    middle = photo.pixels[10:20, photo.pixels.shape[1] // 2]
    rows = slice(10 * factor, 20 * factor)
    assert np.abs(middle.mean(axis=0) - scene[rows, width // 2].mean(axis=0)).max() < 2.0


def test_a_point_in_the_reduced_photo_leads_back_to_its_place_in_the_file(tmp_path: Path) -> None:
    scene = np.zeros((200, 4000, 3), np.uint8)
    scene[120:124, 3000:3004] = 255
    Image.fromarray(scene).save(tmp_path / "dot.jpg", quality=95)
    photo = read_photo(tmp_path / "dot.jpg")
    weight = photo.linear(photo.pixels)[..., 1]
    rows, columns = np.indices(weight.shape)
    centre = np.array([[(weight * columns).sum(), (weight * rows).sum()]]) / weight.sum()
    assert photo.to_full(centre)[0] == pytest.approx([3001.5, 121.5], abs=0.1)


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("extension", ["jpg", "png", "webp", "tif"])
def test_the_eight_exif_orientations_give_one_picture(
    tmp_path: Path, orientation: int, extension: str
) -> None:
    path = tmp_path / f"held.{extension}"
    turn = STORED_AS[orientation]
    upright = Image.fromarray(gradient())
    exif = Image.Exif()
    exif[EXIF_ORIENTATION] = orientation
    options: dict[str, dict[str, Any]] = {
        "jpg": {"quality": 100, "subsampling": 0},
        "webp": {"lossless": True},
    }
    stored = upright if turn is None else upright.transpose(turn)
    stored.save(path, exif=exif, **options.get(extension, {}))
    photo = read_photo(path)
    assert photo.full_size == (96, 128)
    assert np.abs(photo.pixels.astype(int) - gradient()).max() <= 5
    assert photo.pixels.flags.c_contiguous


@pytest.mark.parametrize("orientation", [0, 9, 65535])
def test_an_orientation_that_does_not_exist_counts_as_upright(tmp_path: Path, orientation: int) -> None:
    exif = Image.Exif()
    exif[EXIF_ORIENTATION] = orientation
    Image.fromarray(gradient()).save(tmp_path / "odd.jpg", exif=exif)
    assert read_photo(tmp_path / "odd.jpg").full_size == (96, 128)


def test_the_content_decides_about_the_format_not_the_extension(tmp_path: Path) -> None:
    Image.fromarray(gradient()).save(tmp_path / "really_a.jpg", format="PNG")
    assert np.array_equal(read_photo(tmp_path / "really_a.jpg").pixels, gradient())


def test_without_a_profile_srgb_is_assumed_and_said(tmp_path: Path) -> None:
    Image.fromarray(gradient()).save(tmp_path / "plain.jpg")
    photo = read_photo(tmp_path / "plain.jpg")
    assert photo.encoding.name == "sRGB"
    assert photo.encoding.assumed
    assert photo.notes == ("The picture carries no colour profile; sRGB was assumed.",)


@pytest.mark.parametrize(("colour_space", "words"), [(1, "name sRGB, which was used"), (65535, "not sRGB")])
def test_what_exif_says_about_the_colours_is_passed_on(tmp_path: Path, colour_space: int, words: str) -> None:
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0xA001] = colour_space
    Image.fromarray(gradient()).save(tmp_path / "said.jpg", exif=exif)
    photo = read_photo(tmp_path / "said.jpg")
    assert photo.encoding.assumed
    assert words in photo.notes[0]


@pytest.mark.parametrize(
    ("kind", "content", "name"),
    [
        (b"sRGB", b"\0", "sRGB"),
        (b"cICP", b"\x01\x0d\0\x01", "sRGB"),
        (b"cICP", b"\x0c\x0d\0\x01", "Display P3"),
    ],
)
def test_a_png_may_state_its_colours_without_a_profile(
    tmp_path: Path, kind: bytes, content: bytes, name: str
) -> None:
    with_chunk(tmp_path / "stated.png", kind, content)
    photo = read_photo(tmp_path / "stated.png")
    assert photo.encoding.name == name
    assert not photo.encoding.assumed
    assert photo.notes == ()


def test_a_picture_for_high_dynamic_range_displays_is_refused(tmp_path: Path) -> None:
    with_chunk(tmp_path / "hdr.png", b"cICP", b"\x09\x10\0\x01")
    with pytest.raises(ProfileUnusable, match="high dynamic range"):
        read_photo(tmp_path / "hdr.png")


@pytest.mark.parametrize(("primaries", "name"), [(1, "sRGB"), (12, "Display P3")])
def test_a_heic_may_state_its_colours_without_a_profile(tmp_path: Path, primaries: int, name: str) -> None:
    heif = pillow_heif.from_pillow(Image.fromarray(gradient()))
    heif.save(tmp_path / "stated.heic", color_primaries=primaries, transfer_characteristics=13)
    assert read_photo(tmp_path / "stated.heic").encoding.name == name


def test_a_display_p3_photo_means_what_littlecms_makes_of_it(tmp_path: Path) -> None:
    profile = matrix_profile("made here", DISPLAY_P3_TO_XYZ_D50)
    path = tmp_path / "p3.jpg"
    Image.fromarray(gradient()).save(path, quality=95, icc_profile=profile)
    photo = read_photo(path)
    assert photo.encoding.name == "Display P3"
    assert not photo.encoding.assumed
    assert photo.notes == ()
    with Image.open(path) as picture:
        reference = np.asarray(
            ImageCms.profileToProfile(
                picture, picture_profile(picture), srgb_profile(), ImageCms.Intent.RELATIVE_COLORIMETRIC
            )
        )
    ours = xyz_d50_to_srgb8(photo.linear(photo.pixels) @ photo.encoding.to_xyz_d50.T)
    inside = (reference > 0).all(axis=2) & (reference < 255).all(axis=2)
    difference = delta_e_2000(srgb8_to_lab(ours[inside]), srgb8_to_lab(reference[inside]))
    assert inside.mean() > 0.8
    assert difference.mean() < 0.1
    assert np.abs(ours.astype(int) - reference)[inside].max() <= 1


def picture_profile(picture: Image.Image) -> ImageCms.ImageCmsProfile:
    return ImageCms.ImageCmsProfile(BytesIO(picture.info["icc_profile"]))


def srgb_profile() -> ImageCms.ImageCmsProfile:
    return ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB"))


def test_a_damaged_profile_never_changes_colours_in_silence(tmp_path: Path) -> None:
    broken = matrix_profile("cut", DISPLAY_P3_TO_XYZ_D50)[:300]
    Image.fromarray(gradient()).save(tmp_path / "broken.jpg", icc_profile=broken)
    photo = read_photo(tmp_path / "broken.jpg")
    assert photo.encoding.name == "sRGB"
    assert photo.encoding.assumed
    assert photo.notes == ("The colour profile is damaged: a tag lies outside of it. sRGB was assumed.",)


def test_a_photo_with_a_table_profile_is_converted_and_said(tmp_path: Path) -> None:
    Image.fromarray(gradient()).save(tmp_path / "tables.png", icc_profile=printer_profile(b"RGB "))
    photo = read_photo(tmp_path / "tables.png")
    expected = printed_lab(gradient().reshape(-1, 3) / 255.0, b"RGB ").reshape(gradient().shape)
    assert photo.notes == ("Its colours were converted through its profile, Test printer.",)
    assert delta_e_2000(lab_of(photo), expected).mean() < 0.5


def test_a_cmyk_jpeg_is_converted_through_its_profile(tmp_path: Path) -> None:
    ink = np.dstack([gradient() // 2, np.zeros((96, 128), np.uint8)])
    picture = Image.frombytes("CMYK", (128, 96), ink.tobytes())
    picture.save(tmp_path / "ink.jpg", quality=98, subsampling=0, icc_profile=printer_profile(b"CMYK"))
    photo = read_photo(tmp_path / "ink.jpg")
    expected = printed_lab(ink.reshape(-1, 4) / 255.0, b"CMYK").reshape(gradient().shape)
    assert delta_e_2000(lab_of(photo), expected).mean() < 0.7


def test_a_cmyk_jpeg_without_a_profile_has_no_colours_to_read(tmp_path: Path) -> None:
    Image.fromarray(gradient()).convert("CMYK").save(tmp_path / "ink.jpg")
    with pytest.raises(
        ProfileUnusable, match=r"ink\.jpg: The picture is CMYK without a usable colour profile"
    ):
        read_photo(tmp_path / "ink.jpg")


def test_sixteen_bit_png_keeps_its_sixteen_bits(tmp_path: Path) -> None:
    deep = gradient().astype(np.uint16) * 256 + 7
    cv2.imwrite(str(tmp_path / "deep.png"), deep[..., ::-1])
    photo = read_photo(tmp_path / "deep.png")
    assert photo.pixels.dtype == np.uint16
    assert np.array_equal(photo.pixels, deep)
    assert photo.encoding.decode_tables.shape == (3, 65536)


def test_sixteen_bit_grey_png_is_read_with_a_note(tmp_path: Path) -> None:
    deep = gradient()[..., 0].astype(np.uint16) * 257
    Image.fromarray(deep).save(tmp_path / "deep.png")
    photo = read_photo(tmp_path / "deep.png")
    assert np.array_equal(photo.pixels, np.repeat(deep[..., np.newaxis], 3, axis=2))
    assert photo.notes[0] == "The picture is grey: it holds no colour to judge."


def test_a_grey_jpeg_is_read_with_a_note(tmp_path: Path) -> None:
    Image.fromarray(gradient()).convert("L").save(tmp_path / "grey.jpg")
    photo = read_photo(tmp_path / "grey.jpg")
    assert photo.pixels.shape == (96, 128, 3)
    assert "no colour to judge" in photo.notes[0]


def test_transparent_parts_of_a_photo_become_white(tmp_path: Path) -> None:
    opacity = np.full((96, 128), 255, np.uint8)
    opacity[:, 64:] = 0
    Image.fromarray(np.dstack([gradient(), opacity])).save(tmp_path / "cut_out.png")
    photo = read_photo(tmp_path / "cut_out.png")
    assert np.array_equal(photo.pixels[:, :64], gradient()[:, :64])
    assert (photo.pixels[:, 64:] == 255).all()
    assert "Transparent parts of the picture were taken for white." in photo.notes


def test_of_an_animation_the_first_picture_is_read_with_a_note(tmp_path: Path) -> None:
    frames = [Image.fromarray(gradient()), Image.fromarray(255 - gradient())]
    frames[0].save(tmp_path / "moving.webp", save_all=True, append_images=frames[1:], lossless=True)
    photo = read_photo(tmp_path / "moving.webp")
    assert np.abs(photo.pixels.astype(int) - gradient()).max() <= 1
    assert "The file holds several pictures; only the first was read." in photo.notes


def test_of_a_tiff_with_pages_the_first_is_read_with_a_note(tmp_path: Path) -> None:
    pages = [Image.fromarray(gradient()), Image.fromarray(255 - gradient())]
    pages[0].save(tmp_path / "pages.tif", save_all=True, append_images=pages[1:])
    photo = read_photo(tmp_path / "pages.tif")
    assert np.array_equal(photo.pixels, gradient())
    assert "The file holds several pictures; only the first was read." in photo.notes


@pytest.mark.parametrize("orientation", [1, 3, 6])
def test_heic_is_read_upright(tmp_path: Path, orientation: int) -> None:
    turn = STORED_AS[orientation]
    upright = Image.fromarray(gradient())
    stored = upright if turn is None else upright.transpose(turn)
    exif = Image.Exif()
    exif[EXIF_ORIENTATION] = orientation
    heif = pillow_heif.from_pillow(stored)
    heif.save(tmp_path / "phone.heic", quality=95, chroma=444, exif=exif.tobytes())
    photo = read_photo(tmp_path / "phone.heic")
    assert photo.full_size == (96, 128)
    assert np.abs(photo.pixels.astype(int) - gradient()).mean() < 2.0


def test_heic_with_ten_bits_is_kept_as_sixteen(tmp_path: Path) -> None:
    deep = gradient().astype(np.uint16) * 257
    heif = pillow_heif.from_bytes(mode="RGB;16", size=(128, 96), data=deep.tobytes())
    heif.save(tmp_path / "deep.heic", quality=-1, chroma=444)
    photo = read_photo(tmp_path / "deep.heic")
    assert photo.pixels.dtype == np.uint16
    assert np.abs(photo.pixels.astype(int) - deep).mean() < 200


def test_white_in_a_ten_bit_heic_is_full_white(tmp_path: Path) -> None:
    white = np.full((96, 128, 3), 65535, np.uint16)
    heif = pillow_heif.from_bytes(mode="RGB;16", size=(128, 96), data=white.tobytes())
    heif.save(tmp_path / "white.heic", quality=-1, chroma=444)
    photo = read_photo(tmp_path / "white.heic")
    assert photo.linear(photo.pixels).min() > 0.999


@pytest.mark.skipif(not features.check("avif"), reason="this Pillow cannot write AVIF")
@pytest.mark.parametrize("orientation", [1, 6])
def test_avif_is_read_where_pillow_can(tmp_path: Path, orientation: int) -> None:
    turn = STORED_AS[orientation]
    upright = Image.fromarray(gradient())
    exif = Image.Exif()
    exif[EXIF_ORIENTATION] = orientation
    stored = upright if turn is None else upright.transpose(turn)
    stored.save(tmp_path / "photo.avif", quality=95, exif=exif)
    photo = read_photo(tmp_path / "photo.avif")
    assert np.abs(photo.pixels.astype(int) - gradient()).mean() < 2.0
