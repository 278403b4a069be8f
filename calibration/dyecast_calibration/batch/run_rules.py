"""The zone rules of the Western Electric handbook on standardised values."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.batch.chart_signals import Rule

ZONE_RULES: Final = {
    Rule.BEYOND_LIMIT: (1, 1, 3.0),
    Rule.TWO_OF_THREE: (2, 3, 2.0),
    Rule.FOUR_OF_FIVE: (4, 5, 1.0),
    Rule.EIGHT_ON_ONE_SIDE: (8, 8, 0.0),
}
"""Rule: (points needed, points looked at, standard deviations from the centre). Western Electric, Statistical
Quality Control Handbook, 1956, rules 1 to 4; NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2."""

LONGEST_MEMORY: Final = max(looked_at for _, looked_at, _ in ZONE_RULES.values()) - 1
"""How many earlier points a rule may look at."""


def zone_rule_hits(standardised: NDArray[np.float64], rule: Rule) -> NDArray[np.bool_]:
    """Return where one zone rule signals above the centre; negate the values for the side below.

    Parameters
    ----------
    standardised
        Float64 (..., n): distance from the centre in standard deviations, in order along the last axis. NaN
        stands for no point and lies in no zone.
    rule
        One of `ZONE_RULES`.

    Returns
    -------
    Bool (..., n): at the point that completes the pattern, which itself lies in the zone; a point exactly on
    a line is not beyond it.
    """
    needed, looked_at, distance = ZONE_RULES[rule]
    beyond = standardised > distance
    counted = np.cumsum(beyond, axis=-1, dtype=np.int64)
    counted[..., looked_at:] -= counted[..., :-looked_at].copy()
    hits: NDArray[np.bool_] = beyond & (counted >= needed)
    return hits
