"""Explain a measured piece: how much dye arrived, how yellow it went, and what light and glass added.

What the card cannot tell is fitted together with the pressing, by robust least squares with priors:

    measured = light at the piece x blur(pressed artwork) + veil

- the light at the piece differs from the light on the card by a smooth gain (constant, slopes, curvature);
- the colour of that light and of the piece's dyes leaves a small gain between the three bands;
- clear glass mirrors the room: a smooth veil, added in linear light, while pressing scales density;
- dye gas spreads in the coating: a blur of the densities, which also darkens fine patterns;
- the photo is less sharp than the artwork: a blur of the light.

Both blurs are Gaussian, their derivative by the variance is half the Laplacian (the heat equation).

Residuals are cube roots of light, so that they weigh about as lightness does, except in the darkest tones,
whose light the card does not tell so finely. Everything is stated as a Gaussian prior in `PressingPrior`; the
covariance of the fit is the uncertainty of every figure.
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
from dyecast_shared.single_precision import cube_root, exponential, logarithm, times_matrix

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

LN_10: Final = float(np.log(10.0))

LEAST_LIGHT: Final = 1e-4
"""Light below which the cube root is not taken: it is noise."""

DARK_LIGHT: Final = 0.02
"""Light added before the cube root is taken. Near black a residual as large as the noise then stands for half
a per cent of white, which is what flare (about 1 %, see `tone_curve`) leaves uncertain after it is taken off.
A plain cube root takes a thirtieth of that for as much, and a dark picture is explained by its blacks
alone. On made pieces 0.01 to 0.03 did alike."""

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
        (h, w) float32, 0 where there is glare, clipping or no print, 1 where all is well, between where the
        artwork asks for a colour that no print shows.
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
    The covariance is that of the step before the last, which hardly moved.
    """
    problem = _Problem(sample, prior)
    state = problem.at(problem.start() if start is None else start)
    normal, right = problem.equations(state)
    damping = 1e-3
    for _ in range(STEPS):
        change = np.linalg.solve(normal + damping * np.diag(np.diag(normal)), right)
        trial = problem.at(problem.bounded(state.parameters + change))
        moved = np.abs((trial.parameters - state.parameters) / problem.below).max()
        better = trial.cost <= state.cost
        state = trial if better else state
        if moved < converged:
            break
        if better:
            normal, right = problem.equations(state)
        damping = max(damping * 0.2, 1e-6) if better else damping * 10.0
    return problem.explained(state, np.asarray(np.linalg.inv(normal), np.float64))


@dataclass(frozen=True, slots=True, eq=False)
class _State:
    """What the model makes of one set of parameters.

    Attributes
    ----------
    fractions
        (3,) float32 transferred fraction of each dye.
    unmixed
        How far lines finer than a pixel are still lines, 0..1.
    spread, fine_light
        (2h, 2w, 3) dye at its place after bleeding, before the fractions; the light that comes back from it.
    pressed, lit, gain
        (h, w, 3) that light as sharp as the photo; the same under the piece's light; the piece's light.
    predicted, root, residual
        (h, w, 3) light with veil; its cube root as `_root` takes it; that less the measured one, in multiples
        of the noise.
    cost
        Robust sum of squares with the prior's.
    """

    parameters: Vector
    fractions: Image
    unmixed: float
    spread: Image
    fine_light: Image
    pressed: Image
    lit: Image
    gain: Image
    predicted: Image
    root: Image
    residual: Image
    cost: float


def _root(light: Image) -> Image:
    """Return the cube root of light, gentler near black."""
    return cube_root(np.maximum(light + np.float32(DARK_LIGHT), np.float32(LEAST_LIGHT)))


