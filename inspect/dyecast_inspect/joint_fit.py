"""Fits tone curve, illumination and colour correction together, and says how well they foretell a patch.

One vector holds every parameter (see the slices below). The residuals are the patches' colour differences,
in CIEDE2000 linearised at the reference, and the bare paper's unevenness after tone curve and illumination
are undone; Gaussian priors hold what the card cannot tell. Gauss-Newton steps with Levenberg's damping
minimise them; patches and paper that do not fit count less (Cauchy weights, iteratively reweighted).

Leaving a patch out: at the minimum, removing a patch's rows moves the solution by one Newton step, which the
matrix inversion lemma gives for every patch at once (Cook and Weisberg, "Residuals and Influence in
Regression", 1982, for the linear case). Everything is refitted in that step: tone curve, illumination,
flare and colour model. The prediction is then made with the full non-linear chain. The test-suite holds it
against refitting from scratch.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from dyecast_inspect.colour_models import TERM_COUNT, ModelKind, coefficient_prior, terms_and_slopes
from dyecast_inspect.illumination import TERM_COUNT as FIELD_TERMS
from dyecast_inspect.illumination import field_prior
from dyecast_inspect.perceptual_metric import delta_e_2000_metric, relative_xyz_to_lab
from dyecast_inspect.tone_curve import (
    KNOT_COUNT,
    LEAST_GAMMA,
    black_prior_covariance,
    tone_basis,
    tone_prior_covariance,
)

Array = NDArray[np.float64]

TONE = slice(0, 3 * KNOT_COUNT)
BLACK = slice(TONE.stop, TONE.stop + 3)
FIELD = slice(BLACK.stop, BLACK.stop + 3 * FIELD_TERMS)
PAPER = slice(FIELD.stop, FIELD.stop + 3)
MATRIX_START = PAPER.stop
MATRIX = slice(MATRIX_START, None)

PATCH_SIGMA = 0.6
"""Standard deviation expected of a well-fitted patch in each direction, CIEDE2000: print and camera."""

PAPER_SIGMA = 0.03
"""Least standard deviation of bare paper about the low-order field, log units: paper waves and folds."""

PAPER_INDEPENDENT = 10.0
"""Independent observations that all cells of paper together count as: neighbours share their folds."""

PATCH_TOLERANCE = 3.0
PAPER_TOLERANCE = 2.5
"""Robust standard deviations at which a patch or a cell of paper counts half or a quarter."""

LEAST_RESIDUAL = 0.5
"""The robust scale of the patches is never taken below this, CIEDE2000."""

LEAST_PAPER_LIGHT = 0.02
"""Paper is never taken as darker than this, relative to white, before its log is taken."""

ITERATIONS = 10
REWEIGHT_FROM = 2
"""Gauss-Newton steps, and the step from which misfits begin to count less."""

SETTLED = 2e-3
"""The fit has settled when a step changes the sum of squares by less than this share."""


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
    white_xyz
        (3,) XYZ of D50.
    """

    kind: ModelKind
    light: Array
    terms: Array
    reference_lab: Array
    weight: Array
    white: Array
    to_xyz_d50: Array
    white_xyz: Array


@dataclass(frozen=True, slots=True, eq=False)
class FitResult:
    """The fitted vector, its posterior covariance, and the patches' weights and colours.

    `leave_one_out_lab` is (N, 3): each patch as foretold by the others; `fitted_lab` with all.
    """

    kind: ModelKind
    vector: Array
    covariance: Array
    patch_weight: Array
    paper_weight: Array
    paper_sigma: float
    fitted_lab: Array
    leave_one_out_lab: Array
    steps: int


@dataclass(frozen=True, slots=True, eq=False)
class _Prepared:
    problem: FitProblem
    basis: Array
    metric: Array
    prior_mean: Array
    prior_precision: Array
    patch_count: int


@dataclass(frozen=True, slots=True, eq=False)
class _Weights:
    patch: Array
    paper: Array
    paper_sigma: float
    paper_gamma: float


@dataclass(frozen=True, slots=True, eq=False)
class _Chain:
    """Intermediate values of the chain: lit = tone-corrected over gain; camera = lit minus flare over gain."""

    lit: Array
    inverse_gain: Array
    camera: Array


