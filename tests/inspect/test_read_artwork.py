"""Reading the artwork: the colours it asks for, where it prints, and what the printer can reach."""

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from dyecast_inspect.colour_conversion import matrix_profile
from dyecast_inspect.read_artwork import read_artwork
from dyecast_shared.cielab import lab_to_xyz, xyz_to_lab
from dyecast_shared.delta_e import delta_e_2000
from dyecast_shared.encodings import DISPLAY_P3_TO_XYZ_D50, SRGB_TO_XYZ_D50, srgb8_to_lab
from dyecast_shared.errors import (
    FileUnreadable,
    NotAPicture,
    PictureDamaged,
    PictureTooLarge,
    PictureTooSmall,
    ProfileUnusable,
)
from small_profiles import DARKEST_LIGHTNESS, printed_lab, printer_profile

COLOURS = np.array([[255, 255, 255], [0, 0, 0], [200, 60, 50], [60, 120, 70], [128, 128, 128]], np.uint8)


def fields(size: int = 80) -> NDArray[np.uint8]:
    """Draw five fields of one colour each side by side, (size, 5 size, 3)."""
    return np.repeat(np.repeat(COLOURS[np.newaxis], size, axis=0), size, axis=1)


def centres(values: NDArray[np.floating]) -> NDArray[np.floating]:
    """Return the values in the middle of each of the five fields."""
    step = values.shape[1] // 5
    return values[values.shape[0] // 2, step // 2 :: step]


def test_an_artwork_comes_in_as_colours_under_d50(tmp_path: Path) -> None:
    Image.fromarray(fields()).save(tmp_path / "mug.png")
    artwork = read_artwork(tmp_path / "mug.png")
    assert artwork.name == "mug.png"
    assert artwork.size_px == (80, 400)
    assert artwork.xyz.dtype == np.float32
    assert artwork.xyz.shape == (80, 400, 3)
    assert xyz_to_lab(centres(artwork.xyz)) == pytest.approx(srgb8_to_lab(COLOURS), abs=0.01)
    assert artwork.opaque.all()
    assert artwork.printer_xyz is None
    assert artwork.notes == ("The picture carries no colour profile; sRGB was assumed.",)
    assert not artwork.xyz.flags.writeable


def test_a_large_artwork_is_averaged_in_light_not_in_code_values(tmp_path: Path) -> None:
    checks = (np.indices((1080, 1440)).sum(axis=0) % 2 * 255).astype(np.uint8)
    Image.fromarray(checks).convert("RGB").save(tmp_path / "checks.png")
    artwork = read_artwork(tmp_path / "checks.png")
    assert artwork.xyz.shape == (540, 720, 3)
    assert artwork.size_px == (1080, 1440)
    assert np.abs(artwork.xyz[..., 1] - 0.5).max() < 1e-4


@pytest.mark.parametrize("size", [(721, 64), (3001, 700), (720, 720), (700, 3001)])
def test_the_mean_light_is_the_same_at_every_size(tmp_path: Path, size: tuple[int, int]) -> None:
    width, height = size
    ramp = np.linspace(0, 255, width)[np.newaxis] * np.linspace(0.2, 1, height)[:, np.newaxis]
    codes = np.repeat(np.rint(ramp).astype(np.uint8)[..., np.newaxis], 3, axis=2)
    Image.fromarray(codes).save(tmp_path / "ramp.png")
    artwork = read_artwork(tmp_path / "ramp.png")
    assert max(artwork.xyz.shape) <= 720
    full = xyz_mean(codes)
    assert float(artwork.xyz[..., 1].mean()) == pytest.approx(full, rel=2e-3)


@pytest.mark.parametrize("pixels", [1, 2, 3])
def test_fine_lines_keep_their_mean_light_in_an_artwork_a_little_too_large(
    tmp_path: Path, pixels: int
) -> None:
    lines = np.repeat((np.arange(1200) // pixels % 2 * 255).astype(np.uint8)[np.newaxis], 900, axis=0)
    Image.fromarray(lines).convert("RGB").save(tmp_path / "lines.png")
    artwork = read_artwork(tmp_path / "lines.png")
    assert artwork.xyz.shape == (540, 720, 3)
    assert float(artwork.xyz[..., 1].mean()) == pytest.approx(0.5, abs=0.005)


@pytest.mark.parametrize("size", [(100, 200), (300, 600)])
def test_an_artwork_has_the_same_light_at_any_smaller_size(tmp_path: Path, size: tuple[int, int]) -> None:
    noise = np.random.default_rng(3).integers(0, 256, (400, 800, 3), np.uint8)
    Image.fromarray(noise).save(tmp_path / "noise.png")
    artwork = read_artwork(tmp_path / "noise.png")
    reduced = artwork.at_size(*size)
    assert reduced.shape == (*size, 3)
    assert reduced.mean(axis=(0, 1)) == pytest.approx(artwork.xyz.mean(axis=(0, 1)), rel=2e-3)


def xyz_mean(codes: NDArray[np.uint8]) -> float:
    lightness = srgb8_to_lab(codes)
    return float(lab_to_xyz(lightness)[..., 1].mean())


def test_transparent_is_unprinted_and_unprinted_is_white(tmp_path: Path) -> None:
    opacity = np.full((80, 400), 255, np.uint8)
    opacity[:, 200:] = 0
    Image.fromarray(np.dstack([fields(), opacity])).save(tmp_path / "logo.png")
    artwork = read_artwork(tmp_path / "logo.png")
    assert artwork.opaque[:, :200].all()
    assert not artwork.opaque[:, 200:].any()
    assert artwork.xyz[40, 300] == pytest.approx([0.9642, 1.0, 0.8249], abs=1e-3)
    assert "Transparent parts of the picture were taken for white." in artwork.notes


def test_half_transparent_ink_is_mixed_as_drawing_programs_do(tmp_path: Path) -> None:
    black = np.zeros((80, 80, 4), np.uint8)
    black[..., 3] = 128
    Image.fromarray(black).save(tmp_path / "veil.png")
    artwork = read_artwork(tmp_path / "veil.png")
    assert artwork.opaque.all()
    assert xyz_to_lab(artwork.xyz[40, 40]) == pytest.approx(srgb8_to_lab(np.full(3, 127, np.uint8)), abs=0.01)


def test_the_artworks_own_profile_is_obeyed(tmp_path: Path) -> None:
    profile = matrix_profile("wide", DISPLAY_P3_TO_XYZ_D50)
    Image.fromarray(fields()).save(tmp_path / "p3.png", icc_profile=profile)
    artwork = read_artwork(tmp_path / "p3.png")
    assert artwork.notes == ()
    light = ((COLOURS[2] / 255 + 0.055) / 1.055) ** 2.4
    assert centres(artwork.xyz)[2] == pytest.approx(DISPLAY_P3_TO_XYZ_D50 @ light, abs=1e-4)
    assert np.abs(centres(artwork.xyz)[2] - SRGB_TO_XYZ_D50 @ light).max() > 0.01


def test_a_cmyk_artwork_is_converted_through_its_profile(tmp_path: Path) -> None:
    ink = np.repeat(np.array([[[60, 0, 128, 0]]], np.uint8), 80, axis=0).repeat(80, axis=1)
    picture = Image.frombytes("CMYK", (80, 80), ink.tobytes())
    picture.save(tmp_path / "ink.tif", icc_profile=printer_profile(b"CMYK"))
    artwork = read_artwork(tmp_path / "ink.tif")
    expected = printed_lab(ink[0, :1] / 255.0, b"CMYK")
    assert delta_e_2000(xyz_to_lab(artwork.xyz[40, 40:41]), expected)[0] < 0.7


def test_a_sixteen_bit_artwork_is_read(tmp_path: Path) -> None:
    deep = np.full((80, 80), 40000, np.uint16)
    Image.fromarray(deep).save(tmp_path / "deep.png")
    lightness = xyz_to_lab(read_artwork(tmp_path / "deep.png").xyz[40, 40])[0]
    assert lightness == pytest.approx(64.3, abs=0.2)


def test_an_artwork_held_sideways_by_exif_is_turned(tmp_path: Path) -> None:
    exif = Image.Exif()
    exif[0x0112] = 6
    Image.fromarray(fields()).transpose(Image.Transpose.ROTATE_90).save(tmp_path / "turned.png", exif=exif)
    artwork = read_artwork(tmp_path / "turned.png")
    assert artwork.size_px == (80, 400)
    assert xyz_to_lab(centres(artwork.xyz)) == pytest.approx(srgb8_to_lab(COLOURS), abs=0.01)


@pytest.mark.parametrize("space", [b"CMYK", b"RGB "])
def test_a_printers_profile_shows_what_this_printer_can_reach(tmp_path: Path, space: bytes) -> None:
    Image.fromarray(fields()).save(tmp_path / "mug.png")
    (tmp_path / "printer.icc").write_bytes(printer_profile(space))
    artwork = read_artwork(tmp_path / "mug.png", printer_profile=tmp_path / "printer.icc")
    assert artwork.printer_xyz is not None
    asked, reached = (xyz_to_lab(centres(each)) for each in (artwork.xyz, artwork.printer_xyz))
    white, black, red, green, grey = reached
    assert white == pytest.approx([100.0, 0.0, 0.0], abs=0.6)
    assert black == pytest.approx([DARKEST_LIGHTNESS, 0.0, 0.0], abs=1.0)
    assert np.hypot(*red[1:]) < 0.8 * np.hypot(*asked[2][1:])
    assert np.abs(grey[1:]).max() < 1.5
    assert DARKEST_LIGHTNESS < green[0] < 100.0


def test_a_colour_the_printer_reaches_stays_what_it_is(tmp_path: Path) -> None:
    Image.new("RGB", (80, 80), (190, 180, 170)).save(tmp_path / "beige.png")
    (tmp_path / "printer.icc").write_bytes(printer_profile(b"CMYK"))
    artwork = read_artwork(tmp_path / "beige.png", printer_profile=tmp_path / "printer.icc")
    assert artwork.printer_xyz is not None
    difference = delta_e_2000(xyz_to_lab(artwork.xyz[40, 40]), xyz_to_lab(artwork.printer_xyz[40, 40]))
    assert difference < 2.0  # black point compensation lightens it a little


def test_a_display_profile_is_no_printer_profile(tmp_path: Path) -> None:
    Image.fromarray(fields()).save(tmp_path / "mug.png")
    (tmp_path / "screen.icc").write_bytes(matrix_profile("screen", DISPLAY_P3_TO_XYZ_D50))
    with pytest.raises(ProfileUnusable, match=r"screen\.icc: This is no RGB or CMYK output profile"):
        read_artwork(tmp_path / "mug.png", printer_profile=tmp_path / "screen.icc")


def test_a_damaged_printer_profile_is_refused_by_name(tmp_path: Path) -> None:
    Image.fromarray(fields()).save(tmp_path / "mug.png")
    (tmp_path / "printer.icc").write_bytes(printer_profile(b"RGB ")[:2000])
    with pytest.raises(ProfileUnusable, match=r"printer\.icc: The colour profile is damaged"):
        read_artwork(tmp_path / "mug.png", printer_profile=tmp_path / "printer.icc")


def test_a_missing_printer_profile_is_said_to_be_missing(tmp_path: Path) -> None:
    Image.fromarray(fields()).save(tmp_path / "mug.png")
    with pytest.raises(FileUnreadable, match=r"printer\.icc: There is no such file"):
        read_artwork(tmp_path / "mug.png", printer_profile=tmp_path / "printer.icc")


def test_a_missing_artwork_a_folder_text_damage_and_odd_sizes_are_refused(tmp_path: Path) -> None:
    (tmp_path / "text.png").write_text("not a picture")
    Image.fromarray(fields()).save(tmp_path / "cut.png")
    (tmp_path / "cut.png").write_bytes((tmp_path / "cut.png").read_bytes()[:-40])
    Image.new("RGB", (1, 1)).save(tmp_path / "dot.png")
    Image.new("RGB", (20000, 100)).save(tmp_path / "banner.png")
    refusals = {
        "missing.png": FileUnreadable,
        ".": FileUnreadable,
        "text.png": NotAPicture,
        "cut.png": PictureDamaged,
        "dot.png": PictureTooSmall,
        "banner.png": PictureTooLarge,
    }
    for name, error in refusals.items():
        with pytest.raises(error):
            read_artwork(tmp_path / name)


def test_single_pixels_of_fine_lines_keep_their_density(tmp_path: Path) -> None:
    lines = np.full((1500, 1500, 3), 255, np.uint8)
    lines[:, ::3] = 20
    Image.fromarray(lines).save(tmp_path / "lines.png")
    artwork = read_artwork(tmp_path / "lines.png")
    dark = artwork.sampled_xyz[..., 1] < 0.1
    assert dark.mean() == pytest.approx(1 / 3, abs=0.02)
    assert artwork.xyz[..., 1].min() > 0.3
