"""Two pictures of the grader: what it calls at each dose, and whether its probabilities keep their word."""

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.grader_model import GRADES
from grader.pieces import LEAST_FRACTION, LEAST_HEAT
from grader.scores import reliability

DOSE_WINDOW = 60
"""Pieces, in order of dose, of which a share is shown."""

STYLES = (("tab:blue", "--", "v"), ("black", "-", "o"), ("tab:orange", ":", "^"))
"""Colour, line and mark of each grade: no two differ by colour alone."""


def draw_psychometric(path: Path, doses: NDArray[np.float64], probabilities: NDArray[np.float64]) -> None:
    """Draw the share of pieces called each grade over the dose, in a moving window."""
    import matplotlib as mpl

    mpl.use("Agg")
    from matplotlib import pyplot as plt

    order = np.argsort(doses)
    sorted_doses, called = doses[order], probabilities.argmax(axis=1)[order]
    window = np.ones(DOSE_WINDOW) / DOSE_WINDOW
    middle = np.convolve(sorted_doses, window, "valid")
    figure, axes = plt.subplots(figsize=(7.0, 3.6), layout="constrained")
    for place, (name, (colour, line, mark)) in enumerate(zip(GRADES, STYLES, strict=True)):
        share = np.convolve(called == place, window, "valid")
        axes.plot(middle, share, line, color=colour, marker=mark, markevery=60, label=f"called {name}")
    for limit, what in ((LEAST_FRACTION, "limit of ink"), (LEAST_HEAT, "limit of heat")):
        axes.axvline(limit, color="grey", linewidth=0.8)
        axes.annotate(what, (limit, 1.03), ha="center", fontsize=8, annotation_clip=False)
    axes.set(xlabel="dose (1 = pressed right)", ylabel="share of pieces", ylim=(-0.02, 1.02))
    axes.legend(loc="center left", fontsize=8)
    figure.savefig(path, dpi=130)
    plt.close(figure)


def draw_reliability(path: Path, probabilities: NDArray[np.float64], labels: NDArray[np.int64]) -> None:
    """Draw the share right over the confidence stated, with the number of pieces at each point."""
    import matplotlib as mpl

    mpl.use("Agg")
    from matplotlib import pyplot as plt

    rows = reliability(probabilities, labels)
    figure, axes = plt.subplots(figsize=(4.4, 4.0), layout="constrained")
    axes.plot([0.3, 1.0], [0.3, 1.0], color="grey", linewidth=0.8, label="keeps its word")
    axes.plot([row[0] for row in rows], [row[1] for row in rows], "o-", color="black", label="dyecast")
    for confidence, right, count in rows:
        axes.annotate(
            f"{count}", (confidence, right), textcoords="offset points", xytext=(6, -10), fontsize=8
        )
    axes.set(xlabel="confidence stated", ylabel="share right", xlim=(0.3, 1.02), ylim=(0.0, 1.05))
    axes.legend(loc="lower right", fontsize=8)
    figure.savefig(path, dpi=130)
    plt.close(figure)
