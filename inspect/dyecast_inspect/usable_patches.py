"""Which patches can be used for fitting, and why others cannot: clipped, uneven, out of the photo.

Clipping shows in two ways. Code values at the top of the scale are clipped for certain. But a phone may clip
before it balances, bends or recolours: then white ends at a lower value, a *ceiling*, and a light grey
stands at the same value as white. The greys give the ceiling away, and how light a surface may be to stay
below it.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dyecast_inspect.inspection import Reason
from dyecast_inspect.patch_samples import RegionSamples

Array = NDArray[np.float64]

CLIPPED_SHARE = 0.05
"""A patch is clipped when more than this share of its points is: fewer are specks of glare or noise."""

CEILING_GAMMA = 0.2
"""White is at a ceiling when it is lighter than the next grey by less than this power of what the card says;
tone curves of phones keep this local slope above 0.4."""

CEILING_GREY = 0.9
"""The next grey has at most this share of white's luminance, else the two tell nothing."""

CEILING_MARGIN = 0.97
"""Values from this share of the ceiling on count as clipped: noise and sharpening blur it."""

UNEVEN_OUTLIERS = 0.3
"""A patch with more outlying points than this has something on it."""

UNEVEN_SPREAD = 5.0
"""A patch whose relative spread is this many times the typical one has something on it, or a shadow edge."""

LEAST_SPREAD = 0.006
"""Spread over the square root of the light below which a patch is even: half an 8-bit step, so that flat
patches in a clean photo, which have no spread, do not make a single step look uneven."""

NO_CEILING = 1.01
"""Linear light no pixel reaches."""


@dataclass(frozen=True, slots=True, eq=False)
class UsablePatches:
    """Which patches can be used.

    Attributes
    ----------
    usable
        (N,) bool.
    left_out
        Patch id and reason of each one that is not; codes ``patch-clipped``, ``patch-uneven``,
        ``patch-outside``.
    ceiling
        (3,) linear light of the photo at which R, G, B are clipped, in 0..1.01.
    clipped_count
        How many patches are clipped.
    """

    usable: NDArray[np.bool_]
    left_out: tuple[tuple[str, Reason], ...]
    ceiling: Array
    clipped_count: int


def choose_usable_patches(
    samples: RegionSamples, luminance: Array, camera_like: Array, neutral: NDArray[np.bool_]
) -> UsablePatches:
    """Sort the patches out.

    Parameters
    ----------
    samples
        Of the N patches.
    luminance
        (N, 3) Y of the patches, 1 = perfect white, times the light on each in R, G, B.
    camera_like
        (N, 3) linear light the patches would have in the photo's own encoding, 1 = perfect white, times the
        light on each.
    neutral
        (N,) bool, the greys.
    """
    outside: NDArray[np.bool_] = np.asarray(np.isnan(samples.mean).any(axis=1))
    ceiling, reflectance_limit = _ceiling(samples, luminance, neutral & ~outside)
    at_ceiling = (samples.mean >= CEILING_MARGIN * ceiling) & (ceiling < NO_CEILING)
    too_light = (at_ceiling | (camera_like >= reflectance_limit)).any(axis=1)
    clipped = np.logical_and(np.logical_or(samples.clipped_share > CLIPPED_SHARE, too_light), ~outside)
    uneven = _uneven(samples) & ~outside & ~clipped
    reasons = []
    for number, name in enumerate(samples.ids):
        if outside[number]:
            reasons.append((name, Reason("patch-outside", f"Patch {name} is not in the photo.")))
        elif clipped[number]:
            reasons.append((name, Reason("patch-clipped", f"Patch {name} is overexposed.")))
        elif uneven[number]:
            sentence = f"Patch {name} is uneven: dirt, glare or the edge of a shadow lies on it."
            reasons.append((name, Reason("patch-uneven", sentence)))
    return UsablePatches(~(outside | clipped | uneven), tuple(reasons), ceiling, int(clipped.sum()))


def _ceiling(samples: RegionSamples, luminance: Array, neutral: NDArray[np.bool_]) -> tuple[Array, Array]:
    """Return the ceiling of R, G, B, (3,), and the lit reflectance that reaches it, (3,)."""
    ceiling, limit = np.full(3, NO_CEILING), np.full(3, np.inf)
    for channel in range(3):
        lit = luminance[:, channel]
        greys = np.flatnonzero(neutral)
        greys = greys[np.argsort(-lit[greys])]
        darker = greys[lit[greys] < CEILING_GREY * lit[greys[:1]]]
        if len(darker) < 2:
            continue
        values = np.maximum(samples.mean[:, channel], 1e-6)
        top, next_grey = greys[0], darker[0]
        expected = CEILING_GAMMA * np.log(lit[top] / lit[next_grey])
        if np.log(values[top] / values[next_grey]) < expected:
            ceiling[channel] = min(values[top], values[next_grey])
            limit[channel] = _reflectance_at(ceiling[channel], values[darker], lit[darker])
    return ceiling, limit


def _reflectance_at(ceiling: float, values: Array, luminance: Array) -> float:
    """Foretell the lit reflectance that reaches the ceiling from the greys well below it, as a power law."""
    below = np.flatnonzero(values < CEILING_MARGIN * ceiling)
    if len(below) < 2:
        return float(luminance[-1])
    first, second = below[0], below[1]
    gamma = np.log(values[first] / values[second]) / np.log(luminance[first] / luminance[second])
    gamma = max(float(gamma), CEILING_GAMMA)
    return float(luminance[first] * (ceiling * CEILING_MARGIN / values[first]) ** (1.0 / gamma))


def _uneven(samples: RegionSamples) -> NDArray[np.bool_]:
    relative = (samples.spread / np.sqrt(np.maximum(samples.mean, 1e-4))).max(axis=1)
    seen = relative[np.isfinite(relative)]
    typical = max(float(np.median(seen)) if len(seen) else 0.0, LEAST_SPREAD)
    return np.asarray((samples.outlier_share > UNEVEN_OUTLIERS) | (relative > UNEVEN_SPREAD * typical))
