"""Whether the answers are right: verdicts on clear photos, refusals and reasons on spoiled ones."""

from collections.abc import Sequence

from benchmark.inspected import Answer
from benchmark.photo_cases import PhotoCase
from benchmark.tables import Cell, Table

UNDER_AT_MOST = 0.85
GOOD_BETWEEN = (0.93, 1.03)
MILDLY_OVER_FROM = 1.12
OVER_FROM = 1.25
"""Doses between which an answer is counted, as the photos' README defines the states; what lies between
under and good, and between good and over, is a matter of taste, and mildly over is shown apart."""

UNDER, GOOD, OVER, RETAKE = "under-pressed", "good", "over-pressed", "retake"
MILDLY_OVER, BETWEEN = "mildly over", "between the limits"

ANSWERS = (UNDER, GOOD, OVER, RETAKE)
EXPECTED = (UNDER, GOOD, OVER, MILDLY_OVER, BETWEEN)

ACCEPTED_REASONS: dict[str, tuple[str, ...]] = {
    "blurred": ("photo-blurred",),
    "overexposed": ("photo-overexposed",),
    "underexposed": ("photo-underexposed",),
    "card_cut": ("card-clipped", "card-not-found"),
    "no_card": ("card-not-found",),
    "piece_cut": ("piece-clipped",),
    "no_piece": ("piece-not-found",),
    "two_cards": ("two-cards",),
    "glare": ("piece-hidden",),
    "glare_over_piece": ("piece-hidden",),
}
"""Reason codes that are right for what was done to a photo."""

JUDGING_ALLOWED = ("underexposed",)
"""What may also be judged, if rightly: a dark photo can still be measured."""


def expected(dose: float) -> str:
    """Name what a dose ought to be called."""
    if dose <= UNDER_AT_MOST:
        return UNDER
    if GOOD_BETWEEN[0] <= dose <= GOOD_BETWEEN[1]:
        return GOOD
    if dose >= OVER_FROM:
        return OVER
    return MILDLY_OVER if dose >= MILDLY_OVER_FROM else BETWEEN


def confusion(cases: Sequence[PhotoCase], answers: Sequence[Answer]) -> Table:
    """Count the answers on clear photos by what they ought to be."""
    pairs = [(expected(case.dose), answer.verdict) for case, answer in zip(cases, answers, strict=True)]
    rows: list[tuple[Cell, ...]] = []
    for wanted in EXPECTED:
        given = [verdict for name, verdict in pairs if name == wanted]
        if given:
            counts = tuple(given.count(answer) for answer in ANSWERS)
            others = len(given) - sum(counts)
            rows.append((wanted, len(given), *counts, others))
    columns = ("pressed", "photos", *(f"called {answer}" for answer in ANSWERS), "broke off")
    return Table("Verdicts on clear photos", columns, tuple(rows))


def verdict_summary(cases: Sequence[PhotoCase], answers: Sequence[Answer]) -> Table:
    """Shares that matter: right, opposite, refused although usable."""
    pairs = [(expected(case.dose), answer.verdict) for case, answer in zip(cases, answers, strict=True)]
    decided = [(wanted, verdict) for wanted, verdict in pairs if wanted in {UNDER, GOOD, OVER}]
    judged = [(wanted, verdict) for wanted, verdict in decided if verdict != RETAKE]
    opposite = [pair for pair in pairs if pair in {(UNDER, OVER), (OVER, UNDER), (MILDLY_OVER, UNDER)}]
    mild = [verdict for wanted, verdict in pairs if wanted == MILDLY_OVER]
    rows = (
        share_row("right, of clear states (retakes count as wrong)", count_right(decided), len(decided)),
        share_row("right, of those judged", count_right(judged), len(judged)),
        share_row("opposite: under called over or over called under", len(opposite), len(pairs)),
        share_row("retake although usable", sum(verdict == RETAKE for _, verdict in pairs), len(pairs)),
        share_row("mildly over called over-pressed", mild.count(OVER), len(mild)),
        share_row("broke off", sum(bool(answer.trouble) for answer in answers), len(answers)),
    )
    return Table("Verdicts, shares", ("what", "count", "of", "share"), rows)


def count_right(pairs: Sequence[tuple[str, str]]) -> int:
    """Count answers that are what they ought to be."""
    return sum(wanted == verdict for wanted, verdict in pairs)


def share_row(name: str, count: int, total: int) -> tuple[str, int, int, float | None]:
    """One line of a table of shares."""
    return name, count, total, count / total if total else None


def refused_rightly(case: PhotoCase, answer: Answer) -> bool:
    """Tell whether a spoiled photo was refused for the right reason."""
    accepted = ACCEPTED_REASONS.get(case.spoiled, ())
    return answer.verdict == RETAKE and any(code in accepted for code in answer.reasons)


def answered_rightly(case: PhotoCase, answer: Answer) -> bool:
    """The same, or a right verdict where judging is allowed."""
    judged_rightly = case.spoiled in JUDGING_ALLOWED and answer.verdict == case_verdict(case)
    return refused_rightly(case, answer) or judged_rightly


def case_verdict(case: PhotoCase) -> str:
    """The right verdict on a spoiled photo's piece, mildly over counted as over."""
    wanted = expected(case.dose)
    return OVER if wanted == MILDLY_OVER else wanted


def spoiled_table(cases: Sequence[PhotoCase], answers: Sequence[Answer]) -> Table:
    """Answers on spoiled photos, one line each, with the shares in the note."""
    pairs = list(zip(cases, answers, strict=True))
    rows = tuple(
        (case.name, case.spoiled, answer.verdict, ", ".join(answer.reasons), answer.verdict == RETAKE,
         answered_rightly(case, answer))
        for case, answer in pairs
    )  # fmt: skip
    retaken = sum(answer.verdict == RETAKE for answer in answers)
    right = sum(answered_rightly(*pair) for pair in pairs)
    note = f"Retake: {retaken} of {len(pairs)}. Right reason, or rightly judged: {right} of {len(pairs)}."
    columns = ("photo", "spoiled by", "answer", "reasons", "retake", "right")
    return Table("Spoiled photos", columns, rows, note)


def verdict_table(cases: Sequence[PhotoCase], answers: Sequence[Answer]) -> Table:
    """Answers on clear photos, one line each."""
    rows = tuple(
        (case.name, case.dose, expected(case.dose), answer.verdict, answer.confidence,
         ", ".join(answer.reasons), answer.seconds)
        for case, answer in zip(cases, answers, strict=True)
    )  # fmt: skip
    columns = ("photo", "dose", "pressed", "answer", "confidence", "reasons", "seconds")
    return Table("Verdicts by photo", columns, rows)
