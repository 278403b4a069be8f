"""What is left when the truth itself is used: how far any correction could get on the same photos.

Both floors see the truth, so neither is a rival; they say how much of an error comes from the light on the
piece (uneven light, mirrored light) and how much from dyes that look alike under one lamp only.
"""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from benchmark.handed_photo import HandedPhoto
from benchmark.piece_error import INSIDE_LIMIT, coverage, linear_light, local_average
from benchmark.rivals import as_float32

FIT_EVERY_PX = 9
"""Grid step of the pixels a floor is fitted on; the averages have a sigma of 6.6 to 10.8 pixels."""

DARKEST_WEIGHTED = 0.02
"""Linear light below which a residual weighs no more: about L* 16, where Lab stops being a cube root."""

ROBUST_STEPS = 8
"""Reweighted least-squares steps; the fit stands still to the second digit of the score after six."""

SMALL_RESIDUAL = 0.01
"""Residual, in cube roots of light, from which a pixel loses its say: about 1.2 of L*. The score is a median,
so the fit should follow the many pixels it can meet and let mirrored lamps go."""


def gain_and_veil(corrected: NDArray[np.float32], reference: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Fit one gain and one veil per channel to the truth, on a picture corrected by the card."""
    start, truth = fitting_pixels(corrected, reference)
    fitted = np.empty_like(corrected)
    for channel in range(3):
        seen, true = start[:, [channel]], truth[:, [channel]]
        terms = np.hstack([seen, np.ones_like(seen)])
        gain, veil = robust_fit(terms, true, seen)[:, 0]
        fitted[..., channel] = gain * corrected[..., channel] + veil
    return as_float32(fitted)


def best_global(
    handed: HandedPhoto, corrected: NDArray[np.float32], reference: NDArray[np.uint8]
) -> NDArray[np.float32]:
    """Fit the best root-polynomial of degree 2 with a veil to the truth of this very photo.

    `corrected`, the picture corrected by the card, is where the fit starts.
    """
    averaged, truth = fitting_pixels(handed.piece, reference)
    start, _ = fitting_pixels(corrected, reference)
    matrix = robust_fit(root_terms(averaged), truth, start)
    light = root_terms(handed.piece.reshape(-1, 3).astype(np.float64)) @ matrix
    return as_float32(light.reshape(handed.piece.shape))


def root_terms(light: NDArray[np.floating[Any]]) -> NDArray[np.float64]:
    """Root-polynomial terms of degree 2 (Finlayson, Mackiewicz, Hurlbert 2015) and a constant, (N, 7)."""
    red, green, blue = np.moveaxis(np.asarray(light, dtype=np.float64), -1, 0)
    roots = [np.sqrt(red * green), np.sqrt(green * blue), np.sqrt(red * blue)]
    return np.stack([red, green, blue, *roots, np.ones_like(red)], axis=-1)


def fitting_pixels(
    light: NDArray[np.float32], reference: NDArray[np.uint8]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Local averages of the photo's and of the true light inside the outline, both (N, 3)."""
    every = np.s_[::FIT_EVERY_PX, ::FIT_EVERY_PX]
    outline = coverage(reference)
    inside = outline[every] >= INSIDE_LIMIT
    seen = local_average(light, outline)[every][inside]
    true = local_average(linear_light(reference[..., :3]), outline)[every][inside]
    return seen.astype(np.float64), true.astype(np.float64)


def robust_fit(
    terms: NDArray[np.float64], truth: NDArray[np.float64], start: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Solve terms @ matrix = truth, (N, K) and (N, C), robustly in cube roots of light.

    `start` is a first guess of the left side; the weights are Cauchy's (iteratively reweighted least squares,
    common practice).
    """
    slope = np.cbrt(np.maximum(truth, DARKEST_WEIGHTED)) ** -2 / 3
    matrix, guess = np.empty((terms.shape[1], truth.shape[1])), start
    for _ in range(ROBUST_STEPS):
        residual = np.linalg.norm((guess - truth) * slope, axis=1)
        say = 1 / np.hypot(1, residual / SMALL_RESIDUAL)
        for channel in range(truth.shape[1]):
            weight = (slope[:, channel] * say)[:, None]
            matrix[:, [channel]] = np.linalg.lstsq(terms * weight, truth[:, [channel]] * weight, rcond=None)[
                0
            ]
        guess = terms @ matrix
    return matrix
