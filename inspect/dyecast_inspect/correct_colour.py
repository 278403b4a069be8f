"""From camera values to colour: the stage that puts sampling, illumination, tone curve and model together.

    photo light --undo tone curve, flare--> scene light --divide by the illumination--> camera RGB
                --colour model--> CIE XYZ, D50, 2 degree observer, Y = 1 for a perfect white at that place

The candidates are fitted to the card's patches and compared by what they foretell for a patch they have not
seen (leave-one-out CIEDE2000, everything refitted, see `joint_fit`). That figure is the uncertainty of the
measurement.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.card_layout import CardLayout
from dyecast_calibration.card_values import CardValues
from dyecast_inspect.colour_models import ColourModel, ModelKind
from dyecast_inspect.correction_chain import BLACK, FIELD, MATRIX, TONE, FitProblem
from dyecast_inspect.illumination import TERM_COUNT as FIELD_TERMS
from dyecast_inspect.illumination import FieldGeometry, Illumination, illumination_from_card
from dyecast_inspect.inspection import Reason
from dyecast_inspect.joint_fit import FitResult, fit_jointly
from dyecast_inspect.patch_samples import PatchSamples, RegionSamples, sample_patches
from dyecast_inspect.perceptual_metric import delta_e_2000_metric
from dyecast_inspect.tone_curve import KNOT_COUNT, LEAST_GAMMA, TABLE_SIZE, ToneCurve, tone_basis
from dyecast_inspect.usable_patches import CLIPPED_SHARE, NO_CEILING, UsablePatches, choose_usable_patches
from dyecast_shared.cielab import D50_WHITE, lab_to_xyz
from dyecast_shared.delta_e import delta_e_2000
from dyecast_shared.errors import ColourUncertain, PhotoOverexposed, PhotoUnderexposed
from dyecast_shared.photo import FloatArray, Photo

Array = NDArray[np.float64]

LEAST_PATCHES = 12
"""Fewer usable patches cannot carry a correction with its tone curve."""

GREATEST_CLIPPED_SHARE = 0.5
"""With more of the card's patches clipped than this, the light half of its colours is a guess."""

LEAST_WHITE_LIGHT = 0.03
"""Linear light of a perfect white below which the photo is too dark: its mid-grey is 10 of 255 steps then."""

GREATEST_NOISE = 0.2
"""Spread of a patch's points over their mean (median of the patches) from which noise swamps the signal: well
lit photos of a phone have 0.02..0.1."""

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

BLOCK = 16384
"""Pixels corrected at a time, so that intermediate values stay in the processor's cache."""

LEAST_PAPER_CELLS = 8
"""Fewer cells of clean paper give no plane."""

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
        light = np.asarray(linear_rgb, dtype=np.float32)
        flat = light.reshape(-1, 3)
        places = None if positions_px is None else np.asarray(positions_px, dtype=np.float32).reshape(-1, 2)
        xyz = np.empty_like(flat)
        for start in range(0, len(flat), BLOCK):
            rows = slice(start, start + BLOCK)
            camera = self.camera_planes(flat[rows])
            if places is not None:
                camera /= self.illumination.gain_planes(places[rows])
            xyz[rows] = self.colour_model.relative_xyz(camera).T
        xyz *= D50_WHITE.astype(np.float32)
        return xyz.reshape(light.shape)

    def camera_planes(self, linear_rgb: FloatArray) -> NDArray[np.float32]:
        """Undo tone curve and flare of (..., 3) linear light: camera R, G, B, 1 = white at the card's middle.

        (3, ...) float32.
        """
        light = np.asarray(linear_rgb)
        camera = np.empty((3, *light.shape[:-1]), dtype=np.float32)
        for channel, table in enumerate(self.tone_table):
            place = np.sqrt(np.maximum(light[..., channel], 0.0))
            place *= TABLE_SIZE
            camera[channel] = table.take(np.minimum(place, TABLE_SIZE - 1).astype(np.int32))
        return camera

    def clipped(self, linear_rgb: FloatArray) -> NDArray[np.bool_]:
        """Tell where (..., 3) linear light is at the ceiling in any channel: (...) bool."""
        at = np.asarray(linear_rgb) >= 0.97 * np.minimum(self.ceiling, 0.99)
        return np.asarray(at[..., 0] | at[..., 1] | at[..., 2])


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
    usable = _usable(samples, reference, neutral, photo)
    _check_exposure(samples.patches, usable, reference)
    geometry = FieldGeometry(
        card_to_photo=np.asarray(card_to_photo, dtype=np.float64),
        photo_to_card=np.linalg.inv(np.asarray(card_to_photo, dtype=np.float64)),
        card_size=np.array([layout.width, layout.height]),
        photo_size=np.array(photo.pixels.shape[1::-1], dtype=np.float64),
    )
    problem = _problem(samples, usable, reference, geometry, photo)
    result, disagreeing = _fit_without_misfits(problem, samples.patches.ids)
    result = _choose_model(replace(problem, weight=result.patch_weight), problem, result)
    correction = _correction(samples, problem, result, geometry)
    return replace(correction, left_out=usable.left_out + disagreeing, ceiling=usable.ceiling)