class _Problem:
    """The least-squares problem of one piece: model, residuals and normal equations."""

    def __init__(self, sample: PieceSample, prior: PressingPrior) -> None:
        height, width = sample.measured.shape[:2]
        self.sample, self.prior = sample, prior
        self.size = (width, height)
        self.terms = np.ascontiguousarray(np.moveaxis(field_terms(height, width), -1, 0), np.float32)
        self.root = _root(sample.measured)
        self.mean, self.below, self.above = prior.vectors(glass=sample.glass)
        self.fine_per_mm = np.float32(TIMES_FINER * sample.pixels_per_mm)
        self.unmixing = sample.ink.mixed - sample.ink.amounts
        used = max(float(sample.weight.sum()) * 3.0, 1.0)
        self.share = prior.independent / used
        self.say = np.repeat(sample.weight[..., np.newaxis] * np.float32(self.share), 3, axis=2)

    def start(self) -> Vector:
        """Begin at the prior's middle, with fraction and gain from a straight line through log light."""
        start = self.mean.copy()
        amounts = cv2.resize(self.sample.ink.amounts, self.size, interpolation=cv2.INTER_AREA)
        density = times_matrix(DYE_ABSORPTION, np.asarray(amounts, np.float32))[..., 1]
        log_light = np.log10(np.maximum(self.sample.measured[..., 1], 0.01))
        usable = (self.sample.weight > 0.5) & (density < 1.2)
        if usable.sum() > 50 and float(np.ptp(density[usable])) > 0.2:
            slope, level = np.polyfit(density[usable], log_light[usable], 1)
            start[0] = float(np.log(np.clip(-slope, 0.3, 1.2)))
            start[4] = float(np.clip(level * LN_10, -0.6, 0.6))
        return start

    def bounded(self, parameters: Vector) -> Vector:
        """Keep veil, blurs and fractions within what can be."""
        bounded = parameters.copy()
        bounded[BLUR] = np.clip(bounded[BLUR], 0.05, MOST_BLUR_PX2)
        bounded[BLEED] = np.clip(bounded[BLEED], 0.0, MOST_BLEED_MM2)
        bounded[VEIL.start] = np.clip(bounded[VEIL.start], LEAST_VEIL, MOST_VEIL)
        bounded[0] = np.clip(bounded[0], -2.0, 0.6)
        return bounded

    def at(self, parameters: Vector) -> _State:
        """Predict the light of one set of parameters, and tell how far it is from the measured."""
        fractions = np.exp(parameters[0] + np.array([parameters[1], 0.0, parameters[2]])).astype(np.float32)
        variance_px2 = float(parameters[BLEED] * self.fine_per_mm**2)
        unmixed = float(np.exp(-variance_px2 / SUBPIXEL_VARIANCE))
        spread = self.sample.ink.mixed - np.float32(unmixed) * self.unmixing
        if variance_px2 > LEAST_BLEED_PX2:
            spread = np.asarray(cv2.GaussianBlur(spread, (0, 0), float(np.sqrt(variance_px2))), np.float32)
        yellowing = float(parameters[YELLOWING])
        absorption = np.column_stack(
            [scorched_absorption(yellowing) * fractions, yellowing * COATING_YELLOWING]
        )
        fine_light = exponential(times_matrix(-LN_10 * absorption, spread))
        pressed, gain = self._seen(fine_light, parameters), self._gain(parameters)
        lit = gain * pressed
        veil = np.tensordot(parameters[VEIL].astype(np.float32), self.terms[:3], axes=1)
        predicted = lit + veil[..., np.newaxis]
        root = _root(predicted)
        residual = (root - self.root) * np.float32(1.0 / self.prior.noise)
        return _State(
            parameters, fractions, unmixed, spread, fine_light, pressed, lit, gain, predicted, root, residual,
            self._cost(parameters, residual),
        )  # fmt: skip

    def _gain(self, parameters: Vector) -> Image:
        """Light at the piece over the light the card foretold, (h, w, 3)."""
        long_band, short_band = parameters[BAND_GAIN]
        across = np.tensordot(parameters[GAIN].astype(np.float32), self.terms, axes=1)
        return exponential(across[..., np.newaxis] + np.array([long_band, 0.0, short_band], np.float32))

    def _seen(self, fine: Image, parameters: Vector) -> Image:
        """Average to the sample's size and blur as the photo is blurred."""
        small = cv2.resize(fine, self.size, interpolation=cv2.INTER_AREA)
        return np.asarray(cv2.GaussianBlur(small, (0, 0), float(np.sqrt(parameters[BLUR]))), np.float32)

    def _cost(self, parameters: Vector, residual: Image) -> float:
        """Robust sum of squares and the prior's."""
        tail = np.float32(self.prior.tail)
        misfit = logarithm(1.0 + (residual / tail) ** 2)
        departure = parameters - self.mean
        spread = np.where(departure > 0.0, self.above, self.below)
        return float(tail**2 * np.vdot(misfit, self.say)) + float(((departure / spread) ** 2).sum())

    def _by_press(self, state: _State) -> list[Image]:
        """Change of the light at the sample's size with fraction, cyan, yellow, yellowing and bleed."""
        scorched = scorched_absorption(float(state.parameters[YELLOWING]))
        absorption = -LN_10 * scorched * state.fractions
        yellowing = np.column_stack([np.outer(INK_YELLOWING, state.fractions), COATING_YELLOWING])
        mixing = self.unmixing * np.float32(state.unmixed / SUBPIXEL_VARIANCE)
        spreading = cv2.Laplacian(state.spread, cv2.CV_32F) * np.float32(0.5) + mixing
        changes = [
            times_matrix(absorption, state.spread),
            times_matrix(absorption * [1.0, 0.0, 0.0], state.spread),
            times_matrix(absorption * [0.0, 0.0, 1.0], state.spread),
            times_matrix(-LN_10 * yellowing, state.spread),
            times_matrix(absorption * float(self.fine_per_mm) ** 2, spreading),
        ]
        return [self._seen(state.fine_light * change, state.parameters) for change in changes]

    def slopes(self, state: _State) -> Image:
        """Change of the predicted light with every parameter, (17, h, w, 3)."""
        slopes = np.zeros((len(state.parameters), *state.lit.shape), np.float32)
        for place, change in zip((0, 1, 2, YELLOWING, BLEED), self._by_press(state), strict=True):
            np.multiply(state.gain, change, out=slopes[place])
        np.multiply(state.lit, self.terms[..., np.newaxis], out=slopes[GAIN])
        slopes[10, ..., 0], slopes[11, ..., 2] = state.lit[..., 0], state.lit[..., 2]
        slopes[VEIL] = self.terms[:3, ..., np.newaxis]
        slopes[BLUR] = cv2.Laplacian(state.pressed, cv2.CV_32F) * (np.float32(0.5) * state.gain)
        return slopes

    def equations(self, state: _State) -> tuple[Vector, Vector]:
        """Return normal matrix (17, 17) and right-hand side (17,)."""
        weight = np.sqrt(self._robust(state.residual) * self.say)
        slopes = self.slopes(state)
        slopes *= weight / (np.float32(3.0 * self.prior.noise) * state.root * state.root)
        flat = slopes.reshape(len(slopes), -1)
        departure = state.parameters - self.mean
        precision = np.where(departure > 0.0, self.above, self.below) ** -2.0
        normal = (flat @ flat.T).astype(np.float64) + np.diag(precision)
        right = -(flat @ (weight * state.residual).ravel()).astype(np.float64) - departure * precision
        return normal, right

    def _robust(self, residual: Image) -> Image:
        """Cauchy weight of each residual, 0..1."""
        return np.asarray(1.0 / (1.0 + (residual / np.float32(self.prior.tail)) ** 2), np.float32)

    def explained(self, state: _State, covariance: Vector) -> PressingFit:
        """Bundle the result."""
        agreement = self._robust(np.abs(state.residual).max(axis=2))
        good = (agreement > 0.5) & (self.sample.weight > 0.5)
        residual = state.residual[good] * np.float32(self.prior.noise)
        spread = float(np.sqrt((residual**2).mean())) if good.any() else float("inf")
        return PressingFit(state.parameters, covariance, state.predicted, agreement, spread)
