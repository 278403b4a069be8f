"""From camera values to colour: the stage that puts sampling, illumination, tone curve and model together.

    photo light --undo tone curve, flare--> scene light --divide by the illumination--> camera RGB
                --colour model--> CIE XYZ, D50, 2 degree observer, Y = 1 for a perfect white at that place

The candidates are fitted to the card's patches and compared by what they foretell for a patch they have not
seen (leave-one-out CIEDE2000, everything refitted, see `joint_fit`). That figure is the uncertainty of the
measurement.
"""

from dataclasses import dataclass, replace

import numpy as np
from dyecast_calibration.card_layout import CardLayout
from dyecast_calibration.card_values import CardValues
from dyecast_shared.cielab import D50_WHITE, lab_to_xyz
from dyecast_shared.delta_e import delta_e_2000
from dyecast_shared.errors import ColourUncertain, PhotoOverexposed, PhotoUnderexposed
from dyecast_shared.photo import FloatArray, Photo
from numpy.typing import NDArray

from dyecast_inspect.colour_models import ColourModel, ModelKind
from dyecast_inspect.illumination import TERM_COUNT as FIELD_TERMS
from dyecast_inspect.illumination import FieldGeometry, Illumination
from dyecast_inspect.inspection import Reason
from dyecast_inspect.joint_fit import BLACK, FIELD, MATRIX, TONE, FitProblem, FitResult, fit_jointly
from dyecast_inspect.patch_samples import PatchSamples, RegionSamples, sample_patches
from dyecast_inspect.tone_curve import KNOT_COUNT, ToneCurve
from dyecast_inspect.usable_patches import CLIPPED_SHARE, UsablePatches, choose_usable_patches

Array = NDArray[np.float64]

LEAST_PATCHES = 12
"""Fewer usable patches cannot carry a correction with its tone curve."""

LEAST_WHITE_LIGHT = 0.03
"""Linear light of a perfect white below which the photo is too dark: its mid-grey is 10 of 255 steps then."""

GREATEST_NOISE = 0.25
"""Spread of a patch's points over their mean (median of the patches) from which noise swamps the signal."""

GREATEST_DELTA_E = 6.0
"""Leave-one-out mean CIEDE2000 from which the correction is not to be trusted: as bad as no correction at all
on good photos of a chart (6.9 measured)."""

TIE = 0.97
"""Another model must foretell better than root-polynomial 2 by this factor to be chosen: root-polynomial 2
keeps hue and saturation when the exposure changes and has few terms."""

DARK_LIGHTNESS, DARK_WEIGHT = 25.0, 0.5
"""Patches darker than this L* weigh less, down to the given weight at black: print and reference values are
unreliable there (Kirchner et al. 2021: re-measured blacks differ by 3.7..5.2 dE76)."""

DISAGREES_FACTOR, DISAGREES_DELTA_E = 4.0, 7.0
"""A patch is left out when the others foretell it worse than this many times their median, and than this
CIEDE2000: dirt, shadow or glare."""

DISAGREES_SHARE = 0.2
"""At most this share of the patches is left out for disagreeing; more, and it is not the patches."""

TABLE_SIZE = 65536
"""Entries of the tone table over the square root of linear light; steps far below 8 bits."""

DARKEST_PAPER = 0.5
"""Cells of supposed paper darker than this share of the light ones hold something else (print, a chart)."""

PAPER_OUTLIERS = 0.3
"""Cells of paper with more outlying points than this hold print or a fold."""


