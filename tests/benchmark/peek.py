"""Whether the answers to peeks are right: made peeks of known dose and visible share."""

import tempfile
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import cv2
import numpy as np

from benchmark.in_turn import in_turn
from benchmark.tables import Cell, Table
from benchmark.verdicts import GOOD, OVER, UNDER, share_row
from dyecast_inspect.inspection import PeekAnswer
from dyecast_inspect.peek import peek_photo
from dyecast_inspect.read_artwork import read_artwork
from scenes.peeking import SHARES, peeked_scene
from scenes.pressing import GOOD_DOSE, OVER_DOSE, UNDER_DOSE
from scenes.render import render, write_photo

FIRST_SEED = 1000
"""Scenes of the other parts of the benchmark have lower seeds."""

DOSES = ((UNDER, UNDER_DOSE), (GOOD, GOOD_DOSE), (OVER, OVER_DOSE))
"""Pressings in turn, and the doses each is drawn from."""

SHARE_STEPS = 20
SHARE_STRIDE = 7
"""The range of visible shares is cut into this many steps, taken in an order that mixes small and large."""

SHARE_EDGES = (0.10, 0.15, 0.25, 0.40, 0.60)
"""Visible shares between which the answers are counted; below 0.15 nothing need be told."""

WRONG = {(UNDER, PeekAnswer.ENOUGH), (GOOD, PeekAnswer.NOT_ENOUGH), (OVER, PeekAnswer.NOT_ENOUGH)}
"""Pressing and answer that do harm: a piece that stays pale, or one heated for nothing."""


@dataclass(frozen=True, slots=True)
class Peeked:
    """One made peek: how it was pressed, what shows of it, the answer and its first reason."""

    pressed: str
    dose: float
    share: float
    answer: PeekAnswer
    reason: str

    @property
    def wrong(self) -> bool:
        """Tell whether acting on the answer would spoil the piece."""
        return (self.pressed, self.answer) in WRONG


def peek_tables(count: int, *, jobs: int) -> list[Table]:
    """Make `count` peeks by seed, ask, and count the answers."""
    peeks = in_turn(made_peek, range(count), jobs=jobs, what="peeks")
    return [summary(peeks), by_pressing(peeks), by_share(peeks), untold(peeks)]


def made_peek(number: int) -> Peeked:
    """Make one peek, the same for the same number, and ask about it."""
    pressed, doses = DOSES[number % len(DOSES)]
    random = np.random.default_rng((number, 31))
    dose = float(random.uniform(*doses))
    step = number // len(DOSES) * SHARE_STRIDE % SHARE_STEPS
    share = SHARES[0] + (SHARES[1] - SHARES[0]) * (step + float(random.uniform())) / SHARE_STEPS
    scene = peeked_scene(FIRST_SEED + number, dose, share)
    with tempfile.TemporaryDirectory() as folder:
        photo, artwork = Path(folder) / "photo.jpg", Path(folder) / "artwork.png"
        write_photo(photo, render(scene, number))
        if scene.piece is not None:
            cv2.imwrite(str(artwork), scene.piece.artwork[..., ::-1])
        inspection = peek_photo(photo, read_artwork(artwork))
    answer = PeekAnswer.CANT_TELL if inspection.peek is None else inspection.peek.answer
    return Peeked(pressed, dose, share, answer, inspection.reasons[0].code)


def summary(peeks: Sequence[Peeked]) -> Table:
    """Shares that matter."""
    clear = [peek for peek in peeks if peek.pressed != OVER]
    told = [peek for peek in clear if peek.answer is not PeekAnswer.CANT_TELL]
    enough_to_see = [peek for peek in clear if peek.share >= SHARE_EDGES[1]]
    rows = (
        share_row("wrong, of under-pressed and good", sum(peek.wrong for peek in clear), len(clear)),
        share_row("right, of those told", sum(not peek.wrong for peek in told), len(told)),
        share_row(
            "can't tell, of under-pressed and good that show 15 % or more",
            sum(peek.answer is PeekAnswer.CANT_TELL for peek in enough_to_see),
            len(enough_to_see),
        ),
        share_row(
            "over-pressed called not enough",
            sum(peek.wrong for peek in peeks if peek.pressed == OVER),
            sum(peek.pressed == OVER for peek in peeks),
        ),
    )
    return Table("Peeks, shares", ("what", "count", "of", "share"), rows)


def by_pressing(peeks: Sequence[Peeked]) -> Table:
    """Count the answers by how the piece was pressed."""
    groups = [
        (f"{name}, dose {low:.2f} to {high:.2f}", [peek for peek in peeks if peek.pressed == name])
        for name, (low, high) in DOSES
    ]
    return _counted("Peeks by pressing", "pressed", groups)


def by_share(peeks: Sequence[Peeked]) -> Table:
    """Count the answers by how much of the artwork shows."""
    groups = [
        (f"{100 * low:.0f} to {100 * high:.0f} %", [peek for peek in peeks if low <= peek.share < high])
        for low, high in pairwise(SHARE_EDGES)
    ]
    return _counted("Peeks by what shows", "share of the artwork", groups)


def untold(peeks: Sequence[Peeked]) -> Table:
    """Count why peeks could not be told."""
    reasons = Counter(peek.reason for peek in peeks if peek.answer is PeekAnswer.CANT_TELL)
    rows: tuple[tuple[Cell, ...], ...] = tuple(reasons.most_common())
    return Table("Peeks that could not be told", ("reason", "count"), rows)


def _counted(title: str, column: str, groups: Sequence[tuple[str, list[Peeked]]]) -> Table:
    """Count answers and wrong ones group by group."""
    rows: list[tuple[Cell, ...]] = []
    for name, group in groups:
        counts = Counter(peek.answer for peek in group)
        answers = (counts[answer] for answer in PeekAnswer)
        rows.append((name, len(group), *answers, sum(peek.wrong for peek in group)))
    return Table(title, (column, "peeks", *(answer.value for answer in PeekAnswer), "wrong"), tuple(rows))
