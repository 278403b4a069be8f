"""The check that the command line and the pipeline called in process say the same."""

import numpy as np
from numpy.typing import NDArray

from benchmark.inspected import Answer, inspect_by_command
from benchmark.photo_cases import PhotoCase
from benchmark.piece_error import piece_error
from benchmark.tables import Cell, Table

AGREE_PX = 0.01
"""Corners may differ by no more than the document's rounding."""

AGREE_DELTA_E = 0.1
"""Scores of the measured picture may differ by no more: the command may write another size."""


def agreement_table(case: PhotoCase, in_process: Answer) -> Table:
    """Compare one answer given in process with the same photo's answer by command."""
    by_command = inspect_by_command(case)
    rows: tuple[tuple[Cell, ...], ...] = (
        ("verdict", in_process.verdict, by_command.verdict, in_process.verdict == by_command.verdict),
        ("confidence", in_process.confidence, by_command.confidence,
         abs(in_process.confidence - by_command.confidence) < 1e-5),
        ("reasons", ", ".join(in_process.reasons), ", ".join(by_command.reasons),
         in_process.reasons == by_command.reasons),
        ("card corners", None, None, same_corners(in_process.card_corners, by_command.card_corners)),
        ("piece corners", None, None, same_corners(in_process.piece_corners, by_command.piece_corners)),
        score_row(case, in_process, by_command),
    )  # fmt: skip
    columns = ("what", "in process", "by command", "agree")
    return Table(f"Command line against in process, {case.name}", columns, rows, by_command.trouble)


def same_corners(one: NDArray[np.float64] | None, other: NDArray[np.float64] | None) -> bool:
    """Tell whether both found the same corners, or both none."""
    if one is None or other is None:
        return one is None and other is None
    return bool(np.abs(np.asarray(one) - other).max() < AGREE_PX)


def score_row(case: PhotoCase, in_process: Answer, by_command: Answer) -> tuple[Cell, ...]:
    """Compare the scores of the two measured pictures."""
    scores = [
        None if answer.measured is None else piece_error(answer.measured, case.reference()).median
        for answer in (in_process, by_command)
    ]
    one, other = scores
    agree = one is other if one is None or other is None else abs(one - other) < AGREE_DELTA_E
    return ("measured picture's score", one, other, agree)
