"""Plain ways to grade, for comparison: one threshold figure, or a classifier that looks at colours only."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from grader.learning import fit, labels_of, softmax, unseen_predictors
from grader.measured import PieceRow

RIVALS = ("threshold on mean CIEDE2000", "threshold on mean lightness", "colour histogram")


def rival_probabilities(name: str, rows: Sequence[PieceRow]) -> NDArray[np.float64]:
    """Return a rival's probabilities for unseen pieces, (n, 3), learned and split as the grader's are.

    With one figure, multinomial logistic regression is a set of thresholds on it, chosen as well as can be.
    """
    values = {
        RIVALS[0]: np.array([[row.delta_e_mean] for row in rows]),
        RIVALS[1]: np.array([[row.lightness_shift] for row in rows]),
        RIVALS[2]: np.array([row.histogram for row in rows]),
    }[name]
    return softmax(unseen_predictors(rows, values, labels_of(rows), fit))
