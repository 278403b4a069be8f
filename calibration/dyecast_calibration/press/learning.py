"""Learning a shop's press from pressings that were graded and measured.

Platen offset and contact belong to the press and are shared by all its blanks; the dye's mobility, the
coating's damage and their energies belong to the blank with its paper and ink. Blanks are learned one after
another: what the first says of the press (mean and covariance of two numbers) is where the next one starts.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.press.grader_confusion import grade_chances
from dyecast_calibration.press.press_model import Warming, pressing_along, warming_of
from dyecast_calibration.press.press_parameters import PressParameters
from dyecast_calibration.press.press_priors import UNKNOWNS, parameters_at, typical_parameters
from dyecast_calibration.press.press_stack import PressStack
from dyecast_calibration.press.tried_pressing import TriedPressing, log_likelihood
from dyecast_calibration.press.weighted_members import NormalBelief, WeightedMembers, weighted_members

OF_THE_PRESS: Final = 2
"""The first two of `UNKNOWNS`, offset and contact, belong to the press."""

SUPPLIER_LAPSE: Final = 0.3
"""Share of suppliers' recommendations that say nothing: made for another paper, another press, or anyone. Our
choice."""

DAMAGE_WIDENED: Final = 2.0
"""Times the prior's spread of the damage rate, then a factor of 2.2 either way, with which a blank is
learned: what is published is of polyester fibre, and a coating that yellows early must not count as a slip of
the grader after two pieces. Our choice."""

KEPT_MEMBERS: Final = 400
"""Members of equal weight that plans are made with: a chance is then known within 2.5 %."""

STEPS_KEPT: Final = 80
"""Moments of the warming that are kept for integrating along it; dye and damage then differ by less than half
a per cent from all of them (measured in the tests)."""


@dataclass(frozen=True, slots=True)
class SupplierClaim:
    """What a blank's supplier recommends: K and s, taken for one good piece on a press that reads right."""

    platen_temperature: float
    time: float


@dataclass(frozen=True, slots=True)
class TriedBlank:
    """A blank with its paper and ink: what lies in the press, what its supplier says, what was tried."""

    stack: PressStack
    supplier: SupplierClaim | None = None
    tried: tuple[TriedPressing, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class LearnedBlank:
    """What is known of a blank on a press.

    Attributes
    ----------
    scores
        (members, 7) as `parameters_at` takes them, all counting alike.
    effective
        Members that the weighted ensemble was worth.
    press
        What is known of the press now: scores of offset and contact.
    """

    scores: NDArray[np.float64]
    effective: float
    press: NormalBelief

    @property
    def parameters(self) -> PressParameters:
        """The members' parameters."""
        return parameters_at(self.scores)


def unknown_press() -> NormalBelief:
    """Return what is known of a press before its first pressing: the priors."""
    return NormalBelief(np.zeros(OF_THE_PRESS), np.eye(OF_THE_PRESS))


def learned_press(others: Sequence[TriedBlank]) -> NormalBelief:
    """Return what pressings of some blanks say of their press."""
    known = unknown_press()
    for blank in others:
        if blank.tried:
            known = learned_blank(blank, known).press
    return known


def learned_blank(blank: TriedBlank, press: NormalBelief | None = None) -> LearnedBlank:
    """Learn from a blank's pressings, starting from what is known of the press.

    Source: Bayes' theorem over the press model, with the confusion of the grader; see `weighted_members`.
    """
    members = weighted_members(_prior(press or unknown_press()), lambda scores: _told(blank, scores))
    whole = members.belief()
    known = NormalBelief(whole.mean[:OF_THE_PRESS], whole.covariance[:OF_THE_PRESS, :OF_THE_PRESS])
    return LearnedBlank(_ordered(members).even(KEPT_MEMBERS), members.effective, known)


def thinned_warming(stack: PressStack, contact_scale: NDArray[np.float64], duration: float) -> Warming:
    """Compute how a stack warms, at `STEPS_KEPT` moments or fewer: dense at first, as the steps are."""
    warming = warming_of(stack, contact_scale, duration)
    last = len(warming.times) - 1
    kept = np.unique(np.linspace(0, last, min(last + 1, STEPS_KEPT)).round().astype(int))
    return Warming(warming.times[kept], warming.shares[:, kept])


def _prior(press: NormalBelief) -> NormalBelief:
    """Return press and blank together: the blank's scores are standard normal, but for the damage rate."""
    mean, covariance = np.zeros(len(UNKNOWNS)), np.eye(len(UNKNOWNS))
    rate = UNKNOWNS.index("damage_rate")
    covariance[rate, rate] = DAMAGE_WIDENED**2
    mean[:OF_THE_PRESS] = press.mean
    covariance[:OF_THE_PRESS, :OF_THE_PRESS] = press.covariance
    return NormalBelief(mean, covariance)


def _told(blank: TriedBlank, scores: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return how likely each member holds all that was seen of a blank, as a logarithm."""
    parameters = parameters_at(scores)
    told = np.zeros(len(scores))
    if blank.supplier is not None:
        told += _supplier_told(blank, blank.supplier, parameters)
    if not blank.tried:
        return told
    longest = max(one.time for one in blank.tried)
    warming = thinned_warming(blank.stack, np.asarray(parameters.contact_scale), longest)
    for temperature in sorted({one.platen_temperature for one in blank.tried}):
        together = [one for one in blank.tried if one.platen_temperature == temperature]
        expected = pressing_along(warming, temperature, [one.time for one in together], parameters)
        told += sum(log_likelihood(one, expected, place) for place, one in enumerate(together))
    return told


def _supplier_told(
    blank: TriedBlank, supplier: SupplierClaim, parameters: PressParameters
) -> NDArray[np.float64]:
    """Return how likely each member holds the supplier's recommendation, on the supplier's press."""
    typical = typical_parameters()
    theirs = replace(parameters, platen_offset=typical.platen_offset, contact_scale=typical.contact_scale)
    warming = thinned_warming(blank.stack, np.asarray(typical.contact_scale), supplier.time)
    expected = pressing_along(warming, supplier.platen_temperature, [supplier.time], theirs)
    chances = grade_chances(expected.transferred[:, 0], expected.damage[:, 0], SUPPLIER_LAPSE)
    return np.asarray(np.log(chances[1]))


def _ordered(members: WeightedMembers) -> WeightedMembers:
    """Return the members in the order of their mobility, so that an even choice among them is stratified."""
    order = np.argsort(members.scores[:, UNKNOWNS.index("dye_mobility")])
    return WeightedMembers(members.scores[order], members.weights[order])
