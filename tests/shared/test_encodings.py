"""sRGB and Display P3 against the standards, colour-science and LittleCMS."""

import io
import math
import struct
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from PIL import Image, ImageCms

from dyecast_shared.cielab import D50_WHITE, D65_WHITE, xyz_to_lab
from dyecast_shared.encodings import (
    D65_XY,
    DISPLAY_P3_PRIMARIES_XY,
    DISPLAY_P3_TO_XYZ_D50,
    SRGB_PRIMARIES_XY,
    SRGB_TO_XYZ_D50,
    XYZ_D50_TO_DISPLAY_P3,
    XYZ_D50_TO_SRGB,
    display_p3_encoding,
    lab_to_srgb8,
    rgb_to_xyz_matrix,
    srgb8_to_lab,
    srgb_decode,
    srgb_encode,
    srgb_encoding,
    srgb_table,
    xyz_d50_to_srgb8,
)
from dyecast_shared.photo import ColourEncoding, FloatArray, Photo


def codes_through_the_cube() -> NDArray[np.uint8]:
    """A grid through the whole RGB cube, both ends included, (N, 3) uint8."""
    steps = np.linspace(0, 255, 18).astype(np.uint8)
    return np.stack(np.meshgrid(steps, steps, steps, indexing="ij"), axis=-1).reshape(-1, 3)


class TestCurve:
    @pytest.mark.parametrize(
        ("code", "linear"), [(0.0, 0.0), (1.0, 1.0), (0.5, 0.2140411), (0.04045, 0.0031308)]
    )
    def test_known_points(self, code: float, linear: float) -> None:
        """IEC 61966-2-1: ends and threshold; 0.5 worked out by hand as ((0.5 + 0.055) / 1.055)^2.4."""
        assert float(srgb_decode(code)) == pytest.approx(linear, abs=1e-7)
        assert float(srgb_encode(linear)) == pytest.approx(code, abs=1e-6)

    @given(st.floats(-0.2, 1.5))
    def test_encoding_undoes_decoding(self, code: float) -> None:
        # The standard's two rounded thresholds leave a gap of some 1e-8 where line and curve meet.
        assert float(srgb_encode(srgb_decode(code))) == pytest.approx(code, abs=1e-6)

    def test_colour_science_agrees(self, colour_science: Any) -> None:
        codes = np.linspace(0, 1, 1001)
        np.testing.assert_allclose(srgb_decode(codes), colour_science.models.eotf_sRGB(codes), atol=1e-12)
        expected = colour_science.models.eotf_inverse_sRGB(codes)
        np.testing.assert_allclose(srgb_encode(codes), expected, atol=1e-12)

    def test_single_precision_stays_single(self) -> None:
        single = np.array([0.0, 0.001, 0.5], dtype=np.float32)
        assert srgb_decode(single).dtype == np.float32
        assert srgb_encode(single).dtype == np.float32
        assert srgb_encode([0, 1]).dtype == np.float64

    @pytest.mark.parametrize("bits", [8, 16])
    def test_the_table_holds_every_code_value(self, bits: int) -> None:
        table = srgb_table(bits)
        assert table.shape == (2**bits,)
        assert table.dtype == np.float32
        assert (table[0], table[-1]) == (0.0, 1.0)
        assert (np.diff(table) > 0).all()

    def test_other_depths_are_a_programming_error(self) -> None:
        with pytest.raises(ValueError, match="8 or 16"):
            srgb_table(10)


