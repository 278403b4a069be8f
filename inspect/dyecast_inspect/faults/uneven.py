"""A side or corner of the piece paler than the rest, for lack of pressure or heat.

Light multiplies light, a mirrored room adds light, lack of pressure scales density: dark and light tones tell
them apart. For every side and corner the fitted explanation is given three more unknowns of that shape, ink
that lacks, light that changed and light that was added, and is fitted again around its solution by robust
least squares. Only what neither light nor veil explains is left for the ink.
"""

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.pressing_model import DYE_ABSORPTION, YELLOWING_ABSORPTION
from dyecast_calibration.pressing_prior import PressingPrior
from dyecast_inspect.explain_faults import uneven_sentence
from dyecast_inspect.explain_surface import LEAST_USABLE, ExplainedPiece
from dyecast_inspect.faults.likelihood import share_beyond
from dyecast_inspect.faults.pale_places import CLEARLY_PALE, PalePlace, pale_places
from dyecast_inspect.fit_pressing import BLUR, LEAST_LIGHT, VEIL, YELLOWING, PressingFit, field_terms
from dyecast_inspect.inspection import Fault, FaultSize
from dyecast_inspect.measure_piece import MeasuredPiece

STRIDE: Final = 2
"""Every second pixel of the fit, along each side, is enough for shapes a quarter of the piece wide."""

LIKELY: Final = 4
"""Places fitted in full: those that explain most at first sight."""

ROUNDS: Final = 2
"""Rounds of robust weighting."""

LEAST_GAIN: Final = 6.6
"""Drop of the robust misfit from which a pale place is believed: 2.6 standard deviations of one unknown, or
99.5 % on one side (Wilks 1938: the likelihood ratio is distributed as chi-squared). The prior's number of
independent measurements is cautious: rendered pieces without fault in even light stay below 4."""

LEAST_LACK: Final = 0.2
"""Share of the ink that must lack at the edge: less is within what pressing varies and eyes let pass."""

LEAST_EXPLAINED: Final = 0.45
"""Share of the squared departures inside the place that the place must explain: the sharp edge of a mirrored
window leaves more behind than it lets explain."""

CUT: Final = 5.0
"""Departures beyond this many times the prior's noise count as this much in that share."""

LOCAL_LIGHT: Final = 0.05
"""Log of a local change of light, prior standard deviation: a soft shadow, the lens."""

LOCAL_VEIL: Final = 0.03
"""Local change of mirrored light, share of white, prior standard deviation."""

LACK, BASE = 15, 15
"""Place of the lack among the unknowns, and how many of the fit's own stand before it."""


@dataclass(frozen=True, slots=True, eq=False)
class PaleFinding:
    """A pale place: its fault, and where (h, w of the fit, bool) the pressing should not be judged."""

    fault: Fault
    place: NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class _Seen:
    """The fit's residual and slopes, in units of the prior's noise; pixels by bands run along the rows.

    `slopes` (n, 15) of the fit's own unknowns; `ink`, `lit`, `added` (n,) of local ink, light and veil.
    """

    residual: NDArray[np.float64]
    slopes: NDArray[np.float64]
    ink: NDArray[np.float64]
    lit: NDArray[np.float64]
    added: NDArray[np.float64]
    weight: NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class _Trial:
    """One place tried.

    Robust misfit, share of ink that lacks at its edge with the deviation of its logarithm, and which share of
    the squared departures inside it is explained.
    """

    misfit: float
    lack: float
    deviation: float
    explained: float


