"""Fits tone curve, illumination and colour correction together, and says how well they foretell a patch.

Gauss-Newton steps with Levenberg's damping minimise the residuals of `correction_chain`; patches and paper
that do not fit count less (Cauchy weights, iteratively reweighted).

Leaving a patch out: at the minimum, removing a patch's rows moves the solution by one Newton step, which the
matrix inversion lemma gives for every patch at once (Cook and Weisberg, "Residuals and Influence in
Regression", 1982, for the linear case). Everything is refitted in that step: tone curve, illumination,
flare and colour model; only the weights of misfits stay. The prediction is then made with the full
non-linear chain. The tests hold it against refitting from scratch.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from dyecast_inspect.colour_models import TERM_COUNT, ModelKind
from dyecast_inspect.correction_chain import (
    FIELD,
    MATRIX,
    MATRIX_START,
    PAPER,
    PAPER_SIGMA,
    FitProblem,
    Prepared,
    Weights,
    paper_gamma,
    paper_unevenness,
    patch_lab,
    patch_lab_each,
    prepare,
    residuals_and_slopes,
    undo,
)

Array = NDArray[np.float64]

PATCH_TOLERANCE = 2.0
"""Robust standard deviations at which a patch counts half."""

PAPER_TOLERANCE = 2.5
"""Robust standard deviations at which a cell of paper counts a quarter."""

LEAST_RESIDUAL = 0.5
"""The robust scale of the patches is never taken below this, CIEDE2000."""

ITERATIONS = 10
"""At most this many Gauss-Newton steps; four or five are usual."""

REWEIGHT_FROM = 2
"""After this many steps misfits begin to count less."""

SETTLED = 2e-3
"""The fit has settled when a step changes the sum of squares by less than this share."""


@dataclass(frozen=True, slots=True, eq=False)
class FitResult:
    """What the fit found.

    Attributes
    ----------
    kind
        Which colour model.
    vector, covariance
        (n,) and (n, n): the parameters and their posterior covariance.
    patch_weight, paper_weight
        (N,) and (P,) in 0..1: how much each counted in the end.
    paper_sigma
        Standard deviation of the paper about the field, log units of photo light.
    fitted_lab, leave_one_out_lab
        (N, 3) Lab of the patches, fitted with all of them, and each as foretold by the others.
    steps
        Gauss-Newton steps taken.
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


def fit_jointly(problem: FitProblem, start: FitResult | None = None) -> FitResult:
    """Fit everything; `start` is an earlier result of the same photo, of any kind of model."""
    prepared = prepare(problem)
    vector, weights = _starting_point(prepared, start)
    damping, steps = 1e-3, 0
    for steps in range(1, ITERATIONS + 1):
        if steps > REWEIGHT_FROM or start is not None:
            weights = _reweighted(prepared, vector, weights)
        vector, damping, share = _step(prepared, vector, weights, damping)
        if share < SETTLED and (steps > REWEIGHT_FROM + 1 or (start is not None and steps > 1)):
            break
    return _result(prepared, vector, weights, steps)


def refit_without(problem: FitProblem, result: FitResult, patch: int) -> Array:
    """Return the Lab, (3,), of one patch as foretold by a fit from scratch without it.

    Misfit weights stay as they are in `result`. Slow; it is what `leave_one_out_lab` approximates.
    """
    weight = result.patch_weight.copy()
    weight[patch] = 0.0
    prepared = prepare(problem)
    weights = Weights(weight, result.paper_weight, result.paper_sigma, paper_gamma(prepared, result.vector))
    vector, damping = result.vector, 1e-3
    for _ in range(4 * ITERATIONS):
        vector, damping, _ = _step(prepared, vector, weights, damping)
    return np.asarray(patch_lab(prepared, vector)[patch], dtype=np.float64)


