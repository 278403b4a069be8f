"""How a photo of the card becomes a way from the photo's values to colours."""

from dataclasses import replace

import colour
import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from coloured_photo import (
    BOARD_LAB,
    Shot,
    board_light,
    board_places_mm,
    card_to_photo,
    photograph,
    through,
    true_gain,
)
from dyecast_calibration.card_layout import CardLayout, known_layouts, layout_named
from dyecast_calibration.card_values import designed_values
from dyecast_inspect.correct_colour import ColourCorrection, correct_colour
from dyecast_inspect.correction_chain import FitProblem
from dyecast_inspect.joint_fit import FitResult, fit_jointly, refit_without
from dyecast_inspect.patch_samples import sample_patches
from dyecast_shared.cielab import lab_to_xyz, xyz_to_lab
from dyecast_shared.delta_e import delta_e_2000
from dyecast_shared.encodings import SRGB_TO_XYZ_D50
from dyecast_shared.errors import ColourUncertain, PhotoOverexposed, PhotoUnderexposed
from dyecast_shared.photo import Photo

Array = NDArray[np.float64]

CARD = layout_named("a6")


def corrected(shot: Shot | None = None, layout: CardLayout = CARD) -> tuple[Photo, ColourCorrection]:
    photo = photograph(layout, shot)
    return photo, correct_colour(photo, card_to_photo(layout), layout, designed_values(layout))


def board_error(photo: Photo, correction: ColourCorrection, layout: CardLayout = CARD) -> Array:
    """CIEDE2000 of colours that are not on the card, measured beside it."""
    light, middles = board_light(photo, layout)
    measured = xyz_to_lab(correction.xyz(light, middles))
    return np.asarray(delta_e_2000(measured, BOARD_LAB), dtype=np.float64)


@pytest.mark.parametrize("layout", known_layouts(), ids=lambda layout: layout.name)
def test_colours_come_back_through_light_tone_curve_and_camera_matrix(layout: CardLayout) -> None:
    photo, correction = corrected(layout=layout)

    assert correction.leave_one_out_mean < 0.4
    assert correction.left_out == ()
    samples = sample_patches(photo, card_to_photo(layout), layout).patches
    measured = xyz_to_lab(correction.xyz(samples.mean, samples.centres_px))
    known = np.array([designed_values(layout).lab_d50[name] for name in samples.ids])
    assert delta_e_2000(measured, known).mean() < 0.3


def test_colours_beside_the_card_that_it_does_not_have_are_measured_too() -> None:
    photo, correction = corrected()

    error = board_error(photo, correction)

    assert error.mean() < 1.5
    assert error.max() < 3.0


def test_without_positions_the_light_of_the_cards_middle_is_taken() -> None:
    _, correction = corrected()
    middle = through(card_to_photo(CARD), np.array([[CARD.width / 2, CARD.height / 2]]))
    light = np.array([[0.3, 0.25, 0.2]])

    np.testing.assert_allclose(correction.xyz(light), correction.xyz(light, middle), rtol=1e-4)


def test_the_light_beside_the_card_is_foretold_within_its_stated_uncertainty() -> None:
    shot = Shot(slope=((-0.30, 0.2), (-0.25, 0.2), (-0.20, 0.2)), lens=-0.25)
    _, correction = corrected(shot)
    places = np.vstack([[[CARD.width / 2, CARD.height / 2]], board_places_mm()])
    pixels = through(card_to_photo(CARD), places)
    truth = true_gain(shot, places, pixels)
    truth = truth[1:] / truth[0]

    found = correction.illumination.gain(pixels[1:])
    wrong = np.abs(np.log(found / truth)).mean(axis=1)

    assert (wrong < 2.0 * correction.illumination.gain_uncertainty(pixels[1:])).all()
    assert wrong.mean() < 0.5 * np.abs(np.log(truth)).mean()


def test_the_light_is_less_certain_the_farther_from_the_card() -> None:
    _, correction = corrected()
    places = np.array([[74.0, 52.5], [150.0, 52.5], [200.0, 52.5], [260.0, 52.5]])
    uncertainty = correction.illumination.gain_uncertainty(through(card_to_photo(CARD), places))

    assert uncertainty[0] < 1e-6
    assert (np.diff(uncertainty) > 0).all()
    assert uncertainty[-1] > 0.1


