"""Colour differences in CIELAB: CIEDE2000, and the 1976 parts along lightness, chroma and hue.

The mean hue of opposite colours
--------------------------------
CIEDE2000 averages the two hue angles along the shorter arc. When they lie exactly 180 degrees apart both
arcs are equally long, and the standard keeps (h1 + h2) / 2 with both angles in 0 <= h < 360, which puts the
mean in 90 <= h < 270. In floating point "exactly" depends on the last bit, so that equal colours written in
another precision would jump by several percent of the difference. dyecast therefore decides on purpose: hues
within :data:`OPPOSITE_HUES_TOLERANCE` of being opposite count as opposite, in float32 and float64 alike.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from dyecast_shared.cielab import as_colours
from dyecast_shared.photo import FloatArray

OPPOSITE_HUES_TOLERANCE: Final = 1e-6
"""Radians (0.00006 degrees) from 180 degrees apart within which two hues count as exactly opposite.

Eight times the rounding of float32, and some 60 times closer than pair 15 of Sharma, Wu and Dalal (2005),
which is not a tie; pair 14 is. Chosen for dyecast; the standard names no tolerance.
"""

_NEARLY_OPPOSITE: Final = 0.01
"""Radians from 180 degrees apart below which the mean hue is taken from the difference of the unit vectors.
Their sum is so short there that float32 would lose its direction. Chosen for dyecast."""

_NEUTRAL_CHROMA: Final = 1e-12
"""Chroma below which a colour has no hue. Any value this small will do: the hue difference vanishes with the
chroma, so the hue of a neutral has no influence on the result."""

_BLOCK: Final = 16384
"""Colours treated at a time, so that the intermediate values stay in the processor's cache."""

_HUE_ROTATION_CENTRE: Final = np.deg2rad(275.0)
_HUE_ROTATION_WIDTH: Final = np.deg2rad(25.0)
_HUE_ROTATION_ANGLE: Final = np.deg2rad(60.0)
"""Radians. The blue region in which R_T tilts the tolerance ellipse; the angle is 2 x 30 degrees. Source:
ISO/CIE 11664-6:2014."""


@dataclass(frozen=True, slots=True, eq=False)
class ColourDifferenceParts:
    """A colour difference taken apart, sample minus reference.

    Attributes
    ----------
    delta_lightness
        (...) ΔL*, positive when the sample is lighter.
    delta_chroma
        (...) ΔC*ab, positive when the sample is more saturated.
    delta_hue
        (...) ΔH*ab, positive when the sample's hue angle lies anticlockwise of the reference's. It is a
        distance in CIELAB units, not an angle; ΔL*² + ΔC*² + ΔH*² is the square of ΔE*ab.
    """

    delta_lightness: FloatArray
    delta_chroma: FloatArray
    delta_hue: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class _Chromaticness:
    """The coloured part of N colours: along a*, along b*, and its length, the chroma."""

    along_a: FloatArray
    along_b: FloatArray
    chroma: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class _HuePair:
    """Two hues: cosine and sine of their mean, and the signed chord 2 sin(Δh / 2) from first to second."""

    mean_cosine: FloatArray
    mean_sine: FloatArray
    chord: FloatArray


def delta_e_2000(lab_1: ArrayLike, lab_2: ArrayLike) -> FloatArray:
    """Measure the CIEDE2000 colour difference, with k_L = k_C = k_H = 1.

    Parameters
    ----------
    lab_1, lab_2
        (..., 3) L*, a*, b* under the same white and observer; the shapes are broadcast.

    Returns
    -------
    (...) ΔE00 >= 0; float32 when both inputs are float32 arrays, otherwise float64. NaN in gives NaN out.

    Raises
    ------
    ValueError
        When an input does not end in three values or the shapes do not fit together.

    Source: ISO/CIE 11664-6:2014; Sharma, Wu, Dalal, "The CIEDE2000 color-difference formula", Col. Res.
    Appl. 30 (2005) 21-30, doi 10.1002/col.20070. Angles are averaged as unit vectors, which is the same
    except at the tie described at the top of this module.

    Pair 1 of the test data of Sharma, Wu and Dalal (2005); equal colours differ by nothing:

    >>> print(f"{delta_e_2000([50.0, 2.6772, -79.7751], [50.0, 0.0, -82.7485]):.4f}")
    2.0425
    >>> print(delta_e_2000([50.0, 10.0, 20.0], [50.0, 10.0, 20.0]))
    0.0
    """
    first, second = np.broadcast_arrays(*as_colours(lab_1, lab_2))
    shape = first.shape[:-1]
    first, second = first.reshape(-1, 3), second.reshape(-1, 3)
    result = np.empty(len(first), dtype=first.dtype)
    for start in range(0, len(first), _BLOCK):
        block = slice(start, start + _BLOCK)
        result[block] = _delta_e_2000_of_block(first[block], second[block])
    return result.reshape(shape)