@dataclass(frozen=True, slots=True, eq=False)
class ColourCorrection:
    """How this photo's values become colours.

    Attributes
    ----------
    model
        Name of the chosen colour model.
    illumination
        The light over the table; its `gain` is divided out at given positions.
    tone
        The inverse tone curve.
    colour_model
        Camera RGB to XYZ.
    leave_one_out_delta_e
        CIEDE2000 between each used patch and what the others foretell for it, by patch id.
    leave_one_out_mean, leave_one_out_p95
        Of those: the uncertainty of a colour measured in this photo.
    left_out
        Patch id and reason of each patch not used.
    ceiling
        (3,) linear light of the photo at which R, G, B are clipped; pixels there have no true colour.
    noise
        Median relative spread of the points within a patch.
    """

    model: str
    illumination: Illumination
    tone: ToneCurve
    colour_model: ColourModel
    leave_one_out_delta_e: dict[str, float]
    leave_one_out_mean: float
    leave_one_out_p95: float
    left_out: tuple[tuple[str, Reason], ...]
    ceiling: Array
    noise: float
    tone_table: NDArray[np.float32]

    def xyz(self, linear_rgb: FloatArray, positions_px: FloatArray | None = None) -> NDArray[np.float32]:
        """Correct linear light of this photo.

        Parameters
        ----------
        linear_rgb
            (..., 3) the photo's native linear light, 0..1.
        positions_px
            (..., 2) x, y in the working photo, or None for the light at the card's middle.

        Returns
        -------
        (..., 3) float32 CIE XYZ, D50, 2 degree observer, Y = 1 for a perfect white diffuser at that place.
        """
        camera = self.camera_light(linear_rgb)
        if positions_px is not None:
            camera /= self.illumination.gain(positions_px)
        return self.colour_model.relative_xyz(camera) * D50_WHITE.astype(np.float32)

    def camera_light(self, linear_rgb: FloatArray) -> NDArray[np.float32]:
        """Undo tone curve and flare of (..., 3) linear light: camera RGB, 1 = white at the card's middle."""
        place = np.sqrt(np.clip(np.asarray(linear_rgb, dtype=np.float32), 0.0, 1.0))
        place *= TABLE_SIZE - 1
        place += 0.5
        index = place.astype(np.uint16)
        return np.stack([self.tone_table[channel][index[..., channel]] for channel in range(3)], axis=-1)

    def clipped(self, linear_rgb: FloatArray) -> NDArray[np.bool_]:
        """Tell where (..., 3) linear light is at the ceiling in any channel: (...) bool."""
        return np.asarray((np.asarray(linear_rgb) >= 0.97 * np.minimum(self.ceiling, 0.99)).any(axis=-1))


def correct_colour(
    photo: Photo, card_to_photo: FloatArray, layout: CardLayout, values: CardValues
) -> ColourCorrection:
    """Fit the correction of one photo to the card in it.

    Parameters
    ----------
    photo
        At working resolution.
    card_to_photo
        (3, 3) homography from card mm to working pixels, centres at whole numbers.
    layout, values
        The card's design and the colours of its patches.

    Raises
    ------
    PhotoOverexposed, PhotoUnderexposed
        Too few patches are left below clipping, or above the noise.
    ColourUncertain
        The patches contradict each other too much.
    """
    samples = sample_patches(photo, card_to_photo, layout)
    return correct_samples(samples, photo, card_to_photo, layout, values)


def correct_samples(
    samples: PatchSamples, photo: Photo, card_to_photo: FloatArray, layout: CardLayout, values: CardValues
) -> ColourCorrection:
    """Do the same from samples already taken."""
    reference = np.array([values.lab_d50[name] for name in samples.patches.ids], dtype=np.float64)
    neutral = np.array([patch.neutral for patch in layout.patches])
    usable = _usable(samples.patches, reference, neutral, photo)
    _check_exposure(samples.patches, usable, reference)
    geometry = FieldGeometry(
        photo_to_card=np.linalg.inv(np.asarray(card_to_photo, dtype=np.float64)),
        card_size=np.array([layout.width, layout.height]),
        photo_size=np.array(photo.pixels.shape[1::-1], dtype=np.float64),
    )
    problem = _problem(samples, usable, reference, geometry, photo)
    result, disagreeing = _fit_without_misfits(problem, samples.patches.ids)
    result = _choose_model(replace(problem, weight=result.patch_weight), problem, result)
    return _correction(samples, usable, problem, result, geometry, disagreeing)