def fit_jointly(problem: FitProblem, start: FitResult | None = None) -> FitResult:
    """Fit everything; `start` is an earlier result of the same photo, of any kind of model."""
    prepared = _prepare(problem)
    vector, weights = _starting_point(prepared, start)
    damping, steps = 1e-3, 0
    for steps in range(1, ITERATIONS + 1):
        if steps > REWEIGHT_FROM or start is not None:
            weights = _reweighted(prepared, vector, weights)
        residual, slopes = _residuals(prepared, vector, weights, with_slopes=True)
        vector, damping, share = _step(prepared, vector, weights, residual, slopes, damping)
        if share < SETTLED and steps > REWEIGHT_FROM + 1:
            break
    return _result(prepared, vector, weights, steps)


def refit_without(problem: FitProblem, result: FitResult, patch: int) -> Array:
    """Return the Lab, (3,), of one patch as foretold by a fit from scratch without it.

    Misfit weights stay as they are in `result`. Slow; it is what `leave_one_out_lab` approximates.
    """
    weight = result.patch_weight.copy()
    weight[patch] = 0.0
    prepared = _prepare(problem)
    weights = _Weights(weight, result.paper_weight, result.paper_sigma, _paper_gamma(prepared, result.vector))
    vector, damping = result.vector, 1e-3
    for _ in range(4 * ITERATIONS):
        residual, slopes = _residuals(prepared, vector, weights, with_slopes=True)
        vector, damping, _ = _step(prepared, vector, weights, residual, slopes, damping)
    return np.asarray(_patch_lab(prepared, vector[None])[0, patch], dtype=np.float64)


def _prepare(problem: FitProblem) -> _Prepared:
    plain = (problem.to_xyz_d50 * problem.white) / problem.white_xyz[:, None]
    coefficient_mean, coefficient_spread = coefficient_prior(problem.kind, plain)
    size = MATRIX_START + 3 * TERM_COUNT[problem.kind]
    mean, precision = np.zeros(size), np.zeros((size, size))
    field_mean, field_covariance = field_prior()
    mean[FIELD], mean[MATRIX] = field_mean, coefficient_mean.ravel()
    precision[TONE, TONE] = np.linalg.inv(tone_prior_covariance())
    precision[BLACK, BLACK] = np.linalg.inv(black_prior_covariance())
    precision[FIELD, FIELD] = np.linalg.inv(field_covariance)
    precision[PAPER, PAPER] = 1e-2 * np.eye(3)
    precision[MATRIX, MATRIX] = np.diag(coefficient_spread.ravel() ** -2.0)
    return _Prepared(
        problem=problem,
        basis=tone_basis(problem.light, problem.white),
        metric=delta_e_2000_metric(problem.reference_lab),
        prior_mean=mean,
        prior_precision=precision,
        patch_count=len(problem.reference_lab),
    )


def _starting_point(prepared: _Prepared, start: FitResult | None) -> tuple[Array, _Weights]:
    problem, count = prepared.problem, prepared.patch_count
    vector = prepared.prior_mean.copy()
    paper = problem.light[count:]
    if start is not None:
        vector[:MATRIX_START] = start.vector[:MATRIX_START]
        shared = min(TERM_COUNT[problem.kind], TERM_COUNT[start.kind])
        vector[MATRIX].reshape(3, -1)[:, :shared] = start.vector[MATRIX].reshape(3, -1)[:, :shared]
        gamma = _paper_gamma(prepared, vector)
        return vector, _Weights(start.patch_weight, start.paper_weight, start.paper_sigma, gamma)
    vector[FIELD] = 0.0
    if len(paper):
        vector[PAPER] = np.log(np.median(paper, axis=0) / problem.white)
    return vector, _Weights(problem.weight, np.ones(len(paper)), PAPER_SIGMA, 1.0)


def _chain(prepared: _Prepared, vectors: Array) -> _Chain:
    """Undo tone curve, flare and illumination for (K, n) vectors: arrays (K, N + P, 3)."""
    problem = prepared.problem
    tone = vectors[:, TONE].reshape(-1, 1, 3, KNOT_COUNT)
    field = vectors[:, FIELD].reshape(-1, 3, FIELD_TERMS)
    inverse_gain = np.exp(-(problem.terms @ field.transpose(0, 2, 1)))
    lit = problem.light / problem.white * np.exp((prepared.basis * tone).sum(axis=-1)) * inverse_gain
    return _Chain(lit, inverse_gain, lit - vectors[:, None, BLACK] * inverse_gain)


