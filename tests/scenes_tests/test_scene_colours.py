"""The scene maker's physics: spectra, dyes, pressing, lights, against published values and other code."""

import warnings

import colour
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dyecast_calibration.card_layout import CardLayout, known_layouts
from dyecast_shared.delta_e import delta_e_2000
from dyecast_shared.encodings import srgb8_to_lab
from scenes.artworks import ARTWORKS, artwork
from scenes.card_surface import designed_lab, patch_reflectances, printed_lab
from scenes.colorimetry import spectra_to_lab, srgb_to_lab_d50
from scenes.development import colour_matrix
from scenes.dyes import reflectance, separate_artwork, separate_lab
from scenes.observers import CAMERAS, TABLED_CAMERAS, camera_sensitivities, illuminant, matching_functions
from scenes.piece_surface import press_piece
from scenes.pressing import Pressing, press, pressing_at
from scenes.scenarios import LIGHTS
from scenes.scene import Piece
from scenes.spectra import WAVELENGTHS_NM, inkjet_dyes, sublimation_dyes, transmittance

CAMERA = "phone A"
FOUR_AMOUNTS = st.lists(st.floats(0.0, 1.5), min_size=4, max_size=4)


def test_optical_density_one_passes_a_tenth_of_the_light_and_0_301_half_of_it() -> None:
    """Beer-Lambert, decadic (IUPAC Gold Book): T = 10 ** -D."""
    assert transmittance(np.array([0.0, 1.0, 2.0])) == pytest.approx([1.0, 0.1, 0.01])
    assert transmittance(np.array([0.30103])) == pytest.approx([0.5], abs=1e-6)


@given(
    st.lists(st.floats(0.0, 2.0), min_size=4, max_size=4),
    st.lists(st.floats(0.0, 2.0), min_size=4, max_size=4),
)
def test_dyes_on_top_of_each_other_multiply(first: list[float], second: list[float]) -> None:
    dyes = sublimation_dyes()
    one, other, both = (
        reflectance(np.array(a), dyes) / dyes.base for a in (first, second, np.add(first, second))
    )
    assert both == pytest.approx(one * other, rel=1e-4, abs=1e-7)


@given(st.floats(0.2, 1.1), FOUR_AMOUNTS)
def test_a_dose_scales_every_optical_density_exactly(share: float, amounts: list[float]) -> None:
    dyes = sublimation_dyes()
    printed = np.array(amounts, dtype=np.float32).reshape(1, 1, 4)
    pressed = press(printed, Pressing(transferred=share), pixels_per_mm=4.0)
    full, part = (-np.log10(reflectance(amount, dyes) / dyes.base) for amount in (printed, pressed))
    assert part == pytest.approx(share * full, rel=1e-3, abs=1e-4)


def test_good_pressings_reproduce_the_artwork_within_the_dyes_reach() -> None:
    picture = artwork("washes", 1, 120, 120)
    pressed = press_piece(Piece(picture, glass=False), CAMERA, "D50", density=2.0)
    differences = delta_e_2000(pressed.lab, srgb8_to_lab(picture))
    assert float(np.mean(differences)) < 1.0


def test_under_pressed_pieces_are_paler_and_over_pressed_ones_yellower() -> None:
    picture = artwork("landscape", 1, 120, 120)
    under, good, over = (
        press_piece(Piece(picture, pressing_at(dose), glass=False), CAMERA, "D50", density=2.0)
        for dose in (0.6, 1.0, 1.5)
    )
    assert under.lab[..., 0].mean() > good.lab[..., 0].mean() + 5.0
    assert over.bare_lab[2] > good.bare_lab[2] + 1.0
    assert under.bare_lab == good.bare_lab


def test_gas_blur_softens_edges_of_over_pressed_pieces() -> None:
    picture = artwork("tiles", 2, 200, 200)
    sharp = separate_artwork(picture)
    soft = press(sharp, Pressing(bleed_mm=0.5), pixels_per_mm=2.0)
    assert np.abs(np.diff(soft, axis=1)).max() < 0.6 * np.abs(np.diff(sharp, axis=1)).max()


@pytest.mark.parametrize(
    ("dose", "state"),
    [(0.4, "under-pressed"), (0.85, "under-pressed"), (0.93, "good"), (1.03, "good"), (1.12, "over-pressed")],
)
def test_the_dose_names_the_state(dose: float, state: str) -> None:
    assert pressing_at(dose).state == state


def test_the_separation_table_is_as_good_as_solving_every_colour() -> None:
    picture = np.random.default_rng(3).integers(0, 256, (40, 40, 3), dtype=np.uint8)
    dyes = sublimation_dyes()
    solved = separate_lab(srgb_to_lab_d50(picture.reshape(-1, 3) / 255.0), dyes, steps=50)
    tabled = separate_artwork(picture).reshape(-1, 4)
    differences = delta_e_2000(*(spectra_to_lab(reflectance(amount, dyes)) for amount in (solved, tabled)))
    assert float(np.mean(differences)) < 0.3