def hue_chroma_differences(reference_lab: ArrayLike, sample_lab: ArrayLike) -> ColourDifferenceParts:
    """Take the CIELAB 1976 difference apart into lightness, chroma and hue.

    Parameters
    ----------
    reference_lab, sample_lab
        (..., 3) L*, a*, b* under the same white and observer; the shapes are broadcast.

    Returns
    -------
    The three parts, sample minus reference; float32 when both inputs are, otherwise float64.

    Source: CIE 15:2004, section 8.2.1 (ISO/CIE 11664-4), with ΔH*ab = 2 sqrt(C1 C2) sin(Δh / 2).
    """
    reference, sample = as_colours(reference_lab, sample_lab)
    lightness_1, a_1, b_1 = _planes(reference)
    lightness_2, a_2, b_2 = _planes(sample)
    first, second = _chromaticness(a_1, b_1), _chromaticness(a_2, b_2)
    return ColourDifferenceParts(
        delta_lightness=np.asarray(lightness_2 - lightness_1),
        delta_chroma=np.asarray(second.chroma - first.chroma),
        delta_hue=_hue_difference(first, second, _compare_hues(first, second)),
    )


def _delta_e_2000_of_block(lab_1: FloatArray, lab_2: FloatArray) -> FloatArray:
    """Compute ΔE00 of two (N, 3) arrays of one dtype; the names follow ISO/CIE 11664-6."""
    lightness_1, a_1, b_1 = _planes(lab_1)
    lightness_2, a_2, b_2 = _planes(lab_2)
    stretch = 1.5 - 0.5 * _chroma_saturation(0.5 * (_length(a_1, b_1) + _length(a_2, b_2)))
    first, second = _chromaticness(a_1 * stretch, b_1), _chromaticness(a_2 * stretch, b_2)
    hues = _compare_hues(first, second)
    mean_chroma = 0.5 * (first.chroma + second.chroma)
    offset = (0.5 * (lightness_1 + lightness_2) - 50.0) ** 2
    weight_lightness = 1.0 + 0.015 * offset / np.sqrt(20.0 + offset)
    weight_chroma = 1.0 + 0.045 * mean_chroma
    weight_hue = 1.0 + 0.015 * mean_chroma * _hue_weighting(hues)
    lightness = (lightness_2 - lightness_1) / weight_lightness
    chroma = (second.chroma - first.chroma) / weight_chroma
    hue = _hue_difference(first, second, hues) / weight_hue
    rotation = -2.0 * _chroma_saturation(mean_chroma) * _blue_rotation(hues)
    squared = lightness * lightness + chroma * chroma + hue * hue + rotation * chroma * hue
    return np.asarray(np.sqrt(np.maximum(squared, 0.0)))