def _patch_lab(prepared: _Prepared, vectors: Array) -> Array:
    """Lab of the patches for (K, n) vectors: (K, N, 3)."""
    camera = _chain(prepared, vectors).camera[:, : prepared.patch_count]
    terms, _ = terms_and_slopes(camera, prepared.problem.kind)
    matrix = vectors[:, MATRIX].reshape(len(vectors), 3, -1)
    return relative_xyz_to_lab(terms @ matrix.transpose(0, 2, 1))[0]


def _residuals(
    prepared: _Prepared, vector: Array, weights: _Weights, *, with_slopes: bool
) -> tuple[Array, Array]:
    """Weighted residuals (3 (N + P),), patches first, and their slopes (3 (N + P), n) or an empty array."""
    chain = _chain(prepared, vector[None])
    chain = _Chain(chain.lit[0], chain.inverse_gain[0], chain.camera[0])
    patches = _patch_residuals(prepared, vector, weights, chain, with_slopes)
    paper = _paper_residuals(prepared, vector, weights, chain, with_slopes)
    return np.concatenate([patches[0], paper[0]]), np.concatenate([patches[1], paper[1]])


def _patch_residuals(
    prepared: _Prepared, vector: Array, weights: _Weights, chain: _Chain, with_slopes: bool
) -> tuple[Array, Array]:
    count = prepared.patch_count
    matrix = vector[MATRIX].reshape(3, -1)
    terms, term_slopes = terms_and_slopes(chain.camera[:count], prepared.problem.kind)
    lab, lab_slopes = relative_xyz_to_lab(terms @ matrix.T)
    metric = prepared.metric * (np.sqrt(weights.patch) / PATCH_SIGMA)[:, None, None]
    residual = (metric @ (lab - prepared.problem.reference_lab)[..., None]).ravel()
    if not with_slopes:
        return residual, np.zeros((0, len(vector)))
    by_xyz = metric @ lab_slopes
    by_camera = by_xyz @ (matrix @ term_slopes)
    slopes = np.empty((count, 3, len(vector)))
    slopes[..., : PAPER.start] = _chain_slopes(prepared, chain, slice(0, count), by_camera)
    slopes[..., PAPER] = 0.0
    slopes[..., MATRIX] = (by_xyz[..., None] * terms[:, None, None, :]).reshape(count, 3, -1)
    return residual, slopes.reshape(3 * count, -1)


def _paper_residuals(
    prepared: _Prepared, vector: Array, weights: _Weights, chain: _Chain, with_slopes: bool
) -> tuple[Array, Array]:
    rows = slice(prepared.patch_count, None)
    camera = np.maximum(chain.camera[rows], LEAST_PAPER_LIGHT)
    count = len(camera)
    share = min(1.0, PAPER_INDEPENDENT / max(count, 1))
    scale = np.sqrt(weights.paper * share)[:, None] / (weights.paper_sigma * weights.paper_gamma)
    residual = ((np.log(camera) - vector[PAPER]) * scale).ravel()
    if not with_slopes or count == 0:
        return residual, np.zeros((0, len(vector)))
    by_camera = np.eye(3) * (scale / camera)[:, None, :]
    slopes = np.zeros((count, 3, len(vector)))
    slopes[..., : PAPER.start] = _chain_slopes(prepared, chain, rows, by_camera)
    slopes[..., PAPER] = -np.eye(3) * scale[:, None, :]
    return residual, slopes.reshape(3 * count, -1)


def _chain_slopes(prepared: _Prepared, chain: _Chain, rows: slice, by_camera: Array) -> Array:
    """Slopes of residuals by tone, flare and field, given their slopes by camera light (R, 3, 3)."""
    by_tone = chain.lit[rows, :, None] * prepared.basis[rows]
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


