"""The chain from photo light to colour difference as one function of one vector, with its slopes.

    photo light --tone curve--> scene light --minus flare, over the illumination--> camera RGB
                --colour model--> XYZ --> Lab, against the reference in CIEDE2000 linearised there

The vector holds every parameter: see the slices. Gaussian priors hold what a card cannot tell.
"""

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from dyecast_inspect.colour_models import (
    TERM_COUNT,
    ModelKind,
    coefficient_prior,
    terms_and_slopes,
    terms_only,
)
from dyecast_inspect.illumination import TERM_COUNT as FIELD_TERMS
from dyecast_inspect.illumination import field_prior
from dyecast_inspect.perceptual_metric import relative_xyz_to_lab
from dyecast_inspect.tone_curve import (
    KNOT_COUNT,
    LEAST_GAMMA,
    black_prior_covariance,
    gamma_slopes,
    tone_prior_covariance,
)
from dyecast_shared.cielab import D50_WHITE

Array = NDArray[np.float64]

TONE = slice(0, 3 * KNOT_COUNT)
BLACK = slice(TONE.stop, TONE.stop + 3)
FIELD = slice(BLACK.stop, BLACK.stop + 3 * FIELD_TERMS)
PAPER = slice(FIELD.stop, FIELD.stop + 3)
MATRIX_START = PAPER.stop
MATRIX = slice(MATRIX_START, None)

PATCH_SIGMA = 0.5
"""Standard deviation expected of a well-fitted patch in each direction, CIEDE2000: print and camera."""

PAPER_SIGMA = 0.03
"""Least standard deviation of bare paper about the low-order field, log units: paper waves and folds."""

PAPER_INDEPENDENT = 10.0
"""Independent observations that all cells of paper together count as: neighbours share their folds."""

PAPER_COLOUR_PRECISION = 1e-2
"""Prior precision of the paper's own colour, 1 / (log units)²: free, as paper may be any white."""

LEAST_PAPER_LIGHT = 0.02
"""Paper is never taken as darker than this, relative to white, before its log is taken."""


@dataclass(frozen=True, slots=True, eq=False)
class FitProblem:
    """What is to be fitted.

    Attributes
    ----------
    kind
        Which colour model.
    light
        (N + P, 3) linear light of N patches, then of P cells of paper.
    terms
        (N + P, 6) terms of the illumination field at the same places.
    reference_lab
        (N, 3) CIELAB D50 of the patches.
    weight
        (N,) 0..1, 0 for a patch left out.
    white
        (3,) linear light of the photo for a perfect white at the card's middle, roughly.
    to_xyz_d50
        (3, 3) the photo's encoding.
    basis
        (N + P, 3, 5) the tone curve's basis at `light`.
    metric
        (N, 3, 3) CIEDE2000 about the reference colours.
    """

    kind: ModelKind
    light: Array
    terms: Array
    reference_lab: Array
    weight: Array
    white: Array
    to_xyz_d50: Array
    basis: Array
    metric: Array


@dataclass(frozen=True, slots=True, eq=False)
class Prepared:
    """A problem with its prior.

    Attributes
    ----------
    problem
        As given.
    prior_mean, prior_precision
        (n,) and (n, n) of the vector.
    patch_count
        N.
    paper_gamma_slopes
        (3, 5): what each knot adds to the local gamma at the paper's light.
    """

    problem: FitProblem
    prior_mean: Array
    prior_precision: Array
    patch_count: int
    paper_gamma_slopes: Array


@dataclass(frozen=True, slots=True, eq=False)
class Weights:
    """How much each observation counts.

    Attributes
    ----------
    patch, paper
        (N,) and (P,) in 0..1.
    paper_sigma
        Standard deviation of the paper, log units of photo light.
    paper_gamma
        Local gamma of the tone curve at the paper.
    """

    patch: Array
    paper: Array
    paper_sigma: float
    paper_gamma: float


@dataclass(frozen=True, slots=True, eq=False)
class Chain:
    """Intermediate values, (N + P, 3): scene light over gain, 1 over gain, and camera RGB (without flare)."""

    lit: Array
    inverse_gain: Array
    camera: Array


