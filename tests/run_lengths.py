"""How many pieces a control chart takes to signal: exactly, by Markov chain, and by simulation with a seed.

Shifts are in standard deviations of a single value, run lengths in pieces, the signalling one included.
"""

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from dyecast_calibration.batch.ewma_chart import EwmaDesign

Floats = NDArray[np.float64]
Watch = Callable[[Floats, Floats], tuple[NDArray[np.bool_], Floats]]


def shewhart_run_length(shift: float, limit_width: float = 3.0) -> float:
    """Return one over the probability that a single value lies beyond a limit."""
    return float(1 / (ndtr(-limit_width - shift) + ndtr(shift - limit_width)))


def ewma_run_length(design: EwmaDesign, shift: float, states: int = 401) -> float:
    """Return the run length of an EWMA with settled limits, started at the centre (Brook and Evans 1972).

    The interval between the limits is cut into an odd number of states of equal width.
    """
    weight = design.weight
    limit = design.limit_width * math.sqrt(weight / (2 - weight))
    width = 2 * limit / states
    centres = -limit + width * (np.arange(states) + 0.5)
    kept = (1 - weight) * centres[:, None]
    upper = (centres[None, :] + width / 2 - kept) / weight - shift
    lower = (centres[None, :] - width / 2 - kept) / weight - shift
    lengths = np.linalg.solve(np.eye(states) - (ndtr(upper) - ndtr(lower)), np.ones(states))
    return float(lengths[states // 2])


def zone_rules_run_length(shift: float) -> float:
    """Return the run length of Western Electric rules 1 to 4 together (the method of Champ and Woodall 1987).

    A state is what the rules remember: which of the last two values lay beyond two, which of the last four
    beyond one, on which side, and how long the run on one side is.
    """
    edges = [-np.inf, -3, -2, -1, 0, 1, 2, 3, np.inf]
    chances = np.diff(ndtr(np.array(edges) - shift))[1:-1]
    start = ((0, 0), (0, 0, 0, 0), 0)
    states = {start: 0}
    moves: list[tuple[int, int, float]] = []
    waiting = [start]
    while waiting:
        state = waiting.pop()
        for zone, chance in zip((-3, -2, -1, 1, 2, 3), chances, strict=True):
            following = _following(state, zone)
            if following is None:
                continue
            if following not in states:
                states[following] = len(states)
                waiting.append(following)
            moves.append((states[state], states[following], float(chance)))
    matrix = np.eye(len(states))
    for before, after, chance in moves:
        matrix[before, after] -= chance
    return float(np.linalg.solve(matrix, np.ones(len(states)))[0])


State = tuple[tuple[int, int], tuple[int, int, int, int], int]


def _following(state: State, zone: int) -> State | None:
    """Return the state after a value in a zone (1 to 3 from the centre, signed), None when a rule signals."""
    twos, ones, run = state
    side = 1 if zone > 0 else -1
    beyond_two = side if abs(zone) >= 3 else 0
    beyond_one = side if abs(zone) >= 2 else 0
    longer = run + side if run * side > 0 else side
    if (beyond_two and twos.count(side) >= 1) or (beyond_one and ones.count(side) >= 3) or abs(longer) >= 8:
        return None
    return (twos[1], beyond_two), (*ones[1:], beyond_one), longer


def simulated_run_length(watch: Watch, memory: Floats, shift: float, *, runs: int, seed: int) -> float:
    """Return the mean run length of `runs` simulated series of normal values.

    `watch(values, memory)` gets the next values (runs, block) and what is remembered of each run (runs, m),
    and returns where it signals and what to remember; `memory` (m,) is that of a new run.
    """
    generator = np.random.default_rng(seed)
    block, total, passed = 64, 0, 0
    remembered = np.tile(memory, (runs, 1))
    while remembered.size:
        hits, remembered = watch(generator.normal(shift, 1, (len(remembered), block)), remembered)
        ended = hits.any(axis=1)
        total += int(np.sum(hits[ended].argmax(axis=1) + 1 + passed))
        remembered = remembered[~ended]
        passed += block
    return total / runs
