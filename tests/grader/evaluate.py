"""Evaluate the grader and its rivals: ``python tests/grader/evaluate.py --pieces FOLDER [--photos FOLDER]``.

Made pieces are graded by fits that saw neither their artwork's kind nor their camera. Photos given with truth
are graded by the model that ships; their artworks, sensors, inks and renderer had no part in the training.
"""

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmark.tables import Cell, Table, markdown
from dyecast_calibration.grader_model import trained_grader
from dyecast_calibration.grading_limits import grading_limits
from grader.learning import (
    best_temperature,
    labels_of,
    least_possible,
    sign_matrix,
    softmax,
    unseen_predictors,
)
from grader.measured import PieceRow, measured_rows
from grader.pictures import draw_psychometric, draw_reliability
from grader.pieces import make_pieces, state_at
from grader.rivals import RIVALS, rival_probabilities
from grader.scores import (
    MADE_RANGES,
    PHOTO_RANGES,
    DoseRange,
    expected_calibration_error,
    in_range,
    noticed_at,
    score,
    split_coverage,
)
from grader.shop_curve import shop_table
from grader.visible import delta_e_of_fraction

Probabilities = NDArray[np.float64]
COLUMNS = ("pieces", "count", "right", "sent back", "near a limit", "opposite", "right when sure")
MOST_OPPOSITE = grading_limits().most_opposite_probability


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the tables, and draw the pictures where asked."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--pieces", type=Path, required=True, help="folder of the made pieces")
    parser.add_argument("--count", type=int, default=2100, help="pieces to grade")
    parser.add_argument("--photos", type=Path, help="folder of photos with truth, one folder each")
    parser.add_argument("--pictures", type=Path, help="folder for the two pictures")
    parser.add_argument("--kept", type=Path, help="file of measurements, written when it is not there")
    parser.add_argument("--jobs", type=int, default=1, help="processes")
    order = parser.parse_args(arguments)
    folders = make_pieces(order.pieces, range(order.count), jobs=order.jobs)
    made = measured_rows(folders, jobs=order.jobs, kept=order.kept)
    for table in made_tables(made, order.pictures):
        print(markdown(table))
    if order.photos is not None:
        folders = tuple(sorted(path for path in order.photos.iterdir() if path.is_dir()))
        print(markdown(photo_table(measured_rows(folders, jobs=order.jobs))))
    return 0


def made_tables(all_rows: Sequence[PieceRow], pictures: Path | None) -> list[Table]:
    """Return the tables about made pieces: the grader, its honesty, what it notices, its rivals."""
    rows = [row for row in all_rows if not row.code]
    labels, doses = labels_of(rows), np.array([row.truth["dose"] for row in rows])
    unseen = unseen_predictors(rows, sign_matrix(rows), labels)
    probabilities = softmax(unseen / best_temperature(unseen, labels))
    least = least_possible(probabilities, labels)
    if pictures is not None:
        draw_psychometric(pictures / "psychometric.png", doses, probabilities)
        draw_reliability(pictures / "reliability.png", probabilities, labels)
    return [
        _range_table("Grader on unseen made pieces", probabilities, doses, MADE_RANGES, least),
        _honesty_table(probabilities, labels, least, len(all_rows)),
        _noticed_table(rows, probabilities),
        _rival_table(rows, probabilities),
        shop_table(rows),
    ]


def _range_table(
    title: str,
    probabilities: Probabilities,
    doses: NDArray[np.float64],
    ranges: Sequence[DoseRange],
    least: float,
) -> Table:
    """Return one row a range of doses, and one for all clear cases."""
    labels = np.array([("under-pressed", "good", "over-pressed").index(state_at(dose)) for dose in doses])
    clear = np.any([in_range(doses, each) for each in ranges if each.clear], axis=0)
    asked = [(each.name, in_range(doses, each)) for each in ranges] + [
        ("all clear cases", clear),
        ("all", np.ones(len(doses), bool)),
    ]
    lines: list[tuple[Cell, ...]] = []
    for name, chosen in asked:
        told = score(probabilities[chosen], labels[chosen], least, MOST_OPPOSITE)
        lines.append(
            (
                name,
                told.count,
                told.right,
                told.sent_back,
                told.near_limit,
                told.opposite,
                told.right_when_sure,
            )
        )
    return Table(title, COLUMNS, tuple(lines), "right, sent back and near a limit are shares of the count")


def _honesty_table(probabilities: Probabilities, labels: NDArray[np.int64], least: float, made: int) -> Table:
    """Return calibration, coverage and abstention."""
    coverage, spread = split_coverage(probabilities, labels)
    told = score(probabilities, labels, least, MOST_OPPOSITE)
    lines: tuple[tuple[Cell, ...], ...] = (
        ("expected calibration error", expected_calibration_error(probabilities, labels)),
        ("coverage on halves that did not set it, promised at least 0.90", coverage),
        ("its spread between halves", spread),
        ("said to be near a limit", told.near_limit),
        ("sent back, since pale and faded look alike", told.sent_back),
        ("photos sent back before grading", 1.0 - len(labels) / made),
    )
    return Table("How honest it is", ("what", "value"), lines)


def _noticed_table(rows: Sequence[PieceRow], probabilities: Probabilities) -> Table:
    """Return the smallest fault of ink, and of heat, noticed nine times in ten."""
    doses = np.array([row.truth["dose"] for row in rows])
    called, pale, hot = probabilities.argmax(axis=1), doses < 1.0, doses > 1.0
    fraction = noticed_at(doses[pale].tolist(), (called[pale] == 0).tolist(), rising=False)
    heat = noticed_at(doses[hot].tolist(), (called[hot] == 2).tolist(), rising=True)
    lines: tuple[tuple[Cell, ...], ...] = (
        ("transferred fraction called under-pressed 9 times in 10", fraction),
        ("the same as mean CIEDE2000 from a right piece", delta_e_of_fraction(fraction)),
        ("dose of heat called over-pressed 9 times in 10", heat),
    )
    return Table("What it notices", ("what", "value"), lines)


def _rival_table(rows: Sequence[PieceRow], probabilities: Probabilities) -> Table:
    """Return the share right of grader and rivals in each clear range, and where opposite grades arise."""
    labels, doses = labels_of(rows), np.array([row.truth["dose"] for row in rows])
    clear = [each for each in MADE_RANGES if each.clear]
    lines: list[tuple[Cell, ...]] = []
    for name in ("dyecast", *RIVALS):
        shares = probabilities if name == "dyecast" else rival_probabilities(name, rows)
        cells: list[Cell] = [name]
        for each in clear:
            chosen = in_range(doses, each)
            cells.append(score(shares[chosen], labels[chosen], 0.0).right)
        cells.append(score(shares, labels, 0.0).opposite)
        lines.append(tuple(cells))
    return Table(
        "Against plain rivals, unseen made pieces",
        ("method", *(each.name for each in clear), "opposite"),
        tuple(lines),
    )


def photo_table(all_rows: Sequence[PieceRow]) -> Table:
    """Return how the shipped model grades photos given with truth."""
    rows = [row for row in all_rows if not row.code]
    grader = trained_grader()
    named = [row.signs.named() for row in rows if row.signs is not None]
    probabilities = np.array([list(grader.probabilities(signs).values()) for signs in named])
    doses = np.array([row.truth["dose"] for row in rows])
    return _range_table(
        f"Photos given with truth, {len(rows)} of {len(all_rows)} judged",
        probabilities,
        doses,
        PHOTO_RANGES,
        grader.least_probability,
    )


if __name__ == "__main__":
    sys.exit(main())
