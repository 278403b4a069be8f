"""Faults: how many are seen, how many are seen that are not there, and whether one pulls the verdict."""

import tempfile
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Final

import cv2

from benchmark.in_turn import in_turn
from benchmark.inspected import Answer
from benchmark.tables import Cell, Table
from dyecast_inspect.inspection import Inspection, Verdict
from dyecast_inspect.pipeline import inspect_photo
from dyecast_inspect.read_artwork import read_artwork
from scenes.faults import Banding, Bubbles, Fault, Ghost, Lint, OffCentre, Pale, Scratch, Speck, WrongSize
from scenes.faulty import faultless_scene, faulty_scene
from scenes.render import render, write_photo

FAULT_CODES: Final = (
    "mirrored-print",
    "wrong-print-size",
    "off-centre",
    "uneven",
    "ghosting",
    "banding",
    "lint-or-dust",
    "unknown-blemish",
)

FAULTLESS: Final = "faultless"

EXPECTED: Final = {
    "mirrored": ("mirrored-print", "whole print"),
    "wrong size": ("wrong-print-size", "scale off by 5 to 10 %"),
    "slightly wrong size": ("wrong-print-size", "scale off by 2 to 5 %"),
    "off-centre": ("off-centre", "2.5 to 5.5 mm"),
    "pale corner": ("uneven", "35 to 60 % less ink, reaching over 45 to 70 % of the long side"),
    "pale side": ("uneven", "35 to 50 % less ink, reaching over 30 to 50 % of the piece"),
    "lint": ("lint-or-dust", "fibre 0.4 to 0.6 mm wide, 2 to 5 mm long, and speck of 0.8 to 1.8 mm"),
    "scratch": ("unknown-blemish", "0.4 to 0.8 mm wide, 12 to 30 mm long"),
    "bubbles": ("unknown-blemish", "nine of 0.8 to 2 mm"),
    "ghost": ("ghosting", "15 to 35 % of the dye, 1 to 5 mm away"),
    "banding": ("banding", "15 to 30 % less of a dye, every 2.5 to 9 mm"),
}
"""Code that should be told for each kind of made fault, and the sizes drawn."""

MARKS: Final = ("lint-or-dust", "unknown-blemish")
"""Codes of marks: one told for the other is still a fault seen."""

KINDS_PER_FAULTLESS: Final = 5
"""Faultless pieces for each piece of every kind."""

PULLED: Final = ("pale corner", "pale side", "lint", "scratch", "bubbles", "ghost", "banding")
"""Kinds whose piece is otherwise the same as the faultless one of the same seed."""


@dataclass(frozen=True, slots=True)
class FaultAnswer:
    """What was told about one made piece; `size` grows with how plain the fault is."""

    kind: str
    seed: int
    size: float
    verdict: str
    codes: tuple[str, ...]
    probabilities: dict[str, float]