def _step(
    prepared: _Prepared, vector: Array, weights: _Weights, residual: Array, slopes: Array, damping: float
) -> tuple[Array, float, float]:
    """Take one damped Gauss-Newton step: new vector, new damping, and the share by which the cost fell."""
    departure = vector - prepared.prior_mean
    pull = prepared.prior_precision @ departure
    curvature = slopes.T @ slopes + prepared.prior_precision
    gradient = slopes.T @ residual + pull
    cost = residual @ residual + departure @ pull
    for _ in range(5):
        step = np.linalg.solve(curvature + damping * np.diag(np.diag(curvature)), -gradient)
        tried = vector + step
        found, _ = _residuals(prepared, tried, weights, with_slopes=False)
        departure = tried - prepared.prior_mean
        new_cost = found @ found + departure @ prepared.prior_precision @ departure
        if new_cost <= cost:
            return tried, max(damping / 10.0, 1e-9), float((cost - new_cost) / max(cost, 1e-12))
        damping *= 10.0
    return vector, damping, 0.0


def _reweighted(prepared: _Prepared, vector: Array, weights: _Weights) -> _Weights:
    lab = _patch_lab(prepared, vector[None])[0]
    misfit = np.linalg.norm(
        (prepared.metric @ (lab - prepared.problem.reference_lab)[..., None])[..., 0], axis=1
    )
    kept = prepared.problem.weight > 0
    scale = max(LEAST_RESIDUAL, 1.2 * float(np.median(misfit[kept])))
    patch = prepared.problem.weight / (1.0 + (misfit / (PATCH_TOLERANCE * scale)) ** 2)
    gamma = _paper_gamma(prepared, vector)
    if len(weights.paper) == 0:
        return replace(weights, patch=patch)
    plain = replace(weights, paper=np.full(len(weights.paper), max(1.0, len(weights.paper) / PAPER_INDEPENDENT)))
    plain = replace(plain, paper_sigma=1.0, paper_gamma=gamma)
    chain = _chain(prepared, vector[None])
    chain = _Chain(chain.lit[0], chain.inverse_gain[0], chain.camera[0])
    uneven = _paper_residuals(prepared, vector, plain, chain, False)[0].reshape(-1, 3)
    size = np.sqrt((uneven**2).mean(axis=1))
    sigma = max(PAPER_SIGMA, 1.2 * float(np.median(size)))
    return _Weights(patch, (1.0 + (size / (PAPER_TOLERANCE * sigma)) ** 2) ** -2.0, sigma, gamma)


def _paper_gamma(prepared: _Prepared, vector: Array) -> float:
    """Local gamma of the tone curve at the paper: turns its scene light's spread into the photo's.

    Without it the fit could hide uneven paper by flattening the curve there.
    """
    paper = prepared.problem.light[prepared.patch_count :]
    if len(paper) == 0:
        return 1.0
    middle, step = np.median(paper, axis=0), 1.02
    white = prepared.problem.white
    change = tone_basis(middle * step, white) - tone_basis(middle / step, white)
    slope = (change * vector[TONE].reshape(3, -1)).sum(axis=-1) / (2.0 * np.log(step))
    return max(LEAST_GAMMA, float(np.mean(1.0 + slope)))


def _result(prepared: _Prepared, vector: Array, weights: _Weights, steps: int) -> FitResult:
    residual, slopes = _residuals(prepared, vector, weights, with_slopes=True)
    covariance = np.linalg.inv(slopes.T @ slopes + prepared.prior_precision)
    count = prepared.patch_count
    rows = slopes[: 3 * count].reshape(count, 3, -1)
    spread = rows @ covariance
    leverage = spread @ rows.transpose(0, 2, 1)
    left_out = np.linalg.solve(np.eye(3) - leverage, residual[: 3 * count].reshape(count, 3, 1))
    vectors = vector + (spread.transpose(0, 2, 1) @ left_out)[..., 0]
    single = _patch_lab(prepared, vectors)
    return FitResult(
        kind=prepared.problem.kind,
        vector=vector,
        covariance=covariance,
        patch_weight=weights.patch,
        paper_weight=weights.paper,
        paper_sigma=weights.paper_sigma,
        fitted_lab=_patch_lab(prepared, vector[None])[0],
        leave_one_out_lab=single[np.arange(count), np.arange(count)],
        steps=steps,
    )
