"""Explain a measured piece: how much dye arrived, how yellow it went, and what light and glass added.

What the card cannot tell is fitted together with the pressing, by robust least squares with priors:

    measured = light at the piece x blur(pressed artwork) + veil

- the light at the piece differs from the light on the card by a smooth gain (constant, slopes, curvature);
- the colour of that light and of the piece's dyes leaves a small gain between the three bands;
- clear glass mirrors the room: a smooth veil, added in linear light, while pressing scales density;
- dye gas spreads in the coating: a blur of the densities, which also darkens fine patterns;
- the photo is less sharp than the artwork: a blur of the light.

Both blurs are Gaussian, their derivative by the variance is half the Laplacian (the heat equation).

Residuals are cube roots of light, so that they weigh about as lightness does. Everything is stated as a
Gaussian prior in `PressingPrior`; the covariance of the fit is the uncertainty of every figure.
"""

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.pressing_model import (
    COATING_YELLOWING,
    DYE_ABSORPTION,
    INK_YELLOWING,
    Pressing,
    scorched_absorption,
)
from dyecast_calibration.pressing_prior import PressingPrior
from dyecast_inspect.intended_ink import TIMES_FINER, IntendedInk

Image = NDArray[np.float32]
Vector = NDArray[np.float64]

STEPS: Final = 25
"""Steps at most; most photos need eight."""

CONVERGED: Final = 1e-2
"""A step that changes no parameter by more than this many prior standard deviations ends the fit."""

LEAST_BLEED_PX2: Final = 0.02
"""A bleed of a smaller variance, px² of the fine artwork, cannot be seen and is not drawn."""

SUBPIXEL_VARIANCE: Final = 0.15
"""Variance of bleed, px² of the fine artwork, that mixes what is finer than a pixel to 1 - 1/e: twice the
variance of a uniform pixel, 1/12."""

LEAST_LIGHT: Final = 1e-4
"""Light below which the cube root is not taken: it is noise."""

DYES, YELLOWING, GAIN, BAND_GAIN, VEIL, BLUR, BLEED = (
    slice(0, 3), 3, slice(4, 10), slice(10, 12), slice(12, 15), 15, 16
)  # fmt: skip
"""Places of the parameters: log fraction and the departures of cyan and yellow from it; yellowing density;
log gain (1, u, v, u², uv, v²); log gain of the long and the short band; veil (1, u, v); variance of the
photo's blur, px² of the sample; variance of the dyes' bleed, mm²."""

LEAST_VEIL: Final = -0.04
MOST_VEIL: Final = 0.15
"""The veil stays between these: the card's own sheen, taken off with the correction, is below 4 % of white;
more than 15 % is no mirrored room but a lamp."""

MOST_BLUR_PX2: Final = 25.0
MOST_BLEED_MM2: Final = 1.5
"""The blurs stop here: beyond, the print is not the artwork any more."""


@dataclass(frozen=True, slots=True, eq=False)
class PieceSample:
    """What the fit sees, in the artwork's frame.

    Attributes
    ----------
    measured
        (h, w, 3) float32 light in the three bands, corrected by the card.
    weight
        (h, w) float32, 0 where there is glare, clipping or no print, 1 where all is well.
    ink
        What the artwork asks for, at twice the size.
    pixels_per_mm
        Pixels of `measured` per mm of the print.
    glass
        True when the surface may mirror the room.
    """

    measured: Image
    weight: Image
    ink: IntendedInk
    pixels_per_mm: float
    glass: bool = True


@dataclass(frozen=True, slots=True, eq=False)
class PressingFit:
    """The explanation found.

    Attributes
    ----------
    parameters, covariance
        (17,) and (17, 17) float64, in the order of the module's slices.
    predicted
        (h, w, 3) float32 light in the three bands that the explanation predicts, with light and veil.
    agreement
        (h, w) float32 robust weight in 0..1 of each pixel: near 0 where something else was seen (glare,
        a shadow, the table beside a round piece).
    residual
        Root mean square of the residuals where the agreement is good, in cube roots of light.
    """

    parameters: Vector
    covariance: Vector
    predicted: Image
    agreement: Image
    residual: float

    def pressing(self) -> Pressing:
        """Return the transferred fraction of each dye and the yellowing."""
        fraction, cyan, yellow = self.parameters[DYES]
        return Pressing(
            cyan=float(np.exp(fraction + cyan)),
            magenta=float(np.exp(fraction)),
            yellow=float(np.exp(fraction + yellow)),
            yellowing=float(self.parameters[YELLOWING]),
        )

    @property
    def blur_px2(self) -> float:
        """Variance of the photo's blur, px² of the sample."""
        return float(self.parameters[BLUR])

    def gain(self, height: int, width: int) -> Image:
        """Light at the piece over the light the card foretold, (height, width, 3)."""
        across = field_terms(height, width) @ self.parameters[GAIN]
        long_band, short_band = self.parameters[BAND_GAIN]
        bands = np.array([long_band, 0.0, short_band])
        return np.asarray(np.exp(across[..., np.newaxis] + bands), np.float32)

    def veil(self, height: int, width: int) -> Image:
        """Light mirrored by the surface as a share of perfect white, (height, width)."""
        return np.asarray(field_terms(height, width)[..., :3] @ self.parameters[VEIL], np.float32)