class TestMatrices:
    def test_srgb_to_d65_has_the_digits_of_the_standard(self) -> None:
        """IEC 61966-2-1, section 5.2, four decimals."""
        published = [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
        np.testing.assert_allclose(rgb_to_xyz_matrix(SRGB_PRIMARIES_XY, D65_XY), published, atol=6e-5)

    def test_display_p3_to_d65_has_the_published_luminances(self) -> None:
        """Luminance of SMPTE EG 432-1 primaries under D65: 0.2290, 0.6917, 0.0793; from memory."""
        luminance = rgb_to_xyz_matrix(DISPLAY_P3_PRIMARIES_XY, D65_XY)[1]
        np.testing.assert_allclose(luminance, [0.2290, 0.6917, 0.0793], atol=6e-5)

    @pytest.mark.parametrize(
        ("name", "matrix"), [("sRGB", SRGB_TO_XYZ_D50), ("Display P3", DISPLAY_P3_TO_XYZ_D50)]
    )
    def test_colour_science_agrees(self, colour_science: Any, name: str, matrix: FloatArray) -> None:
        space = colour_science.RGB_COLOURSPACES[name]
        to_d65 = colour_science.normalised_primary_matrix(space.primaries, D65_XY)
        adapt = colour_science.adaptation.matrix_chromatic_adaptation_VonKries(
            D65_WHITE, D50_WHITE, transform="Bradford"
        )
        np.testing.assert_allclose(matrix, adapt @ to_d65, atol=1e-9)

    def test_littlecms_builds_the_same_srgb_profile(self) -> None:
        profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).profile
        colorants = [profile.red_colorant, profile.green_colorant, profile.blue_colorant]
        columns = np.array([colorant[0] for colorant in colorants if colorant is not None])
        # Profiles store numbers in steps of 1/65536.
        np.testing.assert_allclose(SRGB_TO_XYZ_D50.T, columns, atol=1 / 65536)

    def test_phones_write_these_display_p3_colorants(self) -> None:
        """Colorants of the Display P3 profile that phones embed, in steps of 1/65536; from memory."""
        published = [[0.51512, 0.24120, -0.00105], [0.29198, 0.69225, 0.04189], [0.15710, 0.06657, 0.78407]]
        np.testing.assert_allclose(DISPLAY_P3_TO_XYZ_D50.T, published, atol=2.5e-5)

    @pytest.mark.parametrize("matrix", [SRGB_TO_XYZ_D50, DISPLAY_P3_TO_XYZ_D50])
    def test_full_red_green_and_blue_make_d50_white(self, matrix: FloatArray) -> None:
        np.testing.assert_allclose(matrix.sum(axis=1), D50_WHITE, atol=1e-12)

    def test_the_inverses_invert(self) -> None:
        np.testing.assert_allclose(XYZ_D50_TO_SRGB @ SRGB_TO_XYZ_D50, np.eye(3), atol=1e-12)
        np.testing.assert_allclose(XYZ_D50_TO_DISPLAY_P3 @ DISPLAY_P3_TO_XYZ_D50, np.eye(3), atol=1e-12)


class TestEightBitSrgb:
    def test_white_grey_and_black_are_neutral(self) -> None:
        lab = srgb8_to_lab(np.array([[255, 255, 255], [119, 119, 119], [0, 0, 0]], dtype=np.uint8))
        assert lab.dtype == np.float32
        np.testing.assert_allclose(lab[:, 1:], 0.0, atol=1e-4)
        # Code value 119 is mid grey: Y = 0.1845, L* = 50.03, worked out by hand.
        np.testing.assert_allclose(lab[:, 0], [100.0, 50.03, 0.0], atol=0.01)

    def test_colour_science_agrees_on_lab(self, colour_science: Any) -> None:
        codes = codes_through_the_cube()
        linear = colour_science.models.eotf_sRGB(codes / 255)
        white = colour_science.XYZ_to_xy(D50_WHITE)
        expected = colour_science.XYZ_to_Lab(linear @ SRGB_TO_XYZ_D50.T, white)
        np.testing.assert_allclose(srgb8_to_lab(codes), expected, atol=2e-4)

    def test_littlecms_agrees_on_lab(self) -> None:
        """LittleCMS writes Lab in 8 bits: L* in steps of 100/255, a* and b* in whole numbers."""
        codes = codes_through_the_cube()
        transform = ImageCms.buildTransform(
            ImageCms.createProfile("sRGB"), ImageCms.createProfile("LAB", 5000), "RGB", "LAB"
        )
        converted = ImageCms.applyTransform(Image.fromarray(codes[np.newaxis]), transform)
        assert converted is not None
        theirs = np.frombuffer(converted.tobytes(), dtype=np.uint8).reshape(-1, 3)
        ours = srgb8_to_lab(codes)
        np.testing.assert_allclose(ours[:, 0], theirs[:, 0] * (100 / 255), atol=0.3)
        np.testing.assert_allclose(ours[:, 1:], theirs[:, 1:].view(np.int8), atol=0.75)

    def test_every_code_survives_lab_and_back(self) -> None:
        codes = codes_through_the_cube()
        np.testing.assert_array_equal(lab_to_srgb8(srgb8_to_lab(codes)), codes)

    def test_pictures_keep_their_shape(self) -> None:
        picture = np.zeros((4, 5, 3), dtype=np.uint8)
        assert srgb8_to_lab(picture).shape == (4, 5, 3)
        assert lab_to_srgb8(srgb8_to_lab(picture)).shape == (4, 5, 3)

    def test_colours_out_of_gamut_are_clipped(self) -> None:
        assert lab_to_srgb8([50, 0, -120])[..., 2] == 255
        assert lab_to_srgb8([120, 0, 0]).tolist() == [255, 255, 255]
        assert lab_to_srgb8([-5, 0, 0]).tolist() == [0, 0, 0]

    def test_an_unknown_colour_is_drawn_black(self) -> None:
        assert xyz_d50_to_srgb8([math.nan, math.nan, math.nan]).tolist() == [0, 0, 0]

    def test_other_code_values_are_a_programming_error(self) -> None:
        with pytest.raises(ValueError, match="uint8"):
            srgb8_to_lab(np.zeros((2, 3), dtype=np.uint16))


