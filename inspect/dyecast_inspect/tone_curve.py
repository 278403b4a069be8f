"""The phone's tone curve, as what undoes it: a smooth monotone curve per channel with few parameters.

A phone bends the light before it encodes it: it lifts the middle tones, rolls highlights off and presses
shadows down. Here the inverse is described by its *local gamma*, the slope d log(scene light) / d log(photo
light), which is 1 for an honest photo. It is a piecewise linear function of log(photo light) with a few
knots, so the curve itself is a piecewise quadratic in log-log coordinates, smooth to the first derivative,
and it rises everywhere as long as the local gamma is positive at every knot. Below the lowest and above the
highest knot the gamma stays constant, so nothing explodes outside the range of the card.

The parameterisation is our own; power laws as tone curves are common practice.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

KNOTS = np.log(np.array([0.006, 0.05, 0.18, 0.42, 0.85]))
"""log of the linear light at the knots: about equal steps of lightness (L* 5, 27, 50, 71, 94), as the
neutrals of a card have."""

KNOT_COUNT = len(KNOTS)

LEAST_LIGHT = 1e-4
"""Linear light below which log is not followed further: a third of the first 8-bit sRGB step."""

GAMMA_STEP = 1.02
"""Factor up and down over which a local gamma is taken."""

TABLE_SIZE, TABLE_NODES = 32768, 1024
"""Entries of the table over the square root of light, and the nodes between which it is linear."""

LEAST_GAMMA = 0.15
"""Local gamma is held at or above this, so that the curve rises everywhere."""


@dataclass(frozen=True, slots=True, eq=False)
class ToneCurve:
    """The inverse tone curve of each channel.

    Attributes
    ----------
    gamma_deviation
        (3, 5) float64: local gamma minus 1 at each knot, for R, G, B.
    white
        (3,) float64: linear light of the photo that becomes 1.
    black
        (3,) float64: scene light, relative to white, that the camera adds everywhere (flare); subtracted.
    """

    gamma_deviation: Array
    white: Array
    black: Array

    def scene_light(self, linear: Array) -> Array:
        """Undo the curve: (..., 3) linear light of the photo to scene light, 1 = white, 0 = no light."""
        exponent = np.einsum("...ck,ck->...c", tone_basis(linear, self.white), self.gamma_deviation)
        return np.asarray(linear / self.white * np.exp(exponent) - self.black)

    def table(self) -> NDArray[np.float32]:
        """Scene light, (3, 32768) float32, over equal steps of the square root of linear light, 0..1."""
        nodes = np.linspace(0.0, 1.0, TABLE_NODES + 1)
        scene = self.scene_light(np.repeat((nodes * nodes)[:, None], 3, axis=1)).T.astype(np.float32)
        steps = TABLE_SIZE // TABLE_NODES
        share = (np.arange(steps) / steps).astype(np.float32)
        between = scene[:, :-1, None] + np.diff(scene, axis=1)[..., None] * share
        return between.reshape(3, TABLE_SIZE)


def gamma_slopes(linear: Array) -> Array:
    """Return (3, 5): what one unit of each knot's deviation adds to the local gamma at (3,) linear light."""
    return np.asarray(
        (_integrated_hats(np.log(linear * GAMMA_STEP)) - _integrated_hats(np.log(linear / GAMMA_STEP)))
        / (2.0 * np.log(GAMMA_STEP))
    )


def tone_basis(linear: Array, white: Array) -> Array:
    """Return what one unit of each knot's gamma deviation adds to log(scene light): (..., 3) -> (..., 3, 5).

    It is zero at `white`, (3,), so the curve turns about white and does not change the exposure.
    """
    light = np.log(np.maximum(linear, LEAST_LIGHT))
    return _integrated_hats(light) - _integrated_hats(np.log(white))


def _integrated_hats(light: Array) -> Array:
    """Integrals of the hat functions over the knots, constant hats beyond the ends; (...) -> (..., 5)."""
    widths = np.diff(KNOTS)
    share = np.minimum(np.maximum((light[..., None] - KNOTS[:-1]) / widths, 0.0), 1.0)
    rising = 0.5 * widths * share * share
    total = np.zeros((*light.shape, KNOT_COUNT))
    total[..., 1:] = rising
    total[..., :-1] += widths * share - rising
    total[..., 0] += np.minimum(light - KNOTS[0], 0.0)
    total[..., -1] += np.maximum(light - KNOTS[-1], 0.0)
    return total


TONE_SPREAD = 0.4
"""Prior standard deviation of the local gamma about 1, shared by the channels: phones reach 0.6..1.7."""

TONE_SMOOTHNESS = 0.2
"""Prior standard deviation of the change of local gamma from one knot to the next."""

CHANNEL_SPREAD = 0.07
"""Prior standard deviation of one channel's local gamma about the shared one: phones bend R, G, B alike."""

BLACK_SPREAD = 0.01
"""Prior standard deviation of the flare, relative to white; veiling glare of phone lenses is about 1 %
(common practice, no published source)."""

BLACK_CHANNEL_SPREAD = 0.003
"""Prior standard deviation of one channel's flare about the shared one."""


def tone_prior_covariance() -> Array:
    """Return the (15, 15) prior covariance of the gamma deviations, ordered by channel, then knot."""
    shared = _smooth_covariance(TONE_SPREAD, TONE_SMOOTHNESS)
    single = _smooth_covariance(CHANNEL_SPREAD, CHANNEL_SPREAD)
    return np.asarray(np.kron(np.ones((3, 3)), shared) + np.kron(np.eye(3), single))


def black_prior_covariance() -> Array:
    """Return the (3, 3) prior covariance of the flare of R, G, B."""
    return np.asarray(BLACK_SPREAD**2 * np.ones((3, 3)) + BLACK_CHANNEL_SPREAD**2 * np.eye(3))


def _smooth_covariance(spread: float, step: float) -> Array:
    """First-order autoregressive covariance over the knots with this spread and change per knot."""
    correlation = 1.0 - min(step**2 / (2.0 * spread**2), 0.95)
    distance = np.abs(np.arange(KNOT_COUNT)[:, None] - np.arange(KNOT_COUNT)[None])
    return np.asarray(spread**2 * correlation**distance)