def prepare(problem: FitProblem) -> Prepared:
    """Set up the priors for a problem."""
    plain = (problem.to_xyz_d50 * problem.white) / D50_WHITE[:, None]
    coefficient_mean, coefficient_spread = coefficient_prior(problem.kind, plain)
    size = MATRIX_START + 3 * TERM_COUNT[problem.kind]
    mean, precision = np.zeros(size), np.zeros((size, size))
    mean[:MATRIX_START], precision[:MATRIX_START, :MATRIX_START] = _shared_prior()
    mean[MATRIX] = coefficient_mean.ravel()
    precision[MATRIX, MATRIX] = np.diag(coefficient_spread.ravel() ** -2.0)
    count = len(problem.reference_lab)
    paper = problem.light[count:]
    at_paper = gamma_slopes(np.median(paper, axis=0)) if len(paper) else np.zeros((3, KNOT_COUNT))
    return Prepared(problem, mean, precision, count, at_paper)


@cache
def _shared_prior() -> tuple[Array, Array]:
    """Prior mean and precision of everything but the colour model."""
    mean, precision = np.zeros(MATRIX_START), np.zeros((MATRIX_START, MATRIX_START))
    mean[FIELD], field_covariance = field_prior()
    precision[TONE, TONE] = np.linalg.inv(tone_prior_covariance())
    precision[BLACK, BLACK] = np.linalg.inv(black_prior_covariance())
    precision[FIELD, FIELD] = np.linalg.inv(field_covariance)
    precision[PAPER, PAPER] = PAPER_COLOUR_PRECISION * np.eye(3)
    return mean, precision


def undo(prepared: Prepared, vector: Array) -> Chain:
    """Undo tone curve, flare and illumination at the N + P places."""
    problem = prepared.problem
    inverse_gain = np.exp(-(problem.terms @ vector[FIELD].reshape(3, -1).T))
    lit = _tone_undone(prepared, vector[TONE].reshape(3, -1)) * inverse_gain
    return Chain(lit, inverse_gain, lit - vector[BLACK] * inverse_gain)


def _tone_undone(prepared: Prepared, deviation: Array) -> Array:
    return np.asarray(
        prepared.problem.light
        / prepared.problem.white
        * np.exp((prepared.problem.basis * deviation).sum(axis=-1))
    )


def patch_lab(prepared: Prepared, vector: Array) -> Array:
    """Lab of the patches, (N, 3)."""
    camera = undo(prepared, vector).camera[: prepared.patch_count]
    terms = terms_only(camera, prepared.problem.kind)
    return relative_xyz_to_lab(terms @ vector[MATRIX].reshape(3, -1).T)[0]


def patch_lab_each(prepared: Prepared, vectors: Array) -> Array:
    """Lab of the patches, (N, 3), each by its own vector, (N, n)."""
    problem, count = prepared.problem, prepared.patch_count
    field = vectors[:, FIELD].reshape(count, 3, FIELD_TERMS)
    inverse_gain = np.exp(-(field @ problem.terms[:count, :, None])[..., 0])
    tone = (prepared.problem.basis[:count] * vectors[:, TONE].reshape(count, 3, KNOT_COUNT)).sum(axis=-1)
    light = problem.light[:count] / problem.white * np.exp(tone)
    terms = terms_only((light - vectors[:, BLACK]) * inverse_gain, problem.kind)
    matrix = vectors[:, MATRIX].reshape(count, 3, -1)
    return relative_xyz_to_lab((matrix @ terms[..., None])[..., 0])[0]


def residuals_and_slopes(
    prepared: Prepared, vector: Array, weights: Weights, *, with_slopes: bool
) -> tuple[Array, Array]:
    """Weighted residuals (3 (N + P),), patches first, and their slopes (3 (N + P), n) or an empty array."""
    chain = undo(prepared, vector)
    patches = _patch_residuals(prepared, vector, weights, chain, with_slopes)
    paper = _paper_residuals(prepared, vector, weights, chain, with_slopes)
    return np.concatenate([patches[0], paper[0]]), np.concatenate([patches[1], paper[1]])


