"""The shop's own eye: where this shop's good pieces lie, learned from pieces a person judged.

Blanks, presses, printers and cards differ from those the grader was trained on. What it learns here are
three shifts: of ink, of yellowing and of bleed. Each begins at zero with a stated spread (the prior);
approved pieces pull it towards themselves, labelled pieces to where the trained grader would have said the
same. Most shops are usual, and a few labels err: nothing moves until the pieces make an unusual shop
clearly likelier than a usual one, and then the likeliest shift counts by that probability. It is the
probability of a Bayesian model with two parts, no shift at all and a Gaussian one, in Laplace's approximation
(Bishop 2006, sections 2.3, 4.4 and 4.5).
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import exp, log
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.grader_model import GraderModel
from dyecast_calibration.shop_profile import APPROVED, LABELLED, ShopPiece, ShopProfile
from dyecast_inspect.approved_look import ApprovedLook, approved_look
from dyecast_inspect.grading_signs import GradingSigns

SHIFTED: Final = ("ink", "yellowing", "bleed")
"""Signs that a shop may shift."""

PRIOR_SPREAD: Final = np.array([0.08, 0.024, 0.008])
"""How far an unusual shop's good pieces may lie from the trained ones, standard deviations: log fraction,
density, mm². A blank that takes 8 % less ink at its best is unusual, one of 16 % still no error."""

UNUSUAL_SHOPS: Final = 1.0 / 3.0
"""Share of shops that are unusual, before their pieces are seen: our guess. If all were, thirty labels of a
usual shop would cost 0.9 % of right grades; so they cost none (tests/grader/shop_curve.py)."""

LEAST_UNUSUAL: Final = 0.7
"""Probability that the shop is unusual from which a shift counts: odds of more than two to one. Without
it, or with even odds, three labels cost a usual shop 0.1 to 0.2 % of right grades, so none; ten labels on an
unusual blank gain 5 or 6 % instead of 8 or 9 (tests/grader/shop_curve.py)."""

CURVATURE_STEP: Final = 0.2
"""Step, in prior standard deviations, by which the curvature at the likeliest shift is felt out."""

FIRST_STEP: Final = 0.5
LAST_STEP: Final = 0.01
"""Steps of the search, in prior standard deviations: halved whenever none of them helps."""


@dataclass(frozen=True, slots=True)
class ShopShift:
    """How far this shop's good pieces lie from the trained ones: log fraction, density, mm²."""

    ink: float = 0.0
    yellowing: float = 0.0
    bleed: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class ShopEye:
    """What a shop's pieces taught: the shift, the look of approved pieces if any, and their numbers."""

    shift: ShopShift
    look: ApprovedLook | None
    approved: int
    labelled: int


def shop_eye(profile: ShopProfile, grader: GraderModel) -> ShopEye | None:
    """Return what a profile taught, None when it holds no piece."""
    if not profile.pieces:
        return None
    approved, labelled = len(profile.of_kind(APPROVED)), len(profile.of_kind(LABELLED))
    return ShopEye(learned_shift(profile, grader), approved_look(profile), approved, labelled)


def learned_shift(profile: ShopProfile, grader: GraderModel) -> ShopShift:
    """Return the shift to reckon with, given the shop's pieces.

    Labels of one grade alone move nothing: they cannot tell where the limit to another grade lies.
    """
    approved = [signs_of(piece) for piece in profile.of_kind(APPROVED)]
    labelled = [(signs_of(piece), piece.grade) for piece in profile.of_kind(LABELLED)]
    if len({grade for _, grade in labelled} | ({"good"} if approved else set())) < 2:
        labelled = []
    if not approved and not labelled:
        return ShopShift()

    def cost(standard: NDArray[np.float64]) -> float:
        return _cost(standard, approved, labelled, grader)

    likeliest = _lowest(cost)
    unusual = _unusual(cost, likeliest)
    if unusual < LEAST_UNUSUAL:
        return ShopShift()
    return ShopShift(*(float(each) for each in unusual * likeliest * PRIOR_SPREAD))


def signs_of(piece: ShopPiece) -> GradingSigns:
    """Return a kept piece's signs; raises TypeError when one is missing."""
    return GradingSigns(**piece.signs)


def in_this_shop(signs: GradingSigns, shift: ShopShift) -> GradingSigns:
    """Return the signs as if the piece had been made by the shops the grader was trained on."""
    return signs.less(shift.ink, shift.yellowing, shift.bleed)


def _cost(
    standard: NDArray[np.float64],
    approved: Sequence[GradingSigns],
    labelled: Sequence[tuple[GradingSigns, str]],
    grader: GraderModel,
) -> float:
    """Return the negative log posterior of a shift given in prior standard deviations."""
    shift = ShopShift(*(float(value) for value in standard * PRIOR_SPREAD))
    cost = 0.5 * float(standard @ standard)
    for signs in approved:
        cost += _distance_from_good(in_this_shop(signs, shift), grader)
    for signs, grade in labelled:
        cost -= log(max(grader.probabilities(in_this_shop(signs, shift).named())[grade], 1e-9))
    return cost


def _distance_from_good(signs: GradingSigns, grader: GraderModel) -> float:
    """Return half the squared distance from the trained good pieces, in their standard deviations."""
    values: Mapping[str, float] = {"ink": signs.ink, "yellowing": signs.yellowing, "bleed": signs.bleed}
    return 0.5 * sum(
        ((values[name] - grader.good_centre[name]) / grader.good_spread[name]) ** 2 for name in SHIFTED
    )


def _lowest(cost: Callable[[NDArray[np.float64]], float]) -> NDArray[np.float64]:
    """Return the lowest point by a compass search from zero (Hooke and Jeeves 1961)."""
    place, step = np.zeros(len(SHIFTED)), FIRST_STEP
    lowest = cost(place)
    while step > LAST_STEP:
        tried = [place + sign * step * axis for axis in np.eye(len(SHIFTED)) for sign in (1.0, -1.0)]
        costs = [cost(each) for each in tried]
        if min(costs) < lowest:
            lowest, place = min(costs), tried[int(np.argmin(costs))]
        else:
            step /= 2.0
    return place


def _unusual(cost: Callable[[NDArray[np.float64]], float], likeliest: NDArray[np.float64]) -> float:
    """Return the probability that the shop is unusual, 0..1.

    The evidence for a shift is what its likeliest value has over none, less what fitting it was worth: half
    the logarithm of the curvature's determinant, in units of the prior's (Bishop 2006, equation 4.137).
    """
    gained = cost(np.zeros(len(SHIFTED))) - cost(likeliest)
    fitted = 0.5 * float(np.log(np.maximum(np.linalg.eigvalsh(_curvature(cost, likeliest)), 1.0)).sum())
    odds = log(UNUSUAL_SHOPS / (1.0 - UNUSUAL_SHOPS)) + gained - fitted
    return 1.0 / (1.0 + exp(-odds))


def _curvature(
    cost: Callable[[NDArray[np.float64]], float], place: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return the second derivatives of a cost at a place, (3, 3), by central differences."""
    steps = CURVATURE_STEP * np.eye(len(place))

    def second(one: NDArray[np.float64], other: NDArray[np.float64]) -> float:
        same = cost(place + one + other) + cost(place - one - other)
        return (same - cost(place + one - other) - cost(place - one + other)) / (2 * CURVATURE_STEP) ** 2

    return np.array([[second(one, other) for other in steps] for one in steps])
