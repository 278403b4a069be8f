"""The small parts that reading a picture is made of, each on its own."""

import io

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image, ImageOps

from dyecast_inspect.picture_colour import on_white
from dyecast_inspect.picture_header import Container, container_of
from dyecast_inspect.png_chunks import chunk_spans, only_pixels, pixels_intact, small_chunk
from dyecast_inspect.read_artwork import ARTWORK_LONG_SIDE_PX, reduced_size
from dyecast_inspect.read_photo import working_factor
from dyecast_inspect.upright import upright, upright_size
from dyecast_shared.errors import NotAPicture
from picture_files import chunk, gradient

EXIF_ORIENTATION = 0x0112


class TestTurningUpright:
    @pytest.mark.parametrize("orientation", range(1, 9))
    def test_it_does_what_pillow_does(self, orientation: int) -> None:
        stored = Image.fromarray(gradient())
        stored.getexif()[EXIF_ORIENTATION] = orientation
        assert np.array_equal(upright(gradient(), orientation), np.asarray(ImageOps.exif_transpose(stored)))

    @pytest.mark.parametrize(
        ("orientation", "back"), [(1, 1), (2, 2), (3, 3), (4, 4), (5, 5), (6, 8), (7, 7)]
    )
    def test_each_turn_has_one_that_undoes_it(self, orientation: int, back: int) -> None:
        assert np.array_equal(upright(upright(gradient(), orientation), back), gradient())

    @pytest.mark.parametrize("orientation", range(1, 9))
    def test_the_size_is_told_without_the_pixels(self, orientation: int) -> None:
        assert upright_size(96, 128, orientation) == upright(gradient(), orientation).shape[:2]

    def test_opacity_is_turned_as_colour_is(self) -> None:
        opacity = gradient()[..., 0].astype(np.float32)
        assert np.array_equal(upright(opacity, 6), upright(gradient(), 6)[..., 0])


class TestLayingOnWhite:
    @pytest.mark.parametrize("dtype", [np.uint8, np.uint16])
    def test_clear_is_white_opaque_is_itself_and_half_is_the_mean_of_both(self, dtype: type) -> None:
        top = int(np.iinfo(dtype).max)
        codes: NDArray[np.uint8] | NDArray[np.uint16] = np.full((1, 3, 3), top // 5, dtype)
        laid = on_white(codes, np.array([[0.0, 0.5, 1.0]], np.float32))
        assert laid.dtype == dtype
        assert laid[0, :, 0].tolist() == [top, round(0.6 * top), top // 5]

    def test_an_opaque_picture_is_left_alone(self) -> None:
        assert on_white(gradient(), None).shape == gradient().shape
        assert np.array_equal(on_white(gradient(), None), gradient())


class TestSizes:
    @pytest.mark.parametrize(
        ("side", "factor"), [(1600, 1), (3200, 1), (3201, 2), (6399, 2), (6400, 4), (12000, 4)]
    )
    def test_a_photo_is_reduced_as_long_as_1600_pixels_are_left(self, side: int, factor: int) -> None:
        assert working_factor(side, side // 2) == working_factor(side // 2, side) == factor

    @pytest.mark.parametrize(
        ("size", "reduced"),
        [((300, 200), (300, 200)), ((2048, 1024), (720, 360)), ((3, 30000), (1, ARTWORK_LONG_SIDE_PX))],
    )
    def test_an_artwork_keeps_its_aspect_and_never_grows(
        self, size: tuple[int, int], reduced: tuple[int, int]
    ) -> None:
        assert reduced_size(*size) == reduced


class TestChunksOfAPng:
    def png(self) -> bytes:
        written = io.BytesIO()
        Image.fromarray(gradient()).save(written, format="PNG")
        plain = written.getvalue()
        return plain[:33] + chunk(b"tEXt", b"Comment\0secret") + plain[33:]

    def test_a_note_is_found_by_its_kind_and_left_out_of_the_pixels(self) -> None:
        assert small_chunk(self.png(), b"tEXt") == b"Comment\0secret"
        assert small_chunk(self.png(), b"iCCP") is None
        assert b"secret" not in only_pixels(self.png())
        assert np.array_equal(np.asarray(Image.open(io.BytesIO(only_pixels(self.png())))), gradient())

    def test_chunks_cover_the_file_without_gaps(self) -> None:
        spans = list(chunk_spans(self.png()))
        assert [end for _, _, end in spans[:-1]] == [start for _, start, _ in spans[1:]]
        assert spans[-1][0] == b"IEND"
        assert spans[-1][2] == len(self.png())

    def test_one_flipped_bit_among_the_pixels_is_noticed_one_in_a_note_is_not(self) -> None:
        whole = self.png()
        assert pixels_intact(whole)
        pixel, note = whole.index(b"IDAT") + 20, whole.index(b"secret")
        for place, intact in ((pixel, False), (note, True)):
            flipped = bytearray(whole)
            flipped[place] ^= 1
            assert pixels_intact(bytes(flipped)) is intact

    def test_a_chunk_that_claims_more_than_there_is_ends_the_search(self) -> None:
        whole = self.png()
        assert [kind for kind, _, _ in chunk_spans(whole[:-13])][-1] != b"IEND"


class TestTellingTheFormat:
    @pytest.mark.parametrize(
        ("first_bytes", "container"),
        [
            (b"\xff\xd8\xff\xe0", Container.JPEG),
            (b"\x89PNG\r\n\x1a\n", Container.PNG),
            (b"II*\0", Container.TIFF),
            (b"MM\0+", Container.TIFF),
            (b"RIFF\0\0\0\0WEBP", Container.WEBP),
            (b"\0\0\0\x18ftypheic\0\0\0\0mif1heic", Container.HEIF),
            (b"\0\0\0\x1cftypmif1\0\0\0\0mif1avifmiaf", Container.AVIF),
        ],
        ids=lambda value: value.value if isinstance(value, Container) else "",
    )
    def test_the_first_bytes_tell(self, first_bytes: bytes, container: Container) -> None:
        assert container_of(first_bytes, "piece.jpg") is container

    @pytest.mark.parametrize(
        "first_bytes", [b"", b"GIF89a", b"%PDF-1.7", b"RIFF\0\0\0\0WAVE", b"\0\0\0\x14ftypisom"]
    )
    def test_what_is_no_picture_of_ours_is_refused_whatever_it_is_called(self, first_bytes: bytes) -> None:
        with pytest.raises(NotAPicture):
            container_of(first_bytes, "piece.jpg")