def test_a_soiled_patch_is_found_left_out_and_named() -> None:
    lightness, a, b = designed_values(CARD).lab_d50["d1"]
    clean_photo, clean = corrected()
    photo, correction = corrected(Shot(repainted={"d1": (lightness - 14.0, a + 4.0, b + 16.0)}))

    ((name, reason),) = correction.left_out
    assert (name, reason.code) == ("d1", "patch-disagrees")
    assert "d1" in reason.sentence
    assert "d1" not in correction.leave_one_out_delta_e
    assert board_error(photo, correction).mean() < board_error(clean_photo, clean).mean() + 0.3


def test_a_patch_half_in_shadow_is_left_out_and_named() -> None:
    _, correction = corrected(Shot(half_covered=("c2",)))

    assert [(name, reason.code) for name, reason in correction.left_out] == [("c2", "patch-uneven")]


def test_an_overexposed_photo_is_refused() -> None:
    with pytest.raises(PhotoOverexposed, match=r"of the card's 30 patches"):
        corrected(Shot(exposure=4.0))


def test_a_photo_too_dark_is_refused() -> None:
    with pytest.raises(PhotoUnderexposed, match="photo's range"):
        corrected(Shot(exposure=0.03))


def test_a_photo_with_more_noise_than_light_is_refused() -> None:
    with pytest.raises(PhotoUnderexposed, match="Noise"):
        corrected(Shot(exposure=0.1, noise=0.06))


def test_patches_that_contradict_each_other_are_refused() -> None:
    values = designed_values(CARD)
    shuffled = dict(zip(values.lab_d50, reversed(values.lab_d50.values()), strict=True))
    with pytest.raises(ColourUncertain, match="CIEDE2000"):
        correct_colour(photograph(CARD), card_to_photo(CARD), CARD, replace(values, lab_d50=shuffled))