@pytest.mark.parametrize("layout", known_layouts(), ids=lambda layout: layout.name)
def test_card_patches_look_as_designed_under_d50(layout: CardLayout) -> None:
    """Saturated patches beyond the inks' reach clip, so the worst may be further off."""
    differences = delta_e_2000(printed_lab(layout), designed_lab(layout))
    assert float(np.median(differences)) < 0.1
    assert float(np.max(differences)) < 2.0


def test_card_and_piece_match_under_d50_but_not_under_a_warm_lamp() -> None:
    """Metamerism: different dyes, one colour under D50, two under lamp A."""
    wanted = designed_lab(known_layouts()[0])
    card = patch_reflectances(known_layouts()[0])[:-1]
    piece = reflectance(separate_lab(wanted, sublimation_dyes()), sublimation_dyes())
    inside = delta_e_2000(spectra_to_lab(card), spectra_to_lab(piece)) < 0.1
    warm = delta_e_2000(spectra_to_lab(card, "A"), spectra_to_lab(piece, "A"))[inside]
    assert inside.mean() > 0.5
    assert 0.5 < float(np.mean(warm)) < 3.0


@pytest.mark.parametrize(
    ("name", "x", "y"),
    [
        ("D50", 0.3457, 0.3585),
        ("D65", 0.3127, 0.3290),
        ("A", 0.4476, 0.4074),
        ("FL2", 0.3721, 0.3751),
        ("FL11", 0.3805, 0.3769),
    ],
)
def test_illuminants_keep_their_published_chromaticity(name: str, x: float, y: float) -> None:
    """CIE 015:2018, tables of chromaticity coordinates; the 10 nm grid moves lamps with lines a little."""
    xyz = illuminant(name) @ matching_functions()
    assert (xyz[:2] / xyz.sum()).tolist() == pytest.approx([x, y], abs=2e-3)


def test_lab_of_spectra_agrees_with_colour_science() -> None:
    """Chart reflectances under D50, integrated by colour-science on its own finer grid."""
    chart = colour.SDS_COLOURCHECKERS["ISO 17321-1"]
    cmfs = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    grid = colour.SpectralShape(400, 700, 10)
    for name in ("dark skin", "blue sky", "yellow green"):
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", colour.utilities.ColourRuntimeWarning)
            xyz = colour.sd_to_XYZ(chart[name], cmfs, colour.SDS_ILLUMINANTS["D50"]) / 100.0
        ours = spectra_to_lab(np.asarray(chart[name].copy().align(grid).values))
        theirs = colour.XYZ_to_Lab(xyz, colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D50"])
        assert float(delta_e_2000(ours, theirs)) < 0.3


@pytest.mark.parametrize("camera", CAMERAS)
@pytest.mark.parametrize("light", ["D65", "FL11", "A"])
def test_a_balanced_white_stays_white_through_the_colour_matrix(camera: str, light: str) -> None:
    assert colour_matrix(camera, light).sum(axis=1) == pytest.approx([1.0, 1.0, 1.0], abs=1e-3)


def test_the_table_holds_twelve_cameras_that_see_red_green_and_blue() -> None:
    """Sensors with dye filters peak near 600, 530 and 460 nm (the table's source, by eye)."""
    assert len(TABLED_CAMERAS) == 12
    for name in TABLED_CAMERAS:
        sensitivities = camera_sensitivities(name)
        peaks_nm = WAVELENGTHS_NM[sensitivities.argmax(axis=0)]
        assert sensitivities.shape == (31, 3)
        assert (sensitivities.min() >= 0.0, sensitivities.max()) == (True, 1.0)
        assert np.abs(peaks_nm - [600.0, 530.0, 460.0]).max() <= 15.0, name


@pytest.mark.parametrize("light", LIGHTS)
def test_every_light_scenes_draw_is_known(light: str) -> None:
    assert illuminant(light).shape == (31,)
    assert illuminant(light).mean() == pytest.approx(1.0)


def test_inks_and_sublimation_dyes_are_different_dyes() -> None:
    assert np.abs(inkjet_dyes().density - sublimation_dyes().density).max() > 0.2


@pytest.mark.parametrize("name", ARTWORKS)
def test_artworks_are_the_same_for_the_same_seed_and_differ_between_seeds(name: str) -> None:
    first, again, other = (artwork(name, seed, 90, 60) for seed in (1, 1, 2))
    assert first.shape == (60, 90, 3)
    assert np.array_equal(first, again)
    assert not np.array_equal(first, other)
