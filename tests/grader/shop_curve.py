"""What a shop's labelled pieces are worth: right after 0, 3, 10 and 30 of them, on usual and unusual blanks.

The unusual blank takes 14 % less ink at its best and its coating reads creamier: the same is added to the
signs of every piece on it. The grader learns on half of the artworks' kinds, the shop works with the others.
"""

from collections.abc import Sequence
from dataclasses import asdict
from math import log

import numpy as np

from benchmark.tables import Cell, Table
from dyecast_calibration.grader_model import GRADES, GraderModel, grader_from
from dyecast_calibration.shop_profile import LABELLED, ShopPiece, ShopProfile
from dyecast_inspect.grading_signs import GradingSigns
from dyecast_inspect.shop_eye import ShopShift, in_this_shop, learned_shift
from grader.learning import fit, good_look, labels_of, record_of, sign_matrix
from grader.measured import PieceRow

COUNTS = (0, 3, 10, 30)
TRIALS = 30
UNUSUAL = (log(0.86), 0.02, 0.0)
"""Log fraction, density of yellowing, mm² of bleed that the unusual blank adds."""

Graded = tuple[GradingSigns, str]


def shop_table(rows: Sequence[PieceRow]) -> Table:
    """Return the share of new pieces graded right, by labelled pieces and blank; mean over random choices."""
    kinds = sorted({row.truth["artwork"] for row in rows})
    learning = [row for row in rows if row.truth["artwork"] in kinds[::2]]
    shop = [row for row in rows if row.truth["artwork"] in kinds[1::2]]
    grader = grader_from(
        record_of(fit(sign_matrix(learning), labels_of(learning)), 0.3, good_look(learning), {})
    )
    pieces = [(row.signs, str(row.truth["state"])) for row in shop if row.signs is not None]
    unusual = [(signs.less(*(-each for each in UNUSUAL)), grade) for signs, grade in pieces]
    lines: list[tuple[Cell, ...]] = [
        (count, _right(pieces, count, grader), _right(unusual, count, grader)) for count in COUNTS
    ]
    return Table(
        "After some labelled pieces",
        ("labelled pieces", "right, usual blank", "right, unusual blank"),
        tuple(lines),
        f"mean over {TRIALS} random choices; {len(pieces)} pieces of kinds of artwork not learned on",
    )


def _right(pieces: Sequence[Graded], count: int, grader: GraderModel) -> float:
    """Return the share right of the pieces that were not labelled."""
    shares = []
    for trial in range(TRIALS if count else 1):
        order = np.random.default_rng((trial, 41)).permutation(len(pieces))
        shift = learned_shift(_profile([pieces[place] for place in order[:count]]), grader)
        shares.append(_share(pieces, order[count:].tolist(), shift, grader))
    return float(np.mean(shares))


def _share(pieces: Sequence[Graded], asked: Sequence[int], shift: ShopShift, grader: GraderModel) -> float:
    """Return the share of the asked pieces that are graded right under a shift."""
    right = 0
    for place in asked:
        signs, grade = pieces[place]
        probabilities = grader.probabilities(in_this_shop(signs, shift).named())
        right += max(GRADES, key=lambda name: probabilities[name]) == grade
    return right / len(asked)


def _profile(labelled: Sequence[Graded]) -> ShopProfile:
    """Return the profile of a shop that labelled these pieces."""
    return ShopProfile(
        tuple(
            ShopPiece(number, "", f"{number}.jpg", "", LABELLED, grade, "as designed", asdict(signs))
            for number, (signs, grade) in enumerate(labelled, 1)
        )
    )