def find_uneven(piece: MeasuredPiece, explained: ExplainedPiece, prior: PressingPrior) -> PaleFinding | None:
    """Return the palest side or corner that light cannot explain, or None."""
    fit = explained.fit
    height, width = fit.agreement.shape
    seen = _seen(piece, explained, prior)
    if seen.weight.sum() < 10 * BASE:
        return None
    mean, below, above = prior.vectors(glass=True)
    departure = (fit.parameters - mean)[:BASE]
    spread = np.where(departure > 0.0, above[:BASE], below[:BASE])
    without = _misfit(seen.residual, seen.weight, prior) + float(((departure / spread) ** 2).sum())
    places = pale_places(height, width)
    likely = _likeliest(seen, places, departure, spread, prior)
    tried = [(_tried(seen, place, departure, spread, prior), place) for place in likely]
    trial, place = min(tried, key=lambda one: one[0].misfit)
    gain = without - trial.misfit
    if gain < LEAST_GAIN or trial.lack < LEAST_LACK or trial.explained < LEAST_EXPLAINED:
        return None
    return _finding(place, trial.lack, trial.deviation, gain)


def _finding(place: PalePlace, lack: float, deviation: float, gain: float) -> PaleFinding:
    """Bundle a pale place."""
    confidence = share_beyond(float(np.sqrt(gain)), float(np.sqrt(LEAST_GAIN)), 1.0)
    sizes = (
        FaultSize("lack at the edge", 100.0 * lack, "%"),
        FaultSize("uncertainty", 100.0 * deviation, "%"),
    )
    sentence = uneven_sentence(place.name, lack)
    return PaleFinding(Fault("uneven", sentence, confidence, place.polygon, sizes), place.lack > CLEARLY_PALE)


def _seen(piece: MeasuredPiece, explained: ExplainedPiece, prior: PressingPrior) -> _Seen:
    """Return residual and slopes; a strong lack of ink looks like glare, so glare is not left out here."""
    fit = explained.fit
    height, width = fit.agreement.shape
    mask = (piece.usable & explained.outline).astype(np.float32)
    share = cv2.resize(mask, (width, height), interpolation=cv2.INTER_AREA)
    light = cv2.resize(piece.bands * mask[..., np.newaxis], (width, height), interpolation=cv2.INTER_AREA)
    light = (light / np.maximum(share, 1e-3)[..., np.newaxis])[::STRIDE, ::STRIDE]
    root = np.cbrt(np.maximum(fit.predicted[::STRIDE, ::STRIDE], LEAST_LIGHT))
    residual = (root - np.cbrt(np.maximum(light, LEAST_LIGHT))) / prior.noise
    slopes, lit = _slopes(fit)
    scale = 1.0 / (3.0 * prior.noise * root * root)
    weight = np.repeat((share[::STRIDE, ::STRIDE] > LEAST_USABLE).ravel(), 3)
    return _Seen(
        residual=residual.ravel().astype(np.float64),
        slopes=(slopes * scale[..., np.newaxis]).reshape(-1, BASE).astype(np.float64),
        ink=(slopes[..., 0] * scale).ravel().astype(np.float64),
        lit=(lit * scale).ravel().astype(np.float64),
        added=scale.ravel().astype(np.float64),
        weight=weight.astype(np.float64),
    )


