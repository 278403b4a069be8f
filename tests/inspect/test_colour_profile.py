"""ICC profiles: what is understood, what is left to a colour engine, and what is refused."""

import io
import struct

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from PIL import Image, ImageCms

from dyecast_inspect.colour_conversion import matrix_profile
from dyecast_inspect.colour_profile import encoding_from_icc, parse_profile
from dyecast_shared.delta_e import delta_e_2000
from dyecast_shared.encodings import (
    DISPLAY_P3_TO_XYZ_D50,
    SRGB_TO_XYZ_D50,
    srgb8_to_lab,
    srgb_table,
    xyz_d50_to_srgb8,
)
from dyecast_shared.errors import ProfileUnusable
from small_profiles import D50, fixed, frame, name_tag, printer_profile, xyz_tag

PRIMARY_TAGS = (b"rXYZ", b"gXYZ", b"bXYZ")

CURVE_TAGS = (b"rTRC", b"gTRC", b"bTRC")

ADOBE_RGB_TO_XYZ_D50 = np.array(
    [[0.60974, 0.20528, 0.14919], [0.31111, 0.62567, 0.06322], [0.01947, 0.06087, 0.74457]]
)
"""Source: Adobe RGB (1998) Color Image Encoding, 2005-05, section 4.3.6.1 (quoted from memory)."""


def parametric(kind: int, *parameters: float) -> bytes:
    """Write a parametricCurveType tag (ICC.1:2022, 10.18)."""
    return struct.pack(">4sIHH", b"para", 0, kind, 0) + fixed(*parameters)


def sampled(*samples: int) -> bytes:
    """Write a curveType tag (10.6)."""
    return struct.pack(f">4sII{len(samples)}H", b"curv", 0, len(samples), *samples)


def rgb_profile(curve: bytes, matrix: NDArray[np.float64] = SRGB_TO_XYZ_D50, name: str = "Test") -> bytes:
    """Build an RGB profile with one curve for all channels."""
    primaries = {tag: xyz_tag(*matrix[:, axis]) for axis, tag in enumerate(PRIMARY_TAGS)}
    return frame(b"RGB ", {b"desc": name_tag(name), **primaries, **dict.fromkeys(CURVE_TAGS, curve)})


def grey_profile(curve: bytes) -> bytes:
    """Build a grey profile."""
    return frame(b"GRAY", {b"desc": name_tag("Grey"), b"wtpt": xyz_tag(*D50), b"kTRC": curve})


def test_littlecms_own_srgb_profile_is_recognised_as_srgb() -> None:
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    encoding = encoding_from_icc(profile)
    assert encoding.name == "sRGB"
    assert not encoding.assumed
    assert encoding.to_xyz_d50 == pytest.approx(SRGB_TO_XYZ_D50, abs=2e-4)
    assert encoding.decode_tables[1] == pytest.approx(srgb_table(8), abs=1e-4)


def test_display_p3_is_recognised_by_its_values_not_by_its_name() -> None:
    assert encoding_from_icc(matrix_profile("Camera", DISPLAY_P3_TO_XYZ_D50)).name == "Display P3"
    assert encoding_from_icc(rgb_profile(sampled(563), name="Display P3")).name != "sRGB"
    assert encoding_from_icc(rgb_profile(sampled(563), name="sRGB")).decode_tables[0, 128] == pytest.approx(
        (128 / 255) ** (563 / 256), abs=1e-6
    )


def test_sixteen_bit_pictures_get_tables_of_65536() -> None:
    encoding = encoding_from_icc(matrix_profile("deep", SRGB_TO_XYZ_D50), bits=16)
    assert encoding.name == "sRGB"
    assert encoding.decode_tables.shape == (3, 65536)
    assert encoding.decode_tables.dtype == np.float32
    assert np.abs(encoding.decode_tables[2] - srgb_table(16)).max() < 1e-4


CODES = np.arange(256) / 255.0

CURVES = {
    "identity": (sampled(), CODES),
    "one exponent": (sampled(512), CODES**2),
    "samples": (sampled(0, 16384, 65535), np.interp(CODES, [0, 0.5, 1], [0, 16384 / 65535, 1])),
    "type 0": (parametric(0, 1.8), CODES**1.8),
    "type 1": (parametric(1, 2, 1.25, -0.25), np.maximum(1.25 * CODES - 0.25, 0) ** 2),
    "type 2": (parametric(2, 2, 0.9, 0, 0.1), 0.81 * CODES**2 + 0.1),
    "type 3": (parametric(3, 2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045), srgb_table(8)),
    "type 4": (
        parametric(4, 2, 0.9, 0.05, 0.3, 0.2, 0.05, 0.01),
        np.where(CODES >= 0.2, (0.9 * CODES + 0.05) ** 2 + 0.05, 0.3 * CODES + 0.01),
    ),
}
"""Each kind of curve with the values its formula gives (ICC.1:2022, 10.6 and 10.18, table 68)."""


@pytest.mark.parametrize("kind", CURVES)
def test_every_kind_of_tone_curve_is_understood(kind: str) -> None:
    curve, expected = CURVES[kind]
    tables = encoding_from_icc(rgb_profile(curve)).decode_tables
    assert tables[0] == pytest.approx(np.clip(expected, 0, 1), abs=2e-4)