def _usable(
    patches: RegionSamples, reference: Array, neutral: NDArray[np.bool_], photo: Photo
) -> UsablePatches:
    xyz = np.asarray(lab_to_xyz(reference), dtype=np.float64)
    camera_like = xyz @ np.linalg.inv(photo.encoding.to_xyz_d50).T
    return choose_usable_patches(patches, xyz[:, 1], camera_like, neutral)


def _check_exposure(patches: RegionSamples, usable: UsablePatches, reference: Array) -> None:
    count = int(usable.usable.sum())
    if count < LEAST_PATCHES and usable.clipped_count >= len(patches.ids) - LEAST_PATCHES:
        raise PhotoOverexposed(f"{usable.clipped_count} of the card's {len(patches.ids)} patches are overexposed.")
    if count < LEAST_PATCHES:
        raise ColourUncertain(f"Only {count} of the card's {len(patches.ids)} patches can be used.")
    white = _white_light(patches, usable.usable, reference)
    if white.mean() < LEAST_WHITE_LIGHT:
        raise PhotoUnderexposed(f"White on the card has only {100 * white.mean():.1f} % of the photo's range.")
    if _noise(patches) > GREATEST_NOISE:
        raise PhotoUnderexposed(f"Noise is {100 * _noise(patches):.0f} % of the card's light.")


def _noise(patches: RegionSamples) -> float:
    return float(np.nanmedian((patches.spread / np.maximum(patches.mean, 1e-4)).mean(axis=1)))


def _white_light(patches: RegionSamples, usable: NDArray[np.bool_], reference: Array) -> Array:
    """Linear light of a perfect white, (3,), from the usable patch that is lightest and most neutral."""
    whiteness = reference[:, 0] - np.hypot(reference[:, 1], reference[:, 2])
    lightest = int(np.argmax(np.where(usable, whiteness, -np.inf)))
    luminance = float(np.asarray(lab_to_xyz(reference[lightest]))[1])
    return np.maximum(patches.mean[lightest] / luminance, 1e-3)


def _problem(
    samples: PatchSamples, usable: UsablePatches, reference: Array, geometry: FieldGeometry, photo: Photo
) -> FitProblem:
    patches, paper = samples.patches, _clean_paper(samples.paper, usable.ceiling)
    places = np.concatenate([patches.centres_px, samples.paper.centres_px[paper]])
    darkness = np.clip(reference[:, 0] / DARK_LIGHTNESS, 0.0, 1.0)
    return FitProblem(
        kind=ModelKind.ROOT_POLYNOMIAL_2,
        light=np.nan_to_num(np.concatenate([patches.mean, samples.paper.mean[paper]])),
        terms=geometry.terms(places),
        reference_lab=reference,
        weight=usable.usable * (DARK_WEIGHT + (1.0 - DARK_WEIGHT) * darkness),
        white=_white_light(patches, usable.usable, reference),
        to_xyz_d50=photo.encoding.to_xyz_d50,
        white_xyz=D50_WHITE,
    )


def _clean_paper(paper: RegionSamples, ceiling: Array) -> NDArray[np.bool_]:
    brightness = np.nan_to_num(paper.mean).mean(axis=1)
    if len(brightness) == 0:
        return np.zeros(0, dtype=bool)
    light = float(np.percentile(brightness, 85))
    clean = (brightness > DARKEST_PAPER * light) & (paper.outlier_share < PAPER_OUTLIERS)
    below = (np.nan_to_num(paper.mean) < 0.97 * ceiling).all(axis=1)
    return np.asarray(clean & below & (paper.clipped_share <= CLIPPED_SHARE))