def _slopes(fit: PressingFit) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Return the change of light with the fit's first 15 unknowns, (h, w, 3, 15), and the light without veil.

    Blurs are left out: they change nothing at the scale of a side.
    """
    height, width = fit.agreement.shape
    terms = field_terms(height, width)[::STRIDE, ::STRIDE]
    veil = fit.veil(height, width)[::STRIDE, ::STRIDE, np.newaxis]
    lit = np.maximum(fit.predicted[::STRIDE, ::STRIDE] - veil, LEAST_LIGHT)
    density = -np.log10(np.clip(lit / fit.gain(height, width)[::STRIDE, ::STRIDE], 1e-3, None))
    density -= fit.parameters[YELLOWING] * YELLOWING_ABSORPTION
    dyes = density @ np.linalg.inv(DYE_ABSORPTION).T
    darker = -np.log(10.0) * lit
    slopes = np.zeros((*lit.shape, BASE))
    slopes[..., 0] = darker * density
    slopes[..., 1] = darker * dyes[..., :1] * DYE_ABSORPTION[:, 0]
    slopes[..., 2] = darker * dyes[..., 2:] * DYE_ABSORPTION[:, 2]
    slopes[..., 3] = darker * YELLOWING_ABSORPTION
    slopes[..., 4:10] = lit[..., np.newaxis] * terms[..., np.newaxis, :]
    slopes[..., 0, 10], slopes[..., 2, 11] = lit[..., 0], lit[..., 2]
    slopes[..., VEIL] = terms[..., np.newaxis, : BLUR - VEIL.start]
    return slopes, lit


def _likeliest(
    seen: _Seen,
    places: list[PalePlace],
    departure: NDArray[np.float64],
    spread: NDArray[np.float64],
    prior: PressingPrior,
) -> list[PalePlace]:
    """Return the places whose lack of ink explains most in one common step, without local light and veil."""
    shapes = np.stack([np.repeat(place.lack[::STRIDE, ::STRIDE].ravel(), 3) for place in places], axis=1)
    slopes = np.concatenate([seen.slopes, seen.ink[:, np.newaxis] * shapes], axis=1)
    share = prior.independent / seen.weight.sum()
    weighted = slopes * (share * seen.weight / (1.0 + (seen.residual / prior.tail) ** 2))[:, np.newaxis]
    normal, right = weighted.T @ slopes, -(weighted.T @ seen.residual)
    base, cross = normal[:BASE, :BASE] + np.diag(spread**-2.0), normal[:BASE, BASE:]
    solved = np.linalg.solve(base, np.column_stack([right[:BASE] - departure / spread**2, cross]))
    left = right[BASE:] - cross.T @ solved[:, 0]
    stiffness = np.diag(normal)[BASE:] - (cross * solved[:, 1:]).sum(axis=0)
    gains = np.where(left < 0.0, left**2 / np.maximum(stiffness, 1e-9), 0.0)
    return [places[index] for index in np.argsort(-gains)[:LIKELY]]


def _tried(
    seen: _Seen,
    place: PalePlace,
    departure: NDArray[np.float64],
    spread: NDArray[np.float64],
    prior: PressingPrior,
) -> _Trial:
    """Fit with one pale place."""
    shape = np.repeat(place.lack[::STRIDE, ::STRIDE].ravel(), 3)
    local = np.stack([seen.ink * shape, seen.lit * shape, seen.added * shape], axis=1)
    slopes = np.concatenate([seen.slopes, local], axis=1)
    spreads = np.concatenate([spread, [10.0, LOCAL_LIGHT, LOCAL_VEIL]])
    departures = np.concatenate([departure, np.zeros(3)])
    share = prior.independent / seen.weight.sum()
    left, normal, change = seen.residual, np.eye(len(spreads)), np.zeros(len(spreads))
    for _ in range(ROUNDS):
        weighted = slopes * (share * seen.weight / (1.0 + (left / prior.tail) ** 2))[:, np.newaxis]
        normal = weighted.T @ slopes + np.diag(spreads**-2.0)
        change = np.linalg.solve(normal, -(weighted.T @ seen.residual) - departures / spreads**2)
        left = seen.residual + slopes @ change
    misfit = _misfit(left, seen.weight, prior)
    misfit += float((((departures + change) / spreads) ** 2).sum())
    inside = (shape > CLEARLY_PALE) & (seen.weight > 0.0)
    before, after = (np.minimum(part[inside] ** 2, CUT**2).sum() for part in (seen.residual, left))
    return _Trial(
        misfit=misfit,
        lack=1.0 - float(np.exp(change[LACK])),
        deviation=float(np.sqrt(np.linalg.inv(normal)[LACK, LACK])),
        explained=1.0 - float(after / max(before, 1e-9)),
    )


def _misfit(residual: NDArray[np.float64], weight: NDArray[np.float64], prior: PressingPrior) -> float:
    """Return the robust misfit (Cauchy), counted as the prior's number of independent measurements."""
    losses = prior.tail**2 * np.log1p((residual / prior.tail) ** 2)
    return float((losses * weight).sum() * prior.independent / weight.sum())
