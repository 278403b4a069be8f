"""Photos freed of what they say beside their pixels; what tells how to read the pixels stays."""

import io
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageCms, PngImagePlugin

from api.work.pieces_of_work import small_photo
from dyecast_api.work.strip.minimal_exif import minimal_exif
from dyecast_api.work.strip.without_metadata import without_metadata
from dyecast_inspect.exif_facts import exif_colour_space, orientation, parsed_exif
from dyecast_inspect.picture_header import read_header
from dyecast_inspect.read_photo import read_photo
from dyecast_shared.errors import PictureDamaged

SECRETS = (b"Jane Doe", b"Bench phone", b"2026:05:04", b"secret-place", b"N\0\0\0")
PROFILE = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()


def telling_exif() -> Image.Exif:
    """Return EXIF data with a place, an owner, a camera and a turned picture."""
    exif = Image.Exif()
    exif[0x0112], exif[0x010F], exif[0x013B], exif[0x0132] = (
        8,
        "Bench phone",
        "Jane Doe",
        "2026:05:04 12:00:00",
    )
    exif.get_ifd(0x8769).update(
        {0xA001: 1, 0x9286: b"ASCII\0\0\0secret-place", 0x9003: "2026:05:04 12:00:00"}
    )
    exif.get_ifd(0x8825).update({1: "N", 2: (52.0, 31.0, 12.5), 29: "2026:05:04"})
    return exif


XMP = b"<x:xmpmeta xmlns:x='adobe:ns:meta/'>Jane Doe secret-place</x:xmpmeta>"


def jpeg(**options: Any) -> bytes:
    return small_photo(
        exif=telling_exif(), icc_profile=PROFILE, comment=b"Jane Doe", xmp=XMP, quality=92, **options
    )


def png() -> bytes:
    text = PngImagePlugin.PngInfo()
    text.add_text("Author", "Jane Doe")
    text.add_itxt("place", "secret-place", zip=False)
    return small_photo(kind="PNG", exif=telling_exif(), icc_profile=PROFILE, pnginfo=text)


def webp() -> bytes:
    return small_photo(kind="WEBP", exif=telling_exif(), icc_profile=PROFILE, xmp=XMP, lossless=True)


def heic(exif: Image.Exif | None = None) -> bytes:
    import pillow_heif

    pixels = Image.open(io.BytesIO(small_photo()))
    heif = pillow_heif.from_pillow(pixels)
    stream = io.BytesIO()
    heif.save(stream, exif=(exif or telling_exif()).tobytes(), xmp=XMP, quality=90)
    return stream.getvalue()


def avif() -> bytes:
    return small_photo(kind="AVIF", exif=telling_exif(), icc_profile=PROFILE, xmp=XMP)


def tiff() -> bytes:
    return small_photo(kind="TIFF", exif=telling_exif(), icc_profile=PROFILE)


MADE: dict[str, Callable[[], bytes]] = {
    "jpeg": jpeg,
    "progressive jpeg": lambda: jpeg(progressive=True),
    "png": png,
    "webp": webp,
    "heic": heic,
    "avif": avif,
    "tiff": tiff,
}

each_format = pytest.mark.parametrize("made", MADE.values(), ids=MADE.keys())


def stripped(photo: bytes) -> bytes:
    return without_metadata(photo, read_header(photo, "piece"))


def secrets_in(content: bytes) -> list[bytes]:
    """Return the secrets that are there, the letter N of a place only as EXIF writes it."""
    return [secret for secret in SECRETS[:4] if secret in content]


@each_format
def test_place_time_camera_and_owner_are_gone(made: Callable[[], bytes]) -> None:
    photo = made()
    assert secrets_in(photo)
    kept = stripped(photo)
    assert secrets_in(kept) == []
    with Image.open(io.BytesIO(kept)) if made is not heic else heif_as_picture(kept) as picture:
        assert dict(picture.getexif().get_ifd(0x8825)) == {}


def heif_as_picture(content: bytes) -> Image.Image:
    import pillow_heif

    return pillow_heif.open_heif(io.BytesIO(content)).to_pillow()


@each_format
def test_a_stripped_photo_is_read_as_before(made: Callable[[], bytes], tmp_path: Path) -> None:
    (tmp_path / "before").write_bytes(made())
    (tmp_path / "after").write_bytes(stripped(made()))
    before, after = read_photo(tmp_path / "before"), read_photo(tmp_path / "after")
    assert np.array_equal(before.pixels, after.pixels)
    assert before.notes == after.notes
    assert np.array_equal(before.encoding.to_xyz_d50, after.encoding.to_xyz_d50)


@each_format
def test_stripping_again_changes_nothing(made: Callable[[], bytes]) -> None:
    once = stripped(made())
    assert stripped(once) == once


def test_a_heic_that_says_nothing_of_its_colours_keeps_exif_that_every_program_can_read() -> None:
    exif = Image.Exif()
    exif[0x010F] = "Bench phone"
    kept = stripped(heic(exif))
    assert b"Bench phone" not in kept
    assert dict(heif_as_picture(kept).getexif()) == {}


def test_pictures_that_a_phone_appends_to_a_jpeg_go_with_their_own_metadata() -> None:
    assert stripped(jpeg() + jpeg()) == stripped(jpeg())


def test_a_jpeg_that_breaks_off_in_its_pixels_is_kept_as_far_as_it_goes() -> None:
    whole = stripped(jpeg())
    assert whole.startswith(stripped(jpeg()[:-300]))


def test_a_photo_that_says_nothing_keeps_nothing_of_its_own() -> None:
    assert b"Exif" not in stripped(small_photo())
    assert stripped(small_photo(kind="WEBP")) == small_photo(kind="WEBP")


def test_a_tiff_whose_metadata_could_not_be_found_is_refused() -> None:
    big = b"II+\0" + tiff()[4:]
    header = read_header(tiff(), "piece.tif")
    with pytest.raises(PictureDamaged, match="BigTIFF"):
        without_metadata(big, header)


@given(st.integers(1, 8), st.sampled_from([None, 1, 65535]))
def test_the_little_exif_says_which_way_is_up_and_whether_it_is_srgb(turn: int, space: int | None) -> None:
    exif = parsed_exif(minimal_exif(turn, space))
    assert orientation(exif) == turn
    assert exif_colour_space(exif) == space


@settings(max_examples=40)
@given(st.data())
def test_a_damaged_file_is_refused_or_stripped_but_never_an_unforeseen_error(data: st.DataObject) -> None:
    photo = bytearray(MADE[data.draw(st.sampled_from(["jpeg", "heic", "tiff", "webp"]))]())
    header = read_header(bytes(photo), "piece")
    for _ in range(data.draw(st.integers(1, 6))):
        photo[data.draw(st.integers(8, min(len(photo), 1500) - 1))] = data.draw(st.integers(0, 255))
    try:
        kept = without_metadata(bytes(photo), header)
    except PictureDamaged:
        return
    assert len(kept) <= len(photo) + 100
