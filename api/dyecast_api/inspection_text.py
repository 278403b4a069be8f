"""An inspection as lines of plain text for a terminal: verdict first, evidence after, what to do last."""

import textwrap
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from dyecast_api.answer_words import heading_words, short_words
from dyecast_api.plain_words import (
    CHECK_NAMES,
    FAULT_NAMES,
    REFERENCE_WORDS,
    VERDICT_SYMBOL,
    check_words,
    confidence_words,
    estimate_words,
    number_words,
    percent_words,
)
from dyecast_api.printable_text import printable
from dyecast_inspect.inspection import Advice, ColourDifference, Fault, Inspection, PhotoCheck, Verdict

LINE_WIDTH: Final = 88
"""Characters in a line, the indent included: fits a terminal of 90 and stays easy to read."""


def inspection_text(inspection: Inspection, page: Path | None = None) -> str:
    """Return an inspection in full; `page` is its report page when one was written.

    The first line is the verdict in words with its symbol, and the photo.
    """
    lines = [
        f"{verdict_text(inspection)}  {inspection.photo}",
        *_confidence_lines(inspection),
        *_difference_lines(inspection),
        *_figure_lines(inspection),
        *_titled("Why", [reason.sentence for reason in inspection.reasons]),
        *_titled("Fault", [_fault_words(fault) for fault in inspection.faults]),
        *_titled("Not judged", [reason.sentence for reason in inspection.faults_not_judged]),
        *_advice_lines(inspection.advice),
        *_titled("Check", [_failed_words(check) for check in inspection.checks if not check.passed]),
        *_titled("Note", list(inspection.notes)),
        *([f"  Report: {page}"] if page is not None else []),
    ]
    return "\n".join(map(printable, lines))


def inspection_line(inspection: Inspection, page: Path | None = None) -> str:
    """Return an inspection in one line: verdict, photo, confidence or reason, difference, report page."""
    parts = [f"{verdict_text(inspection)}  {inspection.photo}"]
    if inspection.verdict is Verdict.RETAKE:
        parts += [reason.sentence.rstrip(".") for reason in inspection.reasons[:1]]
    else:
        parts.append(confidence_words(inspection))
    if inspection.delta_e_2000 is not None and inspection.verdict is not Verdict.RETAKE:
        parts.append(f"ΔE00 {number_words(inspection.delta_e_2000.mean)} mean")
    if inspection.faults:
        parts.append(", ".join(dict.fromkeys(FAULT_NAMES[fault.code].lower() for fault in inspection.faults)))
    if page is not None:
        parts.append(str(page))
    return printable("; ".join(parts))


def summary_line(verdicts: Sequence[Verdict], *, peek: bool = False) -> str:
    """Return how many photos got which verdict, or which answer of a peek, in words."""
    counts = Counter(verdicts)
    told = [f"{counts[verdict]} {short_words(verdict, peek=peek)}" for verdict in Verdict if counts[verdict]]
    return f"{len(verdicts)} photos: {', '.join(told)}."


def verdict_text(inspection: Inspection) -> str:
    """Return the verdict, or the answer to a peek, in words, and its symbol."""
    words = heading_words(inspection.verdict, peek=inspection.peek is not None)
    return f"{words} {VERDICT_SYMBOL[inspection.verdict]}"


def _confidence_lines(inspection: Inspection) -> list[str]:
    if inspection.verdict is Verdict.RETAKE:
        return []
    words = confidence_words(inspection)
    return _indented(f"{words[:1].upper()}{words[1:]}.")


def _indented(text: str, first: str = "  ", rest: str = "  ") -> list[str]:
    return textwrap.wrap(text, LINE_WIDTH, initial_indent=first, subsequent_indent=rest)


def _difference_lines(inspection: Inspection) -> list[str]:
    if inspection.verdict is Verdict.RETAKE:
        return []
    compared: tuple[tuple[str, ColourDifference | None], ...] = (
        (REFERENCE_WORDS[inspection.compared_with], inspection.delta_e_2000),
        ("the approved piece", inspection.delta_e_2000_approved),
        ("the look of this shop's approved pieces", _shop_difference(inspection)),
        ("what the printer can reach", inspection.delta_e_2000_printer),
    )
    return [
        f"  ΔE00 from {name}: {number_words(difference.mean)} mean, "
        f"{number_words(difference.median)} median, {number_words(difference.p95)} at 95 %"
        for name, difference in compared
        if difference is not None
    ]


def _shop_difference(inspection: Inspection) -> ColourDifference | None:
    return None if inspection.shop is None else inspection.shop.delta_e_2000


def _figure_lines(inspection: Inspection) -> list[str]:
    features = inspection.features
    if features is None or inspection.verdict is Verdict.RETAKE:
        return []
    told = {
        "ink that arrived": ("transferred_fraction", features.transferred_fraction),
        "veil of mirrored light": ("veil", features.veil),
        "yellowing by heat": ("coating_yellowing", features.coating_yellowing),
        "detail lost": ("detail_loss", features.detail_loss),
    }
    words = [f"{name} {estimate_words(field, estimate)}" for name, (field, estimate) in told.items()]
    return _indented(f"Measured: {', '.join(words)}.", rest="    ")


def _titled(title: str, sentences: Sequence[str]) -> list[str]:
    lines = [_indented(sentence, f"  {title}: ", "    ") for sentence in sentences]
    return [line for wrapped in lines for line in wrapped]


def _fault_words(fault: Fault) -> str:
    return f"{fault.sentence} ({percent_words(fault.confidence)} sure)"


def _failed_words(check: PhotoCheck) -> str:
    return f"{CHECK_NAMES.get(check.name, check.name)}: {check_words(check)}. {check.advice}".strip()


def _advice_lines(advice: Sequence[Advice]) -> list[str]:
    lines: list[str] = []
    said: set[str] = set()
    for step in advice:
        lines += _indented(f"{step.sentence} {step.because}".strip(), "  Next: ", "    ")
        if step.caution and step.caution not in said:
            said.add(step.caution)
            lines += _indented(step.caution, "    Caution: ", "      ")
    return lines
