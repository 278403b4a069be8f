"""How the light falls off across the table, as seen by the camera.

The logarithm of the light in each channel is a low-order function of the place: a plane and a weak quadratic
in millimetres on the table (lamps and windows beside the card) and a term in the squared distance from the
middle of the photo (the lens darkens corners). All are damped by priors, the channels share most of it, and
outside the card the quadratic goes on as a straight line. The posterior covariance of the coefficients says
how uncertain the light beside the card is.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dyecast_inspect.patch_samples import move_points
from dyecast_shared.photo import FloatArray

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

MOST_LOG_GAIN = 20.0
"""Log of the light over that at the card's middle is never taken further from 0: no table is lit so, but a
place far outside of the photo, tried in a search, may be foretold to be, and would overflow."""

BEYOND_TERMS = 4
"""Further terms that are zero on the card: the distance beyond its left, right, top and bottom edge."""

BEYOND_SPREAD = 0.15
"""Prior standard deviation of those under even light, log units per 100 mm: what a plane and a weak quadratic
fitted on the card miss beside it."""

BEYOND_STEEPNESS = 0.5
"""The same as a share of the slope found on the card: near a lamp the light falls steeply, then flattens."""


@dataclass(frozen=True, slots=True, eq=False)
class FieldGeometry:
    """Where the card lies in the photo, for evaluating the terms of the field.

    Attributes
    ----------
    card_to_photo, photo_to_card
        (3, 3) homographies between card mm and working pixels.
    card_size
        (2,) width and height, mm.
    photo_size
        (2,) width and height of the working photo, px.
    """

    card_to_photo: Array
    photo_to_card: Array
    card_size: Array
    photo_size: Array

    def terms(self, positions_px: FloatArray) -> FloatArray:
        """Return the terms at positions (..., 2) x, y: (..., 10), all zero at the card's middle."""
        return np.moveaxis(self.term_planes(positions_px), 0, -1)

    def term_planes(self, positions_px: FloatArray) -> FloatArray:
        """Return the same as planes, (10, ...); float32 for float32 positions, otherwise float64."""
        positions = np.asarray(positions_px)
        planes = np.empty((TERM_COUNT + BEYOND_TERMS, *positions.shape[:-1]), dtype=positions.dtype)
        photo = np.ascontiguousarray(positions[..., 0]), np.ascontiguousarray(positions[..., 1])
        table = self._table_mm(*photo)
        inner = []
        for axis in range(2):
            half = float(self.card_size[axis]) / 2.0
            along = table[axis] / LENGTH_MM
            kept = np.minimum(np.maximum(along, -half / LENGTH_MM), half / LENGTH_MM)
            planes[axis] = along
            planes[2 + 2 * axis] = kept * (2.0 * along - kept)
            np.maximum(along - kept, 0.0, out=planes[6 + axis])
            np.maximum(kept - along, 0.0, out=planes[8 + axis])
            inner.append(kept)
        np.multiply(inner[0], inner[1], out=planes[3])
        planes[5] = self._lens_term(*photo)
        return planes

    def _table_mm(self, x: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Place on the table of photo pixels x, y, from the card's middle, mm."""
        middle = self.card_size / 2.0
        to_middle = np.array([[1.0, 0.0, -middle[0]], [0.0, 1.0, -middle[1]], [0.0, 0.0, 1.0]])
        rows = (to_middle @ self.photo_to_card).tolist()
        across, down, depth = (row[0] * x + row[1] * y + row[2] for row in rows)
        return across / depth, down / depth

    def _lens_term(self, x: FloatArray, y: FloatArray) -> FloatArray:
        """Squared distance from the photo's middle over its half diagonal, less that of the card's middle."""
        middle = ((self.photo_size - 1.0) / 2.0).tolist()
        unit = float(self.photo_size @ self.photo_size) / 4.0
        card = move_points(self.card_to_photo, self.card_size / 2.0) - middle
        from_middle = np.square(x - middle[0]) + np.square(y - middle[1])
        return np.asarray((from_middle - float(card @ card)) / unit)

    def distance_outside_mm(self, positions_px: FloatArray) -> FloatArray:
        """Distance of positions (..., 2) from the card, mm; 0 on it."""
        positions = np.asarray(positions_px)
        across, down = self._table_mm(positions[..., 0], positions[..., 1])
        width, height = (self.card_size / 2.0).tolist()
        return np.asarray(
            np.hypot(np.maximum(np.abs(across) - width, 0.0), np.maximum(np.abs(down) - height, 0.0))
        )


@dataclass(frozen=True, slots=True, eq=False)
class Illumination:
    """The light on the table relative to the light at the card's middle.

    Attributes
    ----------
    geometry
        Where the card lies.
    coefficients
        (3, 10) float64 for R, G, B.
    covariance
        (10, 10) float64: posterior covariance of the channels' mean coefficients.
    """

    geometry: FieldGeometry
    coefficients: Array
    covariance: Array

    def gain(self, positions_px: FloatArray) -> FloatArray:
        """Light at positions (..., 2) px over the light at the card's middle: (..., 3) for R, G, B, > 0.

        float32 for float32 positions, otherwise float64.
        """
        return np.moveaxis(self.gain_planes(positions_px), 0, -1)

    def gain_planes(self, positions_px: FloatArray) -> FloatArray:
        """Return the same as planes, (3, ...)."""
        planes = self.geometry.term_planes(positions_px)
        logarithm = self.coefficients.astype(planes.dtype) @ planes.reshape(len(planes), -1)
        return np.exp(np.clip(logarithm, -MOST_LOG_GAIN, MOST_LOG_GAIN)).reshape(3, *planes.shape[1:])

    def gain_uncertainty(self, positions_px: FloatArray) -> FloatArray:
        """Relative standard uncertainty of the gain at positions (..., 2) px, for all channels: (...)."""
        terms = self.geometry.terms(positions_px)
        variance = ((terms @ self.covariance.astype(terms.dtype)) * terms).sum(axis=-1)
        return np.asarray(np.sqrt(np.maximum(variance, 0)))


def illumination_from_card(geometry: FieldGeometry, coefficients: Array, covariance: Array) -> Illumination:
    """Build the light from what the card alone tells.

    Parameters
    ----------
    geometry
        Where the card lies.
    coefficients
        (3, 6) of the terms that are seen on the card.
    covariance
        (18, 18) their posterior covariance, ordered by channel, then term.
    """
    full = np.zeros((3, TERM_COUNT + BEYOND_TERMS))
    full[:, :TERM_COUNT] = coefficients
    common = np.zeros((TERM_COUNT + BEYOND_TERMS, TERM_COUNT + BEYOND_TERMS))
    blocks = covariance.reshape(3, TERM_COUNT, 3, TERM_COUNT)
    common[:TERM_COUNT, :TERM_COUNT] = blocks.mean(axis=(0, 2))
    steepness = float(np.linalg.norm(coefficients[:, :2].mean(axis=0)))
    beyond = np.hypot(BEYOND_SPREAD, BEYOND_STEEPNESS * steepness)
    common[TERM_COUNT:, TERM_COUNT:] = beyond**2 * np.eye(BEYOND_TERMS)
    return Illumination(geometry, full, common)


def field_prior() -> tuple[Array, Array]:
    """Return prior mean (18,) and covariance (18, 18) of the coefficients, ordered by channel, then term."""
    shared = np.array([PLANE_SPREAD] * 2 + [QUADRATIC_SPREAD] * 3 + [LENS_SPREAD])
    single = np.array([PLANE_CHANNEL_SPREAD] * 2 + [QUADRATIC_CHANNEL_SPREAD] * 3 + [LENS_CHANNEL_SPREAD])
    covariance = np.kron(np.ones((3, 3)), np.diag(shared**2)) + np.kron(np.eye(3), np.diag(single**2))
    mean = np.tile(np.array([0.0] * 5 + [LENS_MEAN]), 3)
    return mean, np.asarray(covariance)