def _starting_point(prepared: Prepared, start: FitResult | None) -> tuple[Array, Weights]:
    problem, count = prepared.problem, prepared.patch_count
    vector = prepared.prior_mean.copy()
    paper = problem.light[count:]
    if start is not None:
        vector[:MATRIX_START] = start.vector[:MATRIX_START]
        shared = min(TERM_COUNT[problem.kind], TERM_COUNT[start.kind])
        vector[MATRIX].reshape(3, -1)[:, :shared] = start.vector[MATRIX].reshape(3, -1)[:, :shared]
        gamma = paper_gamma(prepared, vector)
        return vector, Weights(start.patch_weight, start.paper_weight, start.paper_sigma, gamma)
    vector[FIELD] = 0.0
    if len(paper):
        vector[PAPER] = np.log(np.median(paper, axis=0) / problem.white)
    return vector, Weights(problem.weight, np.ones(len(paper)), PAPER_SIGMA, 1.0)


def _step(prepared: Prepared, vector: Array, weights: Weights, damping: float) -> tuple[Array, float, float]:
    """Take one damped Gauss-Newton step: new vector, new damping, and the share by which the cost fell."""
    residual, slopes = residuals_and_slopes(prepared, vector, weights, with_slopes=True)
    departure = vector - prepared.prior_mean
    pull = prepared.prior_precision @ departure
    curvature = slopes.T @ slopes + prepared.prior_precision
    gradient = slopes.T @ residual + pull
    cost = float(residual @ residual + departure @ pull)
    for _ in range(5):
        step = np.linalg.solve(curvature + damping * np.diag(np.diag(curvature)), -gradient)
        tried = vector + step
        found, _ = residuals_and_slopes(prepared, tried, weights, with_slopes=False)
        departure = tried - prepared.prior_mean
        new_cost = float(found @ found + departure @ prepared.prior_precision @ departure)
        if new_cost <= cost:
            return tried, max(damping / 10.0, 1e-9), (cost - new_cost) / max(cost, 1e-12)
        damping *= 10.0
    return vector, damping, 0.0


def _reweighted(prepared: Prepared, vector: Array, weights: Weights) -> Weights:
    lab = patch_lab(prepared, vector)
    misfit = np.linalg.norm(
        (prepared.problem.metric @ (lab - prepared.problem.reference_lab)[..., None])[..., 0], axis=1
    )
    kept = prepared.problem.weight > 0
    scale = max(LEAST_RESIDUAL, 1.2 * float(np.median(misfit[kept])))
    patch = prepared.problem.weight / (1.0 + (misfit / (PATCH_TOLERANCE * scale)) ** 2)
    gamma = paper_gamma(prepared, vector)
    if len(weights.paper) == 0:
        return replace(weights, patch=patch)
    uneven = paper_unevenness(prepared, vector, undo(prepared, vector)) / gamma
    size = np.sqrt((uneven**2).mean(axis=1))
    sigma = max(PAPER_SIGMA, 1.2 * float(np.median(size)))
    return Weights(patch, (1.0 + (size / (PAPER_TOLERANCE * sigma)) ** 2) ** -2.0, sigma, gamma)


def _result(prepared: Prepared, vector: Array, weights: Weights, steps: int) -> FitResult:
    residual, slopes = residuals_and_slopes(prepared, vector, weights, with_slopes=True)
    covariance = np.linalg.inv(slopes.T @ slopes + prepared.prior_precision)
    count = prepared.patch_count
    rows = slopes[: 3 * count].reshape(count, 3, -1)
    spread = rows @ covariance
    leverage = spread @ rows.transpose(0, 2, 1)
    left_out = np.linalg.solve(np.eye(3) - leverage, residual[: 3 * count].reshape(count, 3, 1))
    vectors = vector + (spread.transpose(0, 2, 1) @ left_out)[..., 0]
    return FitResult(
        kind=prepared.problem.kind,
        vector=vector,
        covariance=np.asarray(covariance, dtype=np.float64),
        patch_weight=weights.patch,
        paper_weight=weights.paper,
        paper_sigma=weights.paper_sigma,
        fitted_lab=patch_lab(prepared, vector),
        leave_one_out_lab=patch_lab_each(prepared, vectors),
        steps=steps,
    )
