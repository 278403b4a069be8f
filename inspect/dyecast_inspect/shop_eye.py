"""The shop's own eye: where this shop's good pieces lie, learned from pieces a person judged.

Blanks, presses, printers and cards differ from those the grader was trained on. What it learns here are
three shifts: of ink, of yellowing and of bleed. Each begins at zero with a stated spread (the prior);
approved pieces pull it towards themselves, labelled pieces to where the trained grader would have said the
same. It is the likeliest shift of a Bayesian model with Gaussian priors (Bishop 2006, sections 2.3 and 4.5).
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import log
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.grader_model import GraderModel
from dyecast_calibration.shop_profile import APPROVED, LABELLED, ShopPiece, ShopProfile
from dyecast_inspect.approved_look import ApprovedLook, approved_look
from dyecast_inspect.grading_signs import GradingSigns

SHIFTED: Final = ("ink", "yellowing", "bleed")
"""Signs that a shop may shift."""

PRIOR_SPREAD: Final = np.array([0.04, 0.012, 0.004])
"""How far a shop's good pieces may lie from the trained ones, standard deviations: log fraction, density,
mm². A blank that takes 4 % less ink at its best is nothing unusual. Twice these learned an unusual blank
little faster, and let a few labels of a usual shop lead astray (tests/grader/shop_curve.py)."""

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
    """Return the likeliest shift given the shop's pieces.

    Labels of one grade alone move nothing: they cannot tell where the limit to another grade lies.
    """
    approved = [signs_of(piece) for piece in profile.of_kind(APPROVED)]
    labelled = [(signs_of(piece), piece.grade) for piece in profile.of_kind(LABELLED)]
    if len({grade for _, grade in labelled} | ({"good"} if approved else set())) < 2:
        labelled = []
    if not approved and not labelled:
        return ShopShift()
    best = _lowest(lambda shift: _cost(shift, approved, labelled, grader))
    return ShopShift(*(float(value) for value in best * PRIOR_SPREAD))


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