def _usable(
    samples: PatchSamples, reference: Array, neutral: NDArray[np.bool_], photo: Photo
) -> UsablePatches:
    light = _rough_light(samples)
    xyz = np.asarray(lab_to_xyz(reference), dtype=np.float64)
    camera_like = light * (xyz @ np.linalg.inv(photo.encoding.to_xyz_d50).T)
    return choose_usable_patches(samples.patches, light * xyz[:, 1:2], camera_like, neutral)


def _rough_light(samples: PatchSamples) -> Array:
    """Light on each patch relative to the card's mean, (N, 3), from a plane through the log of the paper."""
    paper = samples.paper
    clean = _clean_paper(paper, np.full(3, NO_CEILING))
    if clean.sum() < LEAST_PAPER_CELLS:
        return np.ones_like(samples.patches.mean)
    design = np.column_stack([np.ones(clean.sum()), paper.centres_mm[clean]])
    plane, *_ = np.linalg.lstsq(design, np.log(paper.mean[clean]), rcond=None)
    slope = (samples.patches.centres_mm - samples.patches.centres_mm.mean(axis=0)) @ plane[1:]
    return np.asarray(np.exp(slope), dtype=np.float64)


def _check_exposure(patches: RegionSamples, usable: UsablePatches, reference: Array) -> None:
    count, total = int(usable.usable.sum()), len(patches.ids)
    if usable.clipped_count > GREATEST_CLIPPED_SHARE * total:
        raise PhotoOverexposed(f"{usable.clipped_count} of the card's {total} patches are overexposed.")
    if count < LEAST_PATCHES:
        raise ColourUncertain(f"Only {count} of the card's {total} patches can be used.")
    white = _white_light(patches, usable.usable, reference)
    if white.mean() < LEAST_WHITE_LIGHT:
        raise PhotoUnderexposed(
            f"White on the card has only {100 * white.mean():.1f} % of the photo's range."
        )
    if _noise(patches) > GREATEST_NOISE:
        raise PhotoUnderexposed(f"Noise is {100 * _noise(patches):.0f} % of the card's light.")


def _noise(patches: RegionSamples) -> float:
    return float(np.nanmedian((patches.spread / np.maximum(patches.mean, 1e-4)).mean(axis=1)))


def _white_light(patches: RegionSamples, usable: NDArray[np.bool_], reference: Array) -> Array:
    """Linear light of a perfect white, (3,), from the usable patch that is lightest and most neutral."""
    whiteness = reference[:, 0] - np.hypot(reference[:, 1], reference[:, 2])
    lightest = int(np.argmax(np.where(usable, whiteness, -np.inf)))
    luminance = float(np.asarray(lab_to_xyz(reference[lightest]))[1])
    return np.asarray(np.maximum(patches.mean[lightest] / luminance, 1e-3), dtype=np.float64)


def _problem(
    samples: PatchSamples, usable: UsablePatches, reference: Array, geometry: FieldGeometry, photo: Photo
) -> FitProblem:
    patches, paper = samples.patches, _clean_paper(samples.paper, usable.ceiling)
    places = np.concatenate([patches.centres_px, samples.paper.centres_px[paper]])
    darkness = np.clip(reference[:, 0] / DARK_LIGHTNESS, 0.0, 1.0)
    white = _white_light(patches, usable.usable, reference)
    light = np.nan_to_num(np.concatenate([patches.mean, samples.paper.mean[paper]]))
    return FitProblem(
        kind=ModelKind.ROOT_POLYNOMIAL_2,
        light=light,
        terms=np.asarray(geometry.terms(places)[:, :FIELD_TERMS], dtype=np.float64),
        reference_lab=reference,
        weight=usable.usable * (DARK_WEIGHT + (1.0 - DARK_WEIGHT) * darkness),
        white=white,
        to_xyz_d50=photo.encoding.to_xyz_d50,
        basis=tone_basis(light, white),
        metric=delta_e_2000_metric(reference),
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
    return (
        f"Patch {name} differs by {error:.1f} CIEDE2000 from what the others foretell: "
        "dirty, shaded or mirroring a light."
    )


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
    samples: PatchSamples, problem: FitProblem, result: FitResult, geometry: FieldGeometry
) -> ColourCorrection:
    error = _leave_one_out(problem, result)
    used = np.flatnonzero(result.patch_weight > 0)
    mean = float(error[used].mean())
    if mean > GREATEST_DELTA_E:
        raise ColourUncertain(f"The card's colours can be foretold only to {mean:.1f} CIEDE2000.")
    vector = result.vector
    deviation = np.maximum(vector[TONE].reshape(3, KNOT_COUNT), LEAST_GAMMA - 1.0)
    tone = ToneCurve(deviation, problem.white, vector[BLACK])
    return ColourCorrection(
        model=result.kind.value,
        illumination=illumination_from_card(
            geometry, vector[FIELD].reshape(3, FIELD_TERMS), result.covariance[FIELD, FIELD]
        ),
        tone=tone,
        colour_model=ColourModel(result.kind, vector[MATRIX].reshape(3, -1)),
        leave_one_out_delta_e={samples.patches.ids[number]: float(error[number]) for number in used},
        leave_one_out_mean=mean,
        leave_one_out_p95=float(np.percentile(error[used], 95)),
        left_out=(),
        ceiling=np.full(3, NO_CEILING),
        noise=_noise(samples.patches),
        tone_table=tone.table(),
    )