@pytest.mark.parametrize("kind", ["one exponent", "samples", "type 0", "type 1", "type 3", "type 4"])
@pytest.mark.parametrize("matrix", [DISPLAY_P3_TO_XYZ_D50, ADOBE_RGB_TO_XYZ_D50], ids=["P3", "Adobe RGB"])
def test_colours_agree_with_littlecms(kind: str, matrix: NDArray[np.float64]) -> None:
    profile = rgb_profile(CURVES[kind][0], matrix)
    codes = np.random.default_rng(7).integers(0, 256, (64, 64, 3)).astype(np.uint8)
    encoding = encoding_from_icc(profile)
    light = np.stack([encoding.decode_tables[axis][codes[..., axis]] for axis in range(3)], axis=-1)
    ours = xyz_d50_to_srgb8(light @ encoding.to_xyz_d50.T)
    source = ImageCms.ImageCmsProfile(io.BytesIO(profile))
    target = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB"))
    reference = np.asarray(
        ImageCms.profileToProfile(
            Image.fromarray(codes), source, target, ImageCms.Intent.RELATIVE_COLORIMETRIC
        )
    )
    inside = (reference > 0).all(axis=2) & (reference < 255).all(axis=2)
    assert inside.mean() > 0.1
    assert np.abs(ours.astype(int) - reference)[inside].max() <= 1
    assert delta_e_2000(srgb8_to_lab(ours[inside]), srgb8_to_lab(reference[inside])).mean() < 0.1


def test_a_grey_profile_leaves_grey_at_d50_white() -> None:
    encoding = encoding_from_icc(grey_profile(sampled(512)))
    xyz = encoding.decode_tables[:, 128] @ encoding.to_xyz_d50.T
    assert xyz == pytest.approx(np.array(D50) * (128 / 255) ** 2, abs=1e-4)


@pytest.mark.parametrize("space", [b"RGB ", b"CMYK"])
def test_a_profile_with_tables_is_left_to_the_colour_engine(space: bytes) -> None:
    profile = parse_profile(printer_profile(space))
    assert profile.needs_conversion
    assert profile.name == "Test printer"
    with pytest.raises(ProfileUnusable, match="more than curves and a matrix"):
        encoding_from_icc(printer_profile(space))


def test_a_name_cannot_smuggle_markup_or_go_on_for_ever() -> None:
    name = parse_profile(rgb_profile(sampled(), name="<script>" + "x" * 500)).name
    assert "<" not in name
    assert len(name) <= 60
    assert parse_profile(rgb_profile(sampled(), name="\r\n\x1b")).name == "unnamed profile"


SRGB_LIKE = rgb_profile(sampled(563))

DAMAGED = {
    "nothing": (b"", "no valid header"),
    "no signature": (SRGB_LIKE.replace(b"acsp", b"xxxx"), "no valid header"),
    "illuminant": (SRGB_LIKE[:68] + b"\0" * 12 + SRGB_LIKE[80:], "illuminant is not D50"),
    "no tags": (SRGB_LIKE[:128] + b"\0\0\0\0" + SRGB_LIKE[132:], "tag table breaks off"),
    "endless tags": (SRGB_LIKE[:128] + b"\xff\xff\xff\xff" + SRGB_LIKE[132:], "tag table breaks off"),
    "cut": (SRGB_LIKE[:-8], "a tag lies outside"),
    "no primary": (SRGB_LIKE.replace(b"gXYZ", b"oXYZ"), "a primary is missing"),
    "no curve": (SRGB_LIKE.replace(b"bTRC", b"oTRC"), "a tone curve makes no sense"),
    "flat curve": (rgb_profile(sampled(30000, 30000)), "a tone curve makes no sense"),
    "more samples than bytes": (
        rgb_profile(struct.pack(">4sII", b"curv", 0, 2**31)),
        "a tone curve makes no sense",
    ),
    "unknown formula": (rgb_profile(parametric(9, 1, 1, 1, 1, 1)), "a tone curve makes no sense"),
    "slope of zero": (rgb_profile(parametric(1, 2.2, 0, 0)), "a tone curve makes no sense"),
    "not D50": (rgb_profile(sampled(563), SRGB_TO_XYZ_D50 * 1.2), "do not add up to D50"),
    "one primary thrice": (
        rgb_profile(sampled(563), np.repeat(np.array(D50)[:, np.newaxis] / 3, 3, axis=1)),
        "not independent",
    ),
}


@pytest.mark.parametrize("case", DAMAGED)
def test_a_damaged_profile_is_refused_with_the_reason(case: str) -> None:
    profile, words = DAMAGED[case]
    with pytest.raises(ProfileUnusable, match=words):
        encoding_from_icc(profile)


@settings(max_examples=300, deadline=None)
@given(
    place=st.integers(0, len(SRGB_LIKE) - 1), value=st.integers(0, 255), kept=st.integers(0, len(SRGB_LIKE))
)
def test_any_damage_gives_sound_tables_or_a_refusal(place: int, value: int, kept: int) -> None:
    for damaged in (SRGB_LIKE[:place] + bytes([value]) + SRGB_LIKE[place + 1 :], SRGB_LIKE[:kept]):
        try:
            encoding = encoding_from_icc(damaged)
        except ProfileUnusable:
            continue
        assert encoding.decode_tables.min() >= 0.0
        assert encoding.decode_tables.max() <= 1.0
        assert np.isfinite(encoding.to_xyz_d50).all()