def test_a_card_outside_the_photo_is_refused() -> None:
    away = np.array([[1.0, 0.0, 5000.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]) @ card_to_photo(CARD)
    with pytest.raises(ColourUncertain, match="Only 0 of the card's 30 patches"):
        correct_colour(photograph(CARD), away, CARD, designed_values(CARD))


def test_steep_light_across_the_card_is_not_taken_for_clipping() -> None:
    """White in the dim corner is no brighter than a light grey next to the lamp."""
    _, correction = corrected(Shot(slope=((0.5, 0.1),) * 3, exposure=0.35))

    assert correction.left_out == ()
    assert correction.leave_one_out_mean < 0.5


def test_whites_clipped_below_the_top_of_the_scale_are_found_and_the_rest_is_measured() -> None:
    """A phone that clips before it balances ends white at a lower value than 255."""
    shot = Shot(clip=0.62, slope=((0.0, 0.0),) * 3, lens=0.0)
    photo, correction = corrected(shot)

    clipped = {name for name, reason in correction.left_out if reason.code == "patch-clipped"}
    assert {"a1", "b5"} <= clipped
    assert correction.leave_one_out_mean < 1.0
    light, middles = board_light(photo, CARD)
    hidden = correction.clipped(light)
    assert hidden[6]
    assert not hidden[:4].any()
    measured = xyz_to_lab(correction.xyz(light, middles))
    assert delta_e_2000(measured, BOARD_LAB)[:4].max() < 4.0


def test_half_the_exposure_gives_the_same_colours() -> None:
    bright = corrected(Shot(exposure=0.8))
    dim = corrected(Shot(exposure=0.4))

    bright_lab, dim_lab = (
        xyz_to_lab(correction.xyz(*board_light(photo, CARD))) for photo, correction in (bright, dim)
    )
    assert delta_e_2000(bright_lab, dim_lab).max() < 1.5


def test_sixteen_bits_and_eight_bits_agree() -> None:
    photo = photograph(CARD)
    codes = photo.pixels.astype(np.uint16) * 257
    table = np.interp(np.arange(65536) / 65535, np.arange(256) / 255, photo.encoding.decode_tables[0])
    deep = replace(
        photo,
        pixels=codes,
        encoding=replace(photo.encoding, decode_tables=np.tile(table.astype(np.float32), (3, 1))),
    )
    eight, sixteen = (
        correct_colour(one, card_to_photo(CARD), CARD, designed_values(CARD)) for one in (photo, deep)
    )
    assert sixteen.leave_one_out_mean == pytest.approx(eight.leave_one_out_mean, abs=1e-3)


def test_black_and_darker_than_the_cards_black_stay_near_black() -> None:
    _, correction = corrected()
    darkest = np.linspace(0.0, 0.004, 50)[:, None] * np.ones(3)

    xyz = correction.xyz(darkest)

    assert np.isfinite(xyz).all()
    assert np.abs(xyz).max() < 0.03
    assert (np.diff(xyz[:, 1]) >= -1e-6).all()


def test_the_stated_uncertainty_is_what_unseen_colours_show() -> None:
    """Under even light, colours not on the card are as wrong as leave-one-out says."""
    photo, correction = corrected(Shot(slope=((0.0, 0.0),) * 3, lens=0.0, noise=0.01))
    light, _ = board_light(photo, CARD)

    error = delta_e_2000(xyz_to_lab(correction.xyz(light)), BOARD_LAB).mean()

    assert 0.3 * correction.leave_one_out_mean < error < 2.0 * correction.leave_one_out_p95


def test_leaving_a_patch_out_in_one_step_equals_fitting_again_without_it() -> None:
    photo = photograph(CARD, Shot(repainted={"c5": (40.0, 25.0, -55.0), "e2": (33.0, 30.0, -12.0)}))
    problem = problem_of(photo)
    result = fit_jointly(problem)

    again = np.array([refit_without(problem, result, number) for number in range(0, 30, 5)])

    at_once = result.leave_one_out_lab[::5]
    known = problem.reference_lab[::5]
    np.testing.assert_allclose(delta_e_2000(at_once, known), delta_e_2000(again, known), atol=0.15)
    assert delta_e_2000(at_once, result.fitted_lab[::5]).max() > 0.05


def problem_of(photo: Photo) -> FitProblem:
    """The fitting problem that the stage sets up for a photo, caught on its way."""
    caught: list[FitProblem] = []

    def catching(problem: FitProblem, start: FitResult | None = None) -> FitResult:
        caught.append(problem)
        return fit_jointly(problem, start)

    with pytest.MonkeyPatch.context() as patched:
        patched.setattr("dyecast_inspect.correct_colour.fit_jointly", catching)
        correct_colour(photo, card_to_photo(CARD), CARD, designed_values(CARD))
    return caught[0]


def rival_errors(photo: Photo, method: str) -> Array:
    """Leave-one-out CIEDE2000 of a library's correction on white-balanced patches of the same photo."""
    samples = sample_patches(photo, card_to_photo(CARD), CARD).patches
    known = np.array([designed_values(CARD).lab_d50[name] for name in samples.ids])
    xyz = np.asarray(lab_to_xyz(known), dtype=np.float64)
    light = samples.mean / samples.mean[samples.ids.index("a1")]
    errors = []
    for number in range(len(known)):
        rest = np.arange(len(known)) != number
        if method == "opencv":
            found = opencv_correction(light[number], light[rest], xyz[rest])
        else:
            found = np.asarray(
                colour.colour_correction(light[number], light[rest], xyz[rest], method=method),
                dtype=np.float64,
            )
        errors.append(float(delta_e_2000(xyz_to_lab(found), known[number])))
    return np.array(errors)


def opencv_correction(light: Array, known_light: Array, known_xyz: Array) -> Array:
    """OpenCV's 3×3 colour correction matrix, fitted on CIEDE2000 in linear sRGB."""
    model = cv2.ccm.ColorCorrectionModel(
        known_light[:, None], known_xyz[:, None], cv2.ccm.COLOR_SPACE_XYZ_D50_2
    )
    model.setColorSpace(cv2.ccm.COLOR_SPACE_SRGB)
    model.setCcmType(cv2.ccm.CCM_LINEAR)
    model.setDistance(cv2.ccm.DISTANCE_CIE2000)
    model.setLinearization(cv2.ccm.LINEARIZATION_IDENTITY)
    model.compute()
    return np.asarray(light @ model.getColorCorrectionMatrix() @ SRGB_TO_XYZ_D50.T)


@pytest.mark.parametrize("rival", ["Finlayson 2015", "Cheung 2004", "opencv"])
def test_it_foretells_unseen_patches_better_than_common_libraries(rival: str) -> None:
    if rival == "opencv" and not hasattr(cv2, "ccm"):
        pytest.skip("this OpenCV has no colour correction module")
    photo, correction = corrected()

    assert correction.leave_one_out_mean < 0.5 * rival_errors(photo, rival).mean()
