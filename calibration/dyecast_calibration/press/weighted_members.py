"""A weighted ensemble: members drawn from what was known, weighted by how well each foretold what was seen.

Where few members carry most of the weight, new ones are drawn around the good ones (a normal distribution
with their mean and covariance, and a tenth from the prior still) and weighted again, by prior and likelihood
over the density they were drawn with. Source: importance sampling with an adapted proposal (Cappé, Guillin,
Marin and Robert 2004, J. Comput. Graph. Stat. 13:907-929, from memory); the softened likelihood in early
rounds is the tempering of Neal 2001, Stat. Comput. 11:125-139, from memory.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

DRAWN: Final = 800
"""Members drawn in a round: some hundred remain after weighting."""

ROUNDS: Final = 5
"""Rounds at most; with grades alone the first is often enough."""

ENOUGH: Final = 0.25
"""Effective share of the members at which no further round is needed."""

ENOUGH_TO_AIM: Final = 0.06
"""Effective share, some fifty members, from which a mean and a covariance of seven scores can be had."""

FROM_PRIOR: Final = 0.1
"""Share of the members of later rounds that the prior still draws, so that nothing is ruled out for good."""

WIDENED: Final = 1.5
"""Times the covariance of the good members, in which new ones are drawn: tails are costly to miss."""

SEED: Final = 11
"""Of the draws, fixed: the same log gives the same answer."""

Likelihood = Callable[[NDArray[np.float64]], NDArray[np.float64]]


@dataclass(frozen=True, slots=True, eq=False)
class NormalBelief:
    """A normal distribution over scores: mean (n,) and covariance (n, n)."""

    mean: NDArray[np.float64]
    covariance: NDArray[np.float64]

    def log_density(self, scores: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the logarithm of the density at scores (members, n)."""
        root = np.linalg.cholesky(self.covariance)
        away = np.linalg.solve(root, (scores - self.mean).T)
        size = len(self.mean) * np.log(2.0 * np.pi) / 2.0 + np.log(np.diag(root)).sum()
        return np.asarray(-np.sum(away**2, axis=0) / 2.0 - size)


@dataclass(frozen=True, slots=True, eq=False)
class WeightedMembers:
    """Scores (members, n), their weights (members,), together 1, and how many members that is worth."""

    scores: NDArray[np.float64]
    weights: NDArray[np.float64]

    @property
    def effective(self) -> float:
        """Members of equal weight that would be as good: 1 / Σ w² (Kish 1965)."""
        return float(1.0 / np.sum(self.weights**2))

    def belief(self) -> NormalBelief:
        """Return the normal distribution of the same mean and covariance."""
        mean = self.weights @ self.scores
        away = self.scores - mean
        covariance = (away * self.weights[:, None]).T @ away
        return NormalBelief(mean, covariance + 1e-6 * np.eye(len(mean)))

    def even(self, members: int) -> NDArray[np.float64]:
        """Return scores (members, n) that count alike: each member as often as its weight says.

        Source: systematic resampling (Carpenter, Clifford and Fearnhead 1999), from memory.
        """
        places = (np.arange(members) + 0.5) / members
        return self.scores[np.minimum(np.searchsorted(np.cumsum(self.weights), places), len(self.scores) - 1)]


def weighted_members(prior: NormalBelief, log_likelihood: Likelihood) -> WeightedMembers:
    """Draw and weigh members.

    Parameters
    ----------
    prior
        What was known before.
    log_likelihood
        From scores (members, n) to (members,): how likely each holds everything that was seen.
    """
    generator = np.random.default_rng(SEED)
    proposal, share = prior, 1.0
    for _ in range(ROUNDS):
        scores = _drawn(prior, proposal, share, generator)
        known, told = prior.log_density(scores), log_likelihood(scores)
        drawn = np.logaddexp(
            np.log(share) + known, np.log1p(-share) + proposal.log_density(scores) if share < 1.0 else -np.inf
        )
        softened, members = _softened(scores, known - drawn, told)
        if softened == 1.0 and members.effective >= ENOUGH * DRAWN:
            return members
        around = members.belief()
        proposal, share = NormalBelief(around.mean, WIDENED * around.covariance), FROM_PRIOR
    return WeightedMembers(scores, _weights(known - drawn + told))


def _drawn(
    prior: NormalBelief, proposal: NormalBelief, share: float, generator: np.random.Generator
) -> NDArray[np.float64]:
    """Draw `DRAWN` members, a share of them from the prior."""
    plain = generator.standard_normal((DRAWN, len(prior.mean)))
    first = round(share * DRAWN)
    parts = [(prior, plain[:first]), (proposal, plain[first:])]
    return np.concatenate([one.mean + part @ np.linalg.cholesky(one.covariance).T for one, part in parts])


def _softened(
    scores: NDArray[np.float64], start: NDArray[np.float64], told: NDArray[np.float64]
) -> tuple[float, WeightedMembers]:
    """Weigh with the highest power of the likelihood, by halves, that leaves enough members."""
    power = 1.0
    while True:
        members = WeightedMembers(scores, _weights(start + power * told))
        if power == 1.0 and members.effective >= ENOUGH * len(scores):
            return power, members
        if members.effective >= ENOUGH_TO_AIM * len(scores) or power < 1e-3:
            return power, members
        power /= 2.0


def _weights(logarithms: NDArray[np.float64]) -> NDArray[np.float64]:
    weights = np.exp(logarithms - np.max(logarithms))
    return np.asarray(weights / weights.sum())