def fault_tables(faultless: int, *, jobs: int, first_seed: int = 0) -> list[Table]:
    """Make and inspect pieces without fault, and a fifth as many with each fault, from a seed on."""
    orders = [(FAULTLESS, first_seed + piece) for piece in range(faultless)]
    of_each = max(faultless // KINDS_PER_FAULTLESS, 1)
    orders += [(kind, first_seed + piece) for kind in EXPECTED for piece in range(of_each)]
    with tempfile.TemporaryDirectory() as folder:
        answers: Sequence[FaultAnswer] = in_turn(
            partial(_answer, Path(folder)), orders, jobs=jobs, what="made faults"
        )
    judged = [answer for answer in answers if answer.verdict != Verdict.RETAKE.value]
    return [
        detection_table(judged),
        alarm_table("made faultless pieces", [a.codes for a in judged if a.kind == FAULTLESS]),
        pull_table(judged),
    ]


def photo_alarm_table(answers: Sequence[Answer]) -> Table:
    """Count alarms on photos whose pieces have no fault."""
    judged = [a.faults for a in answers if a.verdict in {v.value for v in Verdict} - {Verdict.RETAKE.value}]
    return alarm_table("photos of faultless pieces", judged)


def _answer(folder: Path, order: tuple[str, int]) -> FaultAnswer:
    kind, seed = order
    scene = faultless_scene(seed) if kind == FAULTLESS else faulty_scene(kind, seed)
    piece = scene.piece
    assert piece is not None
    photo, drawn = folder / f"{kind}-{seed}.jpg", folder / f"{kind}-{seed}.png"
    write_photo(photo, render(scene, seed))
    cv2.imwrite(str(drawn), piece.artwork[..., ::-1])
    intended = (piece.width_mm - 2 * piece.border_mm, piece.height_mm - 2 * piece.border_mm)
    inspection = inspect_photo(photo, replace(read_artwork(drawn), print_size_mm=intended))
    photo.unlink()
    return _told(kind, seed, piece.faults, inspection)


def _told(kind: str, seed: int, faults: tuple[Fault, ...], inspection: Inspection) -> FaultAnswer:
    codes = tuple(fault.code for fault in inspection.faults)
    size = min((plainness(fault) for fault in faults), default=1.0)
    return FaultAnswer(kind, seed, size, inspection.verdict.value, codes, inspection.probabilities)


def plainness(fault: Fault) -> float:
    """Return the figure by which faults of one kind are ordered from faint to plain."""
    match fault:
        case Ghost():
            figure = fault.share
        case Banding() | Pale():
            figure = fault.depth
        case Lint():
            figure = fault.width_mm * 2.0
        case Speck():
            figure = fault.diameter_mm
        case Scratch():
            figure = fault.width_mm
        case Bubbles():
            figure = sum(diameter for _, _, diameter in fault.spots)
        case WrongSize():
            figure = abs(fault.factor - 1.0)
        case OffCentre():
            figure = float((fault.right_mm**2 + fault.down_mm**2) ** 0.5)
    return figure


def detection_table(judged: Sequence[FaultAnswer]) -> Table:
    """Count the faults seen, by kind, in the fainter and in the plainer half."""
    rows: list[tuple[Cell, ...]] = []
    for kind, (code, sizes) in EXPECTED.items():
        of_kind = sorted((a for a in judged if a.kind == kind), key=lambda answer: answer.size)
        wanted = MARKS if code in MARKS else (code,)
        seen = [bool(set(wanted) & set(answer.codes)) for answer in of_kind]
        named = sum(code in answer.codes for answer in of_kind)
        half = len(seen) // 2
        rows.append((kind, sizes, _of(seen), _of(seen[:half]), _of(seen[half:]), f"{named} of {len(seen)}"))
    columns = ("kind", "sizes drawn", "seen", "fainter half", "plainer half", "named rightly")
    return Table("Faults seen on made pieces", columns, tuple(rows), "Goal: 90 % of each kind.")


def alarm_table(what: str, told: Sequence[tuple[str, ...]]) -> Table:
    """Count, code by code, the faultless pieces on which a fault was told."""
    rows = tuple(
        (code, _of([code in codes for codes in told]))
        for code in FAULT_CODES
    )  # fmt: skip
    anything = ("any", _of([bool(codes) for codes in told]))
    return Table(f"False alarms, {what}", ("code", "told"), (*rows, anything), "Goal: 2 % of each at most.")


def pull_table(judged: Sequence[FaultAnswer]) -> Table:
    """Compare the verdict with that of the same piece without its fault."""
    without = {answer.seed: answer for answer in judged if answer.kind == FAULTLESS}
    rows: list[tuple[Cell, ...]] = []
    for kind in PULLED:
        pairs = [(a, without[a.seed]) for a in judged if a.kind == kind and a.seed in without]
        changes = [
            max(abs(one.probabilities[name] - other.probabilities[name]) for name in one.probabilities)
            for one, other in pairs
        ]
        flipped = sum(one.verdict != other.verdict for one, other in pairs)
        middle = sorted(changes)[len(changes) // 2] if changes else None
        rows.append((kind, len(pairs), middle, max(changes, default=None), flipped))
    columns = ("kind", "pieces", "median change", "largest change", "other verdicts")
    note = "Change of the probability that changed most, against the same piece without the fault."
    return Table("How far a fault pulls the verdict", columns, tuple(rows), note)


def _of(seen: Sequence[bool]) -> str:
    return f"{sum(seen)} of {len(seen)}"
