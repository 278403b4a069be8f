"""The pictures of a photo that pages show: small, upright, whatever phone it came from."""

import io
from pathlib import Path

import pytest
from PIL import Image

from api.inspections import retake
from api.work.pieces_of_work import small_photo
from dyecast_api.work.page_pictures import page_pictures
from dyecast_api.work.strip.without_metadata import without_metadata
from dyecast_inspect.picture_header import read_header


def heic_of(photo: bytes) -> bytes:
    """Encode a photo as phones do, with EXIF data of its own."""
    import pillow_heif

    exif = Image.Exif()
    exif[0x010F] = "A phone"
    stream = io.BytesIO()
    pillow_heif.from_pillow(Image.open(io.BytesIO(photo))).save(stream, exif=exif.tobytes())
    return stream.getvalue()


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "TIFF", "WEBP", "AVIF", "HEIC"])
def test_a_stripped_photo_of_any_format_is_shown(kind: str, tmp_path: Path) -> None:
    photo = heic_of(small_photo()) if kind == "HEIC" else small_photo(kind=kind)
    path = tmp_path / "photo"
    path.write_bytes(without_metadata(photo, read_header(photo, "photo")))
    shown = page_pictures(retake(), path)
    assert set(shown) == {"photo", "thumbnail"}
    with Image.open(io.BytesIO(shown["thumbnail"])) as picture:
        assert (picture.format, picture.size) == ("JPEG", (80, 64))


def test_a_large_turned_photo_is_shown_small_and_upright(tmp_path: Path) -> None:
    exif = Image.Exif()
    exif[0x0112] = 6
    path = tmp_path / "photo.jpg"
    Image.new("RGB", (3000, 2000), "teal").save(path, exif=exif)
    sizes = {
        name: Image.open(io.BytesIO(content)).size for name, content in page_pictures(retake(), path).items()
    }
    assert sizes == {"photo": (853, 1280), "thumbnail": (213, 320)}


def test_a_photo_that_cannot_be_decoded_is_not_shown(tmp_path: Path) -> None:
    path = tmp_path / "photo.jpg"
    path.write_bytes(small_photo()[:300])
    assert page_pictures(retake(), path) == {}