def _patch_residuals(
    prepared: Prepared, vector: Array, weights: Weights, chain: Chain, with_slopes: bool
) -> tuple[Array, Array]:
    count = prepared.patch_count
    matrix = vector[MATRIX].reshape(3, -1)
    camera, kind = chain.camera[:count], prepared.problem.kind
    terms = terms_only(camera, kind)
    lab, lab_slopes = relative_xyz_to_lab(terms @ matrix.T)
    metric = prepared.problem.metric * (np.sqrt(weights.patch) / PATCH_SIGMA)[:, None, None]
    residual = (metric @ (lab - prepared.problem.reference_lab)[..., None]).ravel()
    if not with_slopes:
        return residual, np.zeros((0, len(vector)))
    _, term_slopes = terms_and_slopes(camera, kind)
    by_xyz = metric @ lab_slopes
    by_camera = by_xyz @ (matrix @ term_slopes)
    slopes = np.empty((count, 3, len(vector)))
    slopes[..., : PAPER.start] = _chain_slopes(prepared, chain, slice(0, count), by_camera)
    slopes[..., PAPER] = 0.0
    slopes[..., MATRIX] = (by_xyz[..., None] * terms[:, None, None, :]).reshape(count, 3, -1)
    return residual, slopes.reshape(3 * count, -1)


def _paper_residuals(
    prepared: Prepared, vector: Array, weights: Weights, chain: Chain, with_slopes: bool
) -> tuple[Array, Array]:
    rows = slice(prepared.patch_count, None)
    uneven = paper_unevenness(prepared, vector, chain)
    count = len(uneven)
    share = min(1.0, PAPER_INDEPENDENT / max(count, 1))
    scale = np.sqrt(weights.paper * share)[:, None] / (weights.paper_sigma * weights.paper_gamma)
    residual = (uneven * scale).ravel()
    if not with_slopes or count == 0:
        return residual, np.zeros((0, len(vector)))
    camera = np.maximum(chain.camera[rows], LEAST_PAPER_LIGHT)
    by_camera = np.eye(3) * (scale / camera)[:, None, :]
    slopes = np.zeros((count, 3, len(vector)))
    slopes[..., : PAPER.start] = _chain_slopes(prepared, chain, rows, by_camera)
    slopes[..., PAPER] = -np.eye(3) * scale[:, None, :]
    return residual, slopes.reshape(3 * count, -1)


def paper_unevenness(prepared: Prepared, vector: Array, chain: Chain) -> Array:
    """Log of the paper's camera light over the paper's own colour, (P, 3): 0 everywhere if all is undone."""
    camera = np.maximum(chain.camera[prepared.patch_count :], LEAST_PAPER_LIGHT)
    return np.asarray(np.log(camera) - vector[PAPER])


def _chain_slopes(prepared: Prepared, chain: Chain, rows: slice, by_camera: Array) -> Array:
    """Slopes of residuals by tone, flare and field, given their slopes by camera light (R, 3, 3)."""
    by_tone = chain.lit[rows, :, None] * prepared.problem.basis[rows]
    by_field = -chain.camera[rows, :, None] * prepared.problem.terms[rows, None, :]
    count = len(by_camera)
    return np.concatenate(
        [
            (by_camera[..., None] * by_tone[:, None]).reshape(count, 3, -1),
            -by_camera * chain.inverse_gain[rows, None, :],
            (by_camera[..., None] * by_field[:, None]).reshape(count, 3, -1),
        ],
        axis=-1,
    )


def paper_gamma(prepared: Prepared, vector: Array) -> float:
    """Local gamma of the tone curve at the paper: turns its scene light's spread into the photo's.

    Without it the fit could hide uneven paper by flattening the curve there.
    """
    change = (prepared.paper_gamma_slopes * vector[TONE].reshape(3, -1)).sum(axis=-1)
    return max(LEAST_GAMMA, float(1.0 + change.mean()))