def _fit_without_misfits(
    problem: FitProblem, ids: tuple[str, ...]
) -> tuple[FitResult, tuple[tuple[str, Reason], ...]]:
    """Fit, leave out patches that disagree with the others, and fit again."""
    result = fit_jointly(problem)
    used = problem.weight > 0
    error = _leave_one_out(problem, result)
    limit = max(DISAGREES_DELTA_E, DISAGREES_FACTOR * float(np.median(error[used])))
    disagrees = used & (error > limit)
    if not disagrees.any() or disagrees.sum() > DISAGREES_SHARE * used.sum():
        return result, ()
    reasons = tuple(
        (ids[number], Reason("patch-disagrees", _disagreement(ids[number], float(error[number]))))
        for number in np.flatnonzero(disagrees)
    )
    return fit_jointly(replace(problem, weight=np.where(disagrees, 0.0, problem.weight)), result), reasons


def _disagreement(name: str, error: float) -> str:
    return f"Patch {name} differs by {error:.1f} from what the others foretell: dirty, shaded or mirroring a light."


def _leave_one_out(problem: FitProblem, result: FitResult) -> Array:
    return np.asarray(delta_e_2000(result.leave_one_out_lab, problem.reference_lab), dtype=np.float64)


def _choose_model(kept: FitProblem, problem: FitProblem, first: FitResult) -> FitResult:
    """Compare the candidates by the leave-one-out mean over the patches used."""
    used = kept.weight > 0
    weighted = replace(problem, weight=np.where(used, problem.weight, 0.0))
    best, best_error = first, TIE * float(_leave_one_out(problem, first)[used].mean())
    for kind in (ModelKind.LINEAR, ModelKind.ROOT_POLYNOMIAL_3):
        result = fit_jointly(replace(weighted, kind=kind), first)
        error = float(_leave_one_out(problem, result)[used].mean())
        if error < best_error:
            best, best_error = result, error
    return best


def _correction(
    samples: PatchSamples,
    usable: UsablePatches,
    problem: FitProblem,
    result: FitResult,
    geometry: FieldGeometry,
    disagreeing: tuple[tuple[str, Reason], ...],
) -> ColourCorrection:
    error = _leave_one_out(problem, result)
    used = np.flatnonzero(result.patch_weight > 0)
    mean = float(error[used].mean())
    if mean > GREATEST_DELTA_E:
        raise ColourUncertain(f"The card's colours can be foretold only to {mean:.1f} CIEDE2000.")
    vector = result.vector
    tone = ToneCurve(vector[TONE].reshape(3, KNOT_COUNT), problem.white, vector[BLACK])
    return ColourCorrection(
        model=result.kind.value,
        illumination=_illumination(result, geometry),
        tone=tone,
        colour_model=ColourModel(result.kind, vector[MATRIX].reshape(3, -1)),
        leave_one_out_delta_e={samples.patches.ids[number]: float(error[number]) for number in used},
        leave_one_out_mean=mean,
        leave_one_out_p95=float(np.percentile(error[used], 95)),
        left_out=usable.left_out + disagreeing,
        ceiling=usable.ceiling,
        noise=_noise(samples.patches),
        tone_table=_tone_table(tone),
    )


def _illumination(result: FitResult, geometry: FieldGeometry) -> Illumination:
    block = result.covariance[FIELD, FIELD].reshape(3, FIELD_TERMS, 3, FIELD_TERMS)
    return Illumination(
        geometry=geometry,
        coefficients=result.vector[FIELD].reshape(3, FIELD_TERMS),
        covariance=np.stack([block[channel, :, channel] for channel in range(3)]),
    )


def _tone_table(tone: ToneCurve) -> NDArray[np.float32]:
    coarse = np.linspace(0.0, 1.0, 2049)
    light = np.repeat((coarse**2)[:, None], 3, axis=1)
    scene = tone.scene_light(light)
    fine = np.linspace(0.0, 1.0, TABLE_SIZE)
    return np.stack([np.interp(fine, coarse, scene[:, c]) for c in range(3)]).astype(np.float32)
