"""How the light falls off across the table, as seen by the camera.

The logarithm of the light in each channel is a low-order function of the place: a plane and a weak quadratic
in millimetres on the table (lamps and windows beside the card) and a term in the squared distance from the
middle of the photo (the lens darkens corners). All are damped by priors, the channels share most of it, and
outside the card the quadratic goes on as a straight line. The posterior covariance of the coefficients says
how uncertain the light beside the card is.
"""

from dataclasses import dataclass

import numpy as np
from dyecast_shared.photo import FloatArray
from numpy.typing import NDArray

from dyecast_inspect.patch_samples import move_points

Array = NDArray[np.float64]

TERM_COUNT = 6
"""Terms of the field: x, y, x², xy, y² on the table, and the squared distance from the photo's middle."""

LENGTH_MM = 100.0
"""Unit of length of the coefficients, mm."""

PLANE_SPREAD, PLANE_CHANNEL_SPREAD = 0.6, 0.15
"""Prior standard deviation of the slope, log units per 100 mm, shared and of one channel: a lamp 300 mm above
and beside the card gives about 0.5; two lamps of different colour differ by a quarter of that."""

QUADRATIC_SPREAD, QUADRATIC_CHANNEL_SPREAD = 0.08, 0.02
"""Prior standard deviation of the curvature, log units per (100 mm)²: the same lamp gives about 0.1."""

LENS_MEAN, LENS_SPREAD, LENS_CHANNEL_SPREAD = -0.1, 0.1, 0.01
"""Prior of the lens's fall-off from middle to corner, log units: phones correct most of the cos⁴ law."""

EXTRAPOLATION = 0.03
"""Relative uncertainty of the gain added per 100 mm outside the card, as no low order is the truth there;
from lamps 0.3..2 m away, second-order terms that the card cannot tell from noise."""


@dataclass(frozen=True, slots=True, eq=False)
class FieldGeometry:
    """Where the card lies in the photo, for evaluating the terms of the field.

    Attributes
    ----------
    photo_to_card
        (3, 3) homography from working pixels to card mm.
    card_size
        (2,) width and height, mm.
    photo_size
        (2,) width and height of the working photo, px.
    """

    photo_to_card: Array
    card_size: Array
    photo_size: Array

    def terms(self, positions_px: FloatArray) -> NDArray[np.float32] | Array:
        """Return the terms at positions (..., 2) x, y: (..., 6), all zero at the card's middle."""
        centre = move_points(np.linalg.inv(self.photo_to_card), self.card_size / 2.0)
        return self._raw_terms(positions_px) - self._raw_terms(centre)

    def _raw_terms(self, positions_px: FloatArray) -> Array:
        table = (move_points(self.photo_to_card, positions_px) - self.card_size / 2.0) / LENGTH_MM
        x, y = table[..., 0], table[..., 1]
        half = self.card_size / 2.0 / LENGTH_MM
        inner_x, inner_y = np.clip(x, -half[0], half[0]), np.clip(y, -half[1], half[1])
        lens = (positions_px - (self.photo_size - 1.0) / 2.0) / (np.linalg.norm(self.photo_size) / 2.0)
        return np.stack(
            [
                x,
                y,
                inner_x * (2.0 * x - inner_x),
                inner_x * inner_y,
                inner_y * (2.0 * y - inner_y),
                (lens * lens).sum(axis=-1),
            ],
            axis=-1,
        )

    def distance_outside_mm(self, positions_px: FloatArray) -> Array:
        """Distance of positions (..., 2) from the card, mm; 0 on it."""
        table = move_points(self.photo_to_card, positions_px)
        outside = np.maximum(np.maximum(-table, table - self.card_size), 0.0)
        return np.asarray(np.hypot(outside[..., 0], outside[..., 1]))


@dataclass(frozen=True, slots=True, eq=False)
class Illumination:
    """The light on the table relative to the light at the card's middle.

    Attributes
    ----------
    geometry
        Where the card lies.
    coefficients
        (3, 6) float64 for R, G, B.
    covariance
        (3, 6, 6) float64: posterior covariance of each channel's coefficients.
    """

    geometry: FieldGeometry
    coefficients: Array
    covariance: Array

    def gain(self, positions_px: FloatArray) -> NDArray[np.float32]:
        """Light at positions (..., 2) px over the light at the card's middle: (..., 3) for R, G, B, > 0."""
        terms = self.geometry.terms(positions_px)
        return np.asarray(np.exp((terms @ self.coefficients.T).astype(np.float32)))

    def gain_uncertainty(self, positions_px: FloatArray) -> Array:
        """Relative standard uncertainty of the gain at positions (..., 2) px: (...), mean of the channels."""
        terms = self.geometry.terms(positions_px)
        fitted = np.einsum("...i,cij,...j->...", terms, self.covariance, terms) / 3.0
        beyond = EXTRAPOLATION * self.geometry.distance_outside_mm(positions_px) / LENGTH_MM
        return np.asarray(np.sqrt(np.maximum(fitted, 0.0) + beyond**2))


def field_prior() -> tuple[Array, Array]:
    """Return prior mean (18,) and covariance (18, 18) of the coefficients, ordered by channel, then term."""
    shared = np.array([PLANE_SPREAD] * 2 + [QUADRATIC_SPREAD] * 3 + [LENS_SPREAD])
    single = np.array([PLANE_CHANNEL_SPREAD] * 2 + [QUADRATIC_CHANNEL_SPREAD] * 3 + [LENS_CHANNEL_SPREAD])
    covariance = np.kron(np.ones((3, 3)), np.diag(shared**2)) + np.kron(np.eye(3), np.diag(single**2))
    mean = np.tile(np.array([0.0] * 5 + [LENS_MEAN]), 3)
    return mean, np.asarray(covariance)
