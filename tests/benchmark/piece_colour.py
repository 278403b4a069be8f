"""How well the piece's colour is measured: the product beside its rivals and the floors, photo by photo."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from benchmark.floor import best_global, gain_and_veil
from benchmark.handed_photo import hand_over
from benchmark.in_turn import in_turn
from benchmark.inspected import Answer
from benchmark.photo_cases import PhotoCase
from benchmark.piece_error import PieceError, light_error, piece_error
from benchmark.rivals import RIVALS
from benchmark.tables import Cell, Table, spread
from dyecast_calibration.card_layout import CardLayout

OURS = "dyecast"
JUDGED = "dyecast, part judged"
FLOORS_START_FROM = "colour-science root-polynomial"
GAIN_AND_VEIL = "floor: gain and veil"
METAMERIC = "floor: best global"
FLOOR_NOTE = (
    "Floors see the truth: 'gain and veil' fits one of each per channel after the root-polynomial; "
    "'best global' fits the root-polynomial and a veil itself."
)

LITTLE_GLARE = 0.05
"""Share of the piece that mirrors over 5 % of white, below which a photo counts as free of strong glare."""

Errors = Mapping[str, float]
"""Median CIEDE2000 of one photo by the method's name."""


def rival_errors(case: PhotoCase, card: CardLayout, *, floors: bool) -> dict[str, float]:
    """Score every rival, and the floors when wanted, on one photo."""
    handed, reference = hand_over(case, card), case.reference()
    everything = np.ones(reference.shape[:2], dtype=np.float32)
    pieces = {name: rival(handed) for name, rival in RIVALS.items()}
    if floors:
        corrected = pieces[FLOORS_START_FROM]
        pieces[GAIN_AND_VEIL] = gain_and_veil(corrected, reference)
        pieces[METAMERIC] = best_global(handed, corrected, reference)
    return {name: light_error(piece, everything, reference).median for name, piece in pieces.items()}


def all_rival_errors(
    cases: Sequence[PhotoCase], card: CardLayout, *, floors: bool, jobs: int
) -> list[dict[str, float]]:
    """Score the rivals on every photo."""
    return in_turn(partial(rival_errors, card=card, floors=floors), cases, jobs=jobs, what="rivals")


@dataclass(frozen=True, slots=True)
class OurErrors:
    """The product's scores on one photo: of the picture it writes, and of the part it judged."""

    written: PieceError
    judged: PieceError


def our_errors(case: PhotoCase, answer: Answer) -> OurErrors | None:
    """Score the product's measured piece, or None for a retake or a photo without one."""
    if answer.measured is None or answer.verdict in {"retake", "none"}:
        return None
    written = piece_error(answer.measured, case.reference())
    if answer.judged is None:
        return OurErrors(written, written)
    alpha = np.where(answer.judged, 255, 0).astype(np.uint8)
    return OurErrors(written, piece_error(np.dstack([answer.measured[..., :3], alpha]), case.reference()))


OUR_COLUMNS = (f"{OURS} median", f"{OURS} p95", JUDGED, "judged share")


def our_cells(errors: OurErrors | None) -> tuple[Cell, ...]:
    """The product's part of a line, under `OUR_COLUMNS`."""
    if errors is None:
        return (None,) * len(OUR_COLUMNS)
    return errors.written.median, errors.written.p95, errors.judged.median, errors.judged.judged_share


def piece_table(
    cases: Sequence[PhotoCase], ours: Sequence[OurErrors | None], rivals: Sequence[Errors]
) -> Table:
    """Every photo with its light, table, material, glare and scores."""
    rows: list[tuple[Cell, ...]] = []
    for case, errors, others in zip(cases, ours, rivals or [{}] * len(cases), strict=True):
        described = (case.name, case.light, str(case.truth["table"]), str(case.truth["piece"]["material"]))
        own = our_cells(errors) if any(ours) else ()
        rows.append((*described, round(case.strong_glare_share, 2), case.dose, *own, *others.values()))
    names = (*(OUR_COLUMNS if any(ours) else ()), *(rivals[0] if rivals else ()))
    columns = ("photo", "light", "table", "material", "glare share", "dose", *names)
    return Table("Piece colour by photo, median CIEDE2000 of local averages", columns, tuple(rows))


def by_method(ours: Sequence[OurErrors | None], rivals: Sequence[Errors]) -> dict[str, list[float]]:
    """Errors of every method over the photos; NaN where the product judged nothing."""
    methods: dict[str, list[float]] = {}
    if any(ours):
        methods[OURS] = [math.nan if errors is None else errors.written.median for errors in ours]
        methods[JUDGED] = [math.nan if errors is None else errors.judged.median for errors in ours]
    return methods | {name: [errors[name] for errors in rivals] for name in (rivals[0] if rivals else {})}


def colour_summary(
    cases: Sequence[PhotoCase], ours: Sequence[OurErrors | None], rivals: Sequence[Errors]
) -> Table:
    """Compare the methods over all photos, those without strong glare, and those the product judged."""
    judged = [errors is not None for errors in ours]
    little_glare = [case.strong_glare_share < LITTLE_GLARE for case in cases]
    groups = {
        "all clear photos": [True] * len(cases),
        f"less than {100 * LITTLE_GLARE:.0f} % in strong glare": little_glare,
    } | ({f"judged by {OURS}": judged} if any(judged) and not all(judged) else {})
    rows = []
    for group, members in groups.items():
        for name, errors in by_method(ours, rivals).items():
            found = spread([error for error, member in zip(errors, members, strict=True) if member])
            rows.append((group, name, found.count, found.median, found.p95, found.worst))
    columns = ("photos", "method", "count", "median", "p95", "worst")
    note = f"{ratio_note(ours, rivals)} {FLOOR_NOTE if rivals else ''}".strip()
    return Table("Piece colour, median CIEDE2000 per photo", columns, tuple(rows), note)


def ratio_note(ours: Sequence[OurErrors | None], rivals: Sequence[Errors]) -> str:
    """Say how the product compares with the best rival on the photos it judged."""
    judged = [number for number, errors in enumerate(ours) if errors is not None]
    if not judged or not rivals:
        return ""
    medians = {name: float(np.median([rivals[number][name] for number in judged])) for name in RIVALS}
    best = min(medians, key=lambda name: medians[name])
    own = float(np.median([errors.written.median for errors in ours if errors is not None]))
    quotient = f"{own:.2f} / {medians[best]:.2f} = {own / medians[best]:.2f}"
    return f"On the photos judged, {OURS} / best rival ({best}) = {quotient}."
