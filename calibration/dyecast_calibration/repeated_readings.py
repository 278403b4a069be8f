"""Several readings of the same patch: their average and how far they lie apart."""

from collections.abc import Mapping, Sequence

import numpy as np

from dyecast_calibration.card_values import Lab
from dyecast_shared.delta_e import delta_e_2000


def mean_lab(readings: Sequence[Lab]) -> Lab:
    """Return the mean of L*, a*, b* over one or more readings."""
    lightness, a, b = np.mean(np.array(readings, dtype=np.float64), axis=0).tolist()
    return (lightness, a, b)


def median_lab(readings: Sequence[Lab]) -> Lab:
    """Return the median of L*, of a* and of b*, each on its own, over one or more readings."""
    lightness, a, b = np.median(np.array(readings, dtype=np.float64), axis=0).tolist()
    return (lightness, a, b)


def spread_of(readings: Mapping[str, Sequence[Lab]], average: Mapping[str, Lab]) -> dict[str, float] | None:
    """Return, for each patch read at least twice, the mean CIEDE2000 of its readings from the average.

    None when no patch was read twice: one reading says nothing about spread.
    """
    spread = {
        identity: float(np.mean(delta_e_2000(np.array(average[identity]), np.array(labs))))
        for identity, labs in readings.items()
        if len(labs) > 1
    }
    return spread or None