class TestEncodings:
    @pytest.mark.parametrize("build", [srgb_encoding, display_p3_encoding])
    def test_an_encoding_decodes_a_photo(self, build: Any) -> None:
        encoding = build(assumed=True)
        assert encoding.assumed
        assert encoding.decode_tables.shape == (3, 256)
        assert encoding.decode_tables.dtype == np.float32
        photo = photo_of(np.full((1, 1, 3), 255, dtype=np.uint8), encoding)
        white = photo.linear(photo.pixels) @ encoding.to_xyz_d50.T
        np.testing.assert_allclose(white[0, 0], D50_WHITE, atol=1e-6)

    def test_sixteen_bit_photos_have_longer_tables(self) -> None:
        assert srgb_encoding(bits=16).decode_tables.shape == (3, 65536)

    def test_only_the_file_itself_makes_an_encoding_certain(self) -> None:
        assert not srgb_encoding().assumed
        assert (srgb_encoding().name, display_p3_encoding().name) == ("sRGB", "Display P3")

    def test_the_same_numbers_are_more_saturated_in_display_p3(self) -> None:
        red = np.array([[[255, 0, 0]]], dtype=np.uint8)
        narrow, wide = (lab_of(photo_of(red, build())) for build in (srgb_encoding, display_p3_encoding))
        assert np.hypot(wide[0, 0, 1], wide[0, 0, 2]) > np.hypot(narrow[0, 0, 1], narrow[0, 0, 2]) + 10

    def test_littlecms_converts_display_p3_to_the_same_srgb(self, colour_science: Any) -> None:
        """The profile is written here from colour-science's numbers, and LittleCMS converts with it."""
        codes = codes_through_the_cube()
        source = ImageCms.ImageCmsProfile(io.BytesIO(display_p3_profile(colour_science)))
        transform = ImageCms.buildTransform(source, ImageCms.createProfile("sRGB"), "RGB", "RGB")
        converted = ImageCms.applyTransform(Image.fromarray(codes[np.newaxis]), transform)
        assert converted is not None
        photo = photo_of(codes[np.newaxis], display_p3_encoding())
        ours = xyz_d50_to_srgb8(photo.linear(photo.pixels) @ photo.encoding.to_xyz_d50.T)
        np.testing.assert_allclose(ours.astype(int), np.asarray(converted).astype(int), atol=1)


def photo_of(pixels: NDArray[np.uint8], encoding: ColourEncoding) -> Photo:
    return Photo(name="test", pixels=pixels, encoding=encoding, full_size=pixels.shape[:2], scale=1.0)


def lab_of(photo: Photo) -> FloatArray:
    return xyz_to_lab(photo.linear(photo.pixels) @ photo.encoding.to_xyz_d50.T)


def fixed(*values: float) -> bytes:
    """Numbers as ICC.1 stores them, s15Fixed16."""
    return b"".join(struct.pack(">i", round(value * 65536)) for value in values)


def display_p3_profile(colour_science: Any) -> bytes:
    """The smallest matrix profile LittleCMS reads (ICC.1:2010, sections 7 and 10), for Display P3."""
    space = colour_science.RGB_COLOURSPACES["Display P3"]
    adapt = colour_science.adaptation.matrix_chromatic_adaptation_VonKries(
        D65_WHITE, D50_WHITE, transform="Bradford"
    )
    matrix = adapt @ colour_science.normalised_primary_matrix(space.primaries, D65_XY)
    curve = b"para\0\0\0\0\0\3\0\0" + fixed(2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045)
    text = b"mluc\0\0\0\0" + struct.pack(">II2s2sII", 1, 12, b"en", b"US", 4, 28) + "P3".encode("utf-16-be")
    tags = {b"desc": text, b"cprt": text, b"wtpt": b"XYZ \0\0\0\0" + fixed(*D50_WHITE)}
    for letter, column in zip("rgb", matrix.T, strict=True):
        tags[f"{letter}XYZ".encode()] = b"XYZ \0\0\0\0" + fixed(*column)
        tags[f"{letter}TRC".encode()] = curve
    return assembled_profile(tags)


def assembled_profile(tags: dict[bytes, bytes]) -> bytes:
    """Header, tag table and tags of a display profile, ICC.1:2010, section 7."""
    table, body, start = b"", b"", 132 + 12 * len(tags)
    for signature, data in tags.items():
        table += signature + struct.pack(">II", start + len(body), len(data))
        body += data + b"\0" * (-len(data) % 4)
    header = struct.pack(">I4sI4s4s4s", start + len(body), b"\0" * 4, 0x04200000, b"mntr", b"RGB ", b"XYZ ")
    header += struct.pack(">6H4s", 2024, 1, 1, 0, 0, 0, b"acsp") + b"\0" * 28 + fixed(*D50_WHITE)
    return header.ljust(128, b"\0") + struct.pack(">I", len(tags)) + table + body