def field_terms(height: int, width: int) -> NDArray[np.float64]:
    """Terms 1, u, v, u², uv, v² at pixel centres, u and v running -1..1: (height, width, 6)."""
    u, v = np.meshgrid((np.arange(width) + 0.5) / width * 2 - 1, (np.arange(height) + 0.5) / height * 2 - 1)
    return np.stack([np.ones_like(u), u, v, u * u, u * v, v * v], axis=-1)


def fit_pressing(
    sample: PieceSample, prior: PressingPrior, *, start: Vector | None = None, converged: float = CONVERGED
) -> PressingFit:
    """Fit pressing, light and veil to one measured piece.

    Levenberg-Marquardt with Cauchy weights (Holland and Welsch 1977); the prior enters as residuals of its
    own. Neighbouring pixels share their errors, so all pixels together count as `prior.independent` ones.
    """
    problem = _Problem(sample, prior)
    current = problem.start() if start is None else start
    cost, normal, right = problem.equations(current)
    damping = 1e-3
    for _ in range(STEPS):
        change = np.linalg.solve(normal + damping * np.diag(np.diag(normal)), right)
        trial = problem.bounded(current + change)
        trial_cost, trial_normal, trial_right = problem.equations(trial)
        if trial_cost > cost:
            damping *= 10.0
            if damping > 1e6:
                break
            continue
        moved = np.abs((trial - current) / problem.below).max()
        current, cost, normal, right = trial, trial_cost, trial_normal, trial_right
        damping = max(damping * 0.2, 1e-6)
        if moved < converged:
            break
    return problem.explained(current, np.asarray(np.linalg.inv(normal), np.float64))


