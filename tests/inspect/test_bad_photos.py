"""Photos that cannot be read: each is refused in one plain sentence, whatever is wrong with it."""

import zlib
from collections.abc import Callable
from io import BytesIO
from pathlib import Path

import numpy as np
import pillow_heif
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image

from dyecast_inspect.colour_conversion import matrix_profile
from dyecast_inspect.read_photo import read_photo
from dyecast_inspect.reading_bounds import ReadingBounds
from dyecast_shared.encodings import DISPLAY_P3_TO_XYZ_D50
from dyecast_shared.errors import (
    BadInput,
    FileUnreadable,
    NotAPicture,
    PictureDamaged,
    PictureTooLarge,
    PictureTooSmall,
)
from picture_files import gradient, png_with_header, with_chunk


def truncated(path: Path) -> None:
    Image.fromarray(gradient()).save(path, quality=95)
    path.write_bytes(path.read_bytes()[:-400])


def many_scans(path: Path) -> None:
    Image.fromarray(gradient()).save(path, progressive=True)
    data = path.read_bytes()
    last = data.rindex(b"\xff\xda")
    path.write_bytes(data[:last] + data[last:-2] * 300 + b"\xff\xd9")


def huge_note(path: Path) -> None:
    with_chunk(path, b"zTXt", b"Comment\0\0" + zlib.compress(b"x" * 8_000_000))


def flipped_bit(path: Path) -> None:
    Image.fromarray(gradient()).save(path, format="PNG")
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 1
    path.write_bytes(data)


def damaged_tiff(path: Path) -> None:
    Image.fromarray(gradient()).save(path, format="TIFF", compression="tiff_lzw")
    data = bytearray(path.read_bytes())
    data[40:400] = b"\xff" * 360
    path.write_bytes(data)


def unknown_pixels(path: Path) -> None:
    Image.fromarray(np.zeros((96, 128), np.float32)).save(path, format="TIFF")


BAD_INPUTS: dict[str, tuple[Callable[[Path], object], type[BadInput], str]] = {
    "missing": (lambda _: None, FileUnreadable, "There is no such file."),
    "a folder": (lambda path: path.mkdir(), FileUnreadable, "This is a folder, not a picture."),
    "empty": (lambda path: path.write_bytes(b""), FileUnreadable, "The file is empty."),
    "text": (
        lambda path: path.write_text("<script>alert(1)</script>"),
        NotAPicture,
        "no picture that dyecast",
    ),
    "truncated": (truncated, PictureDamaged, "The JPEG breaks off"),
    "only a start": (lambda path: path.write_bytes(b"\xff\xd8\xff"), PictureDamaged, "breaks off"),
    "only a header": (lambda path: path.write_bytes(png_with_header(96, 96)), PictureDamaged, "breaks off"),
    "one pixel": (lambda path: Image.new("RGB", (1, 1)).save(path), PictureTooSmall, "1 x 1 pixels"),
    "20 000 wide": (lambda path: Image.new("RGB", (20000, 100)).save(path), PictureTooLarge, "20000 x 100"),
    "bomb": (lambda path: path.write_bytes(png_with_header(13000, 13000)), PictureTooLarge, "13000 x 13000"),
    "4 gigapixels": (
        lambda path: path.write_bytes(png_with_header(65535, 65535)),
        PictureTooLarge,
        "4295 mega",
    ),
    "endless scans": (many_scans, PictureTooLarge, "scans"),
    "huge note": (huge_note, PictureTooLarge, "A text or profile inside it is too large"),
    "one bit flipped in a PNG": (flipped_bit, PictureDamaged, "do not match their checksum"),
    "damaged TIFF": (damaged_tiff, PictureDamaged, "breaks off or contradicts itself"),
    "floating point": (unknown_pixels, NotAPicture, "stored as F"),
}


@pytest.mark.parametrize("case", BAD_INPUTS)
def test_bad_input_is_refused_in_one_plain_sentence_and_nothing_on_stderr(
    tmp_path: Path, capfd: pytest.CaptureFixture[str], case: str
) -> None:
    write, error, words = BAD_INPUTS[case]
    path = tmp_path / "given.jpg"
    if case in ("one pixel", "huge note"):
        path = tmp_path / "given.png"
    write(path)
    with pytest.raises(error) as refused:
        read_photo(path)
    assert words in refused.value.message
    assert refused.value.file == path.name
    assert refused.value.advice
    assert capfd.readouterr() == ("", "")


def test_a_file_beyond_the_size_limit_is_refused_before_it_is_read_whole(tmp_path: Path) -> None:
    Image.fromarray(gradient()).save(tmp_path / "heavy.jpg", quality=95)
    with pytest.raises(PictureTooLarge, match="The file holds more than"):
        read_photo(tmp_path / "heavy.jpg", bounds=ReadingBounds(file_bytes=1000))


def test_a_picture_that_would_fill_the_memory_is_refused_from_its_header(tmp_path: Path) -> None:
    Image.fromarray(gradient()).save(tmp_path / "wide.png")
    with pytest.raises(PictureTooLarge, match="decoding would take more than"):
        read_photo(tmp_path / "wide.png", bounds=ReadingBounds(decode_bytes=50_000))


def test_a_movie_behind_a_jpeg_is_not_mistaken_for_scans(tmp_path: Path) -> None:
    path = tmp_path / "with_movie.jpg"
    Image.fromarray(gradient()).save(path, quality=95)
    path.write_bytes(path.read_bytes() + b"\xff\xda\x00\x08" * 500)
    assert read_photo(path).full_size == (96, 128)


def small_files() -> dict[str, bytes]:
    """One sound file of each format, as bytes."""
    files = {}
    picture = Image.fromarray(gradient(80, 70))
    profile = matrix_profile("made here", DISPLAY_P3_TO_XYZ_D50)
    for kind in ("JPEG", "PNG", "WEBP", "TIFF", "HEIF"):
        stream = BytesIO()
        if kind == "HEIF":
            pillow_heif.from_pillow(picture).save(stream, quality=50)
        else:
            picture.save(stream, format=kind, icc_profile=profile)
        files[kind] = stream.getvalue()
    return files


SMALL_FILES = small_files()


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    kind=st.sampled_from(sorted(SMALL_FILES)),
    changes=st.lists(st.tuples(st.floats(0, 1), st.integers(0, 255)), min_size=1, max_size=6),
    kept=st.floats(0.3, 1.0),
    in_header=st.booleans(),
)
def test_damage_of_any_kind_ends_in_a_photo_or_a_plain_refusal(
    tmp_path_factory: pytest.TempPathFactory,
    kind: str,
    changes: list[tuple[float, int]],
    kept: float,
    in_header: bool,
) -> None:
    data = bytearray(SMALL_FILES[kind])
    reach = min(len(data), 600) if in_header else len(data)
    for place, value in changes:
        data[min(int(place * reach), len(data) - 1)] = value
    path = tmp_path_factory.getbasetemp() / "damaged"
    path.write_bytes(data if in_header else data[: max(1, int(kept * len(data)))])
    try:
        photo = read_photo(path)
    except BadInput as refusal:
        assert refusal.message
    else:
        assert photo.pixels.shape[2] == 3