def _planes(lab: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return L*, a* and b* of a (..., 3) array as contiguous copies."""
    return lab[..., 0].copy(), lab[..., 1].copy(), lab[..., 2].copy()


def _length(along_a: FloatArray, along_b: FloatArray) -> FloatArray:
    """Return the chroma; faster than ``hypot``, and chroma never comes near its overflow."""
    return np.asarray(np.sqrt(along_a * along_a + along_b * along_b))


def _chroma_saturation(chroma: FloatArray) -> FloatArray:
    """Return sqrt(C⁷ / (C⁷ + 25⁷)), 0 for neutrals and nearly 1 for saturated colours."""
    relative = chroma / 25.0
    cubed = relative * relative * relative
    seventh = cubed * cubed * relative
    return np.asarray(np.sqrt(seventh / (seventh + 1.0)))


def _chromaticness(along_a: FloatArray, along_b: FloatArray) -> _Chromaticness:
    """Bundle a* and b* with their chroma."""
    return _Chromaticness(along_a, along_b, _length(along_a, along_b))


def _hue_difference(first: _Chromaticness, second: _Chromaticness, hues: _HuePair) -> FloatArray:
    """Return ΔH = 2 sqrt(C1 C2) sin(Δh / 2), signed."""
    return np.asarray(np.sqrt(first.chroma * second.chroma) * hues.chord)


def _unit_vector(colour: _Chromaticness) -> tuple[FloatArray, FloatArray]:
    """Return the cosine and sine of the hue; both are zero for a neutral."""
    inverse = 1.0 / np.maximum(colour.chroma, _NEUTRAL_CHROMA)
    return np.asarray(colour.along_a * inverse), np.asarray(colour.along_b * inverse)


def _compare_hues(first: _Chromaticness, second: _Chromaticness) -> _HuePair:
    """Average two hues and measure the chord between them."""
    cosine_1, sine_1 = _unit_vector(first)
    cosine_2, sine_2 = _unit_vector(second)
    cosine_sum, sine_sum = cosine_1 + cosine_2, sine_1 + sine_2
    cosine_step, sine_step = cosine_2 - cosine_1, sine_2 - sine_1
    length, step = _length(cosine_sum, sine_sum), _length(cosine_step, sine_step)
    turn = cosine_1 * sine_2 - sine_1 * cosine_2
    divisor = np.maximum(length, OPPOSITE_HUES_TOLERANCE)
    pair = _HuePair(
        mean_cosine=np.asarray(cosine_sum / divisor),
        mean_sine=np.asarray(sine_sum / divisor),
        chord=np.asarray(np.copysign(step, turn)),
    )
    if not (length < _NEARLY_OPPOSITE).any():
        return pair
    divisor = np.maximum(step, _NEUTRAL_CHROMA)
    normal = _HuePair(np.asarray(sine_step / divisor), np.asarray(-cosine_step / divisor), pair.chord)
    return _settle_opposite_hues(pair, normal, length)


def _settle_opposite_hues(pair: _HuePair, normal: _HuePair, length: FloatArray) -> _HuePair:
    """Replace the means of nearly opposite hues by the right one of the two normals to the step between them.

    ``normal`` is the mean of hues the second of which lies ahead of the first, its negative of the others.
    Opposite hues, at a ``length`` of the unit vectors' sum within the tolerance, take the mean in
    90 <= h < 270 and with it the sign of h2 - h1.
    """
    cosine, sine = normal.mean_cosine, normal.mean_sine
    in_left_half = (cosine < 0.0) | ((cosine == 0.0) & (sine > 0.0))
    ahead = np.where(length <= OPPOSITE_HUES_TOLERANCE, in_left_half, pair.chord > 0.0)
    sign = np.where(ahead, 1.0, -1.0).astype(cosine.dtype)
    nearly = length < _NEARLY_OPPOSITE
    return _HuePair(
        mean_cosine=np.where(nearly, sign * cosine, pair.mean_cosine),
        mean_sine=np.where(nearly, sign * sine, pair.mean_sine),
        chord=np.where(nearly, sign * np.abs(pair.chord), pair.chord),
    )


def _hue_weighting(hues: _HuePair) -> FloatArray:
    """Return T of ISO/CIE 11664-6, its cosines of multiple angles expanded so that none is evaluated."""
    cosine, sine = hues.mean_cosine, hues.mean_sine
    cosine_2, sine_2 = 2.0 * cosine * cosine - 1.0, 2.0 * sine * cosine
    cosine_3, sine_3 = cosine * (2.0 * cosine_2 - 1.0), sine * (2.0 * cosine_2 + 1.0)
    cosine_4, sine_4 = 2.0 * cosine_2 * cosine_2 - 1.0, 2.0 * sine_2 * cosine_2
    return np.asarray(
        1.0
        - 0.17 * _cosine_shifted(cosine, sine, 30.0)
        + 0.24 * cosine_2
        + 0.32 * _cosine_shifted(cosine_3, sine_3, -6.0)
        - 0.20 * _cosine_shifted(cosine_4, sine_4, 63.0)
    )


def _cosine_shifted(cosine: FloatArray, sine: FloatArray, degrees: float) -> FloatArray:
    """Return cos(x - degrees) from the cosine and sine of x."""
    shift = float(np.deg2rad(degrees))
    return np.asarray(cosine * float(np.cos(shift)) + sine * float(np.sin(shift)))


def _blue_rotation(hues: _HuePair) -> FloatArray:
    """Return sin(2 Δθ) with Δθ = 30° exp(-((h - 275°) / 25°)²) and the mean hue in 0 <= h < 360."""
    # The arc cosine is four times as fast as arctan2 and exact to the last digits where the exponential
    # counts; near 0° and 180°, where it is good to 0.02° only, the exponential is below 1e-5.
    angle = np.arccos(np.clip(hues.mean_cosine, -1.0, 1.0))
    angle = np.where(hues.mean_sine < 0.0, 2.0 * float(np.pi) - angle, angle)
    distance = (angle - float(_HUE_ROTATION_CENTRE)) / float(_HUE_ROTATION_WIDTH)
    return np.asarray(np.sin(float(_HUE_ROTATION_ANGLE) * np.exp(-distance * distance)))