class _Problem:
    """The least-squares problem of one piece: model, residuals and normal equations."""

    def __init__(self, sample: PieceSample, prior: PressingPrior) -> None:
        height, width = sample.measured.shape[:2]
        self.sample, self.prior = sample, prior
        self.terms = field_terms(height, width).astype(np.float32)
        self.root = np.cbrt(np.maximum(sample.measured, LEAST_LIGHT)).astype(np.float32)
        self.mean, self.below, self.above = prior.vectors(glass=sample.glass)
        self.fine_per_mm = np.float32(TIMES_FINER * sample.pixels_per_mm)
        self.unmixing = sample.ink.mixed - sample.ink.amounts
        used = max(float(sample.weight.sum()) * 3.0, 1.0)
        self.share = prior.independent / used

    def start(self) -> Vector:
        """Begin at the prior's middle, with fraction and gain from a straight line through log light."""
        start = self.mean.copy()
        amounts = cv2.resize(self.sample.ink.amounts, self.terms.shape[1::-1], interpolation=cv2.INTER_AREA)
        density = (amounts @ DYE_ABSORPTION.T.astype(np.float32))[..., 1]
        log_light = np.log10(np.maximum(self.sample.measured[..., 1], 0.01))
        usable = (self.sample.weight > 0.5) & (density < 1.2)
        if usable.sum() > 50 and float(np.ptp(density[usable])) > 0.2:
            slope, level = np.polyfit(density[usable], log_light[usable], 1)
            start[0] = float(np.log(np.clip(-slope, 0.3, 1.2)))
            start[4] = float(np.clip(level * np.log(10.0), -0.6, 0.6))
        return start

    def bounded(self, parameters: Vector) -> Vector:
        """Keep veil, blurs and fractions within what can be."""
        bounded = parameters.copy()
        bounded[BLUR] = np.clip(bounded[BLUR], 0.05, MOST_BLUR_PX2)
        bounded[BLEED] = np.clip(bounded[BLEED], 0.0, MOST_BLEED_MM2)
        bounded[VEIL.start] = np.clip(bounded[VEIL.start], LEAST_VEIL, MOST_VEIL)
        bounded[0] = np.clip(bounded[0], -2.0, 0.6)
        return bounded

    def pressed(self, parameters: Vector) -> tuple[Image, list[Image]]:
        """Return the pressed artwork, and its change with fraction, cyan, yellow, yellowing and bleed."""
        fractions = np.exp(parameters[0] + np.array([parameters[1], 0.0, parameters[2]])).astype(np.float32)
        variance_px2 = float(parameters[BLEED]) * self.fine_per_mm**2
        unmixed = float(np.exp(-variance_px2 / SUBPIXEL_VARIANCE))
        spread = self.sample.ink.mixed - unmixed * self.unmixing
        if variance_px2 > LEAST_BLEED_PX2:
            spread = cv2.GaussianBlur(spread, (0, 0), float(np.sqrt(variance_px2)))
        arrived = spread * fractions
        absorption = scorched_absorption(float(parameters[YELLOWING]))
        density = arrived @ absorption.T
        density += np.float32(parameters[YELLOWING]) * COATING_YELLOWING
        light = np.exp(density * np.float32(-np.log(10.0)))
        darker = light * np.float32(-np.log(10.0))
        cyan, magenta, yellow = (
            darker * (arrived[..., dye, np.newaxis] * absorption[:, dye]) for dye in range(3)
        )
        mixing = self.unmixing * fractions * np.float32(unmixed / SUBPIXEL_VARIANCE)
        spreading = (cv2.Laplacian(arrived, cv2.CV_32F) * np.float32(0.5) + mixing) * self.fine_per_mm**2
        changes = [
            cyan + magenta + yellow,
            cyan,
            yellow,
            darker * (COATING_YELLOWING + arrived.sum(axis=2, keepdims=True) * INK_YELLOWING),
            darker * (spreading @ absorption.T),
        ]
        return self._seen(light, parameters), [self._seen(change, parameters) for change in changes]

    def _seen(self, fine: Image, parameters: Vector) -> Image:
        """Average to the sample's size and blur as the photo is blurred."""
        small = cv2.resize(fine, self.terms.shape[1::-1], interpolation=cv2.INTER_AREA)
        return np.asarray(cv2.GaussianBlur(small, (0, 0), float(np.sqrt(parameters[BLUR]))), np.float32)

    def model(self, parameters: Vector) -> tuple[Image, NDArray[np.float32]]:
        """Return predicted light (h, w, 3) and its change with every parameter, (h, w, 3, 17)."""
        pressed, changes = self.pressed(parameters)
        bands = np.array([parameters[BAND_GAIN][0], 0.0, parameters[BAND_GAIN][1]])
        gain = np.exp((self.terms @ parameters[GAIN])[..., np.newaxis] + bands).astype(np.float32)
        lit = gain * pressed
        predicted = lit + (self.terms[..., :3] @ parameters[VEIL].astype(np.float32))[..., np.newaxis]
        jacobian = np.zeros((*pressed.shape, len(parameters)), np.float32)
        for place, change in zip((0, 1, 2, YELLOWING, BLEED), changes, strict=True):
            jacobian[..., place] = gain * change
        jacobian[..., GAIN] = lit[..., np.newaxis] * self.terms[..., np.newaxis, :]
        jacobian[..., 0, 10], jacobian[..., 2, 11] = lit[..., 0], lit[..., 2]
        jacobian[..., VEIL] = self.terms[..., np.newaxis, :3]
        jacobian[..., BLUR] = gain * cv2.Laplacian(pressed, cv2.CV_32F) * 0.5
        return np.asarray(predicted, np.float32), jacobian

    def equations(self, parameters: Vector) -> tuple[float, Vector, Vector]:
        """Return robust cost, normal matrix (17, 17) and right-hand side (17,)."""
        predicted, jacobian = self.model(parameters)
        light = np.maximum(predicted, LEAST_LIGHT)
        root = np.cbrt(light)
        residual = (root - self.root) / self.prior.noise
        weight = self._robust(residual) * self.sample.weight[..., np.newaxis] * self.share
        jacobian /= (3.0 * self.prior.noise * root * root)[..., np.newaxis]
        flat = jacobian.reshape(-1, jacobian.shape[-1])
        weighted = flat * weight.reshape(-1, 1)
        departure = parameters - self.mean
        spread = np.where(departure > 0.0, self.above, self.below)
        pull = departure / spread**2
        normal = (weighted.T @ flat).astype(np.float64) + np.diag(spread**-2.0)
        right = -(weighted.T @ residual.ravel()).astype(np.float64) - pull
        tail = self.prior.tail
        misfit = tail**2 * np.log1p((residual / tail) ** 2) * self.sample.weight[..., np.newaxis]
        cost = float(misfit.sum()) * self.share + float(((departure / spread) ** 2).sum())
        return cost, normal, right

    def _robust(self, residual: Image) -> Image:
        """Cauchy weight of each residual, 0..1."""
        return np.asarray(1.0 / (1.0 + (residual / self.prior.tail) ** 2), np.float32)

    def explained(self, parameters: Vector, covariance: Vector) -> PressingFit:
        """Bundle the result."""
        predicted, _ = self.model(parameters)
        residual = np.cbrt(np.maximum(predicted, LEAST_LIGHT)) - self.root
        agreement = self._robust(np.abs(residual).max(axis=2) / self.prior.noise)
        good = (agreement > 0.5) & (self.sample.weight > 0.5)
        spread = float(np.sqrt((residual[good] ** 2).mean())) if good.any() else float("inf")
        return PressingFit(parameters, covariance, predicted, agreement, spread)
