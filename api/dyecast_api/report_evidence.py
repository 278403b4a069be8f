"""The parts of a report that show how the figures came about: press figures, photo checks, card, notes.

Each function returns one HTML section, or an empty string when there is nothing to show.
"""

import re
from collections.abc import Sequence
from typing import Final

from dyecast_api.html_text import html_text
from dyecast_api.plain_words import CHECK_NAMES, check_words, feature_lines, number_words, percent_words
from dyecast_calibration.metamerism import DeltaERange, metamerism_range
from dyecast_inspect.inspection import (
    CardReport,
    Inspection,
    PhotoCheck,
    PieceReport,
    PressFeatures,
    Reason,
    Verdict,
)

DYE_NAMES: Final = ("cyan", "magenta", "yellow")
TRUST_MEANINGS: Final = {
    "as designed": "the colours the card was designed with; every print differs from them a little, so "
    "measuring your card makes verdicts surer",
    "measured": "measured on this card with a spectrophotometer",
    "transferred": "taken from photos of this card beside one of known colours",
}
"""What the levels of trust mean, by the values of `dyecast_calibration.card_values.Trust`."""

ONE_PATCH: Final = re.compile(r"Patch (\S+) is (.*)")
"""A sentence about one patch of the card: its name, and what is said of it."""

TONE_NAMES: Final = ("highlights", "midtones", "shadows")


def figures_section(features: PressFeatures | None) -> str:
    """Show what was measured of the pressing, each with its uncertainty and what it is."""
    if features is None:
        return ""
    rows = "".join(_row(line.name, line.figure, line.meaning) for line in feature_lines(features))
    rows += _shares_row("Ink that arrived, by dye", features.transferred_by_dye, DYE_NAMES)
    rows += _shares_row("Ink that arrived, by tone", features.transferred_by_tone, TONE_NAMES)
    return (
        f'<section><h2>What was measured</h2><dl class="rows">{rows}</dl>'
        '<p class="quiet">The figure after \u00b1 is one standard uncertainty.</p></section>'
    )


def _row(name: str, figure: str, meaning: str = "") -> str:
    explained = f'<dd class="meaning">{html_text(meaning)}</dd>' if meaning else ""
    return f"<div><dt>{html_text(name)}</dt><dd>{html_text(figure)}</dd>{explained}</div>"


def _shares_row(name: str, shares: dict[str, float], order: tuple[str, ...]) -> str:
    known = [f"{key}\u00a0{percent_words(shares[key])}" for key in order if key in shares]
    return _row(name, ", ".join(known)) if known else ""


def checks_section(checks: tuple[PhotoCheck, ...]) -> str:
    """Show each check of the photo with value and limit, failed ones first and with advice."""
    if not checks:
        return ""
    ordered = sorted(checks, key=lambda check: check.passed)
    items = "".join(_check(check) for check in ordered)
    return f'<section><h2>Checks of the photo</h2><ul class="checks">{items}</ul></section>'


def _check(check: PhotoCheck) -> str:
    mark, word, style = ("\u2713", "passed", "") if check.passed else ("\u2717", "failed", ' class="failed"')
    name = CHECK_NAMES.get(check.name, check.name)
    advice = f"<p>{html_text(check.advice)}</p>" if check.advice and not check.passed else ""
    return (
        f'<li{style}><span class="mark" aria-hidden="true">{mark}</span><div><div class="head">'
        f'<span class="name">{html_text(name)}: {word}</span>'
        f'<span class="figures">{html_text(check_words(check))}</span></div>{advice}</div></li>'
    )


def card_section(inspection: Inspection) -> str:
    """Say which card was seen, how far its colours are to be trusted, and how the piece was matched."""
    card, piece = inspection.card, inspection.piece
    rows = _card_rows(card) if card is not None else ""
    if piece is not None and inspection.verdict is not Verdict.RETAKE:
        rows += _piece_rows(piece)
    if not rows:
        return ""
    return f'<section><h2>Card and piece</h2><dl class="rows">{rows}</dl></section>'


def _card_rows(card: CardReport) -> str:
    rows = _row("Card", f"{card.layout}, edition {card.edition}")
    rows += _row("Trust in the card's colours", card.trust, TRUST_MEANINGS.get(card.trust, ""))
    if card.correction is not None and card.leave_one_out_mean is not None:
        rows += _row(
            "The card's own test",
            f"\u0394E00 {number_words(card.leave_one_out_mean)} mean, "
            f"{number_words(card.leave_one_out_p95 or 0.0)} at 95 %",
            "each patch predicted from all the others: what the correction itself is uncertain by",
        )
        rows += _metamerism_row(card.metamerism)
        rows += _row("Correction", card.correction)
    if card.missing_markers:
        rows += _row("Markers not seen", ", ".join(str(marker) for marker in card.missing_markers))
    if card.left_out_patches:
        rows += _row("Patches left out", " ".join(patches_left_out(card.left_out_patches)))
    return rows


def _metamerism_row(metamerism: DeltaERange) -> str:
    same_dyes = metamerism_range(same_dyes=True)
    return _row(
        "Added by metamerism",
        f"\u0394E00 {number_words(metamerism.low)} to {number_words(metamerism.high)} mean",
        "what no correction can undo, least in daylight and white LED light, most in warm light, and a photo "
        "does not tell which it was; a card pressed with the piece's own dyes would make it "
        f"{number_words(same_dyes.low)} to {number_words(same_dyes.high)}",
    )


def patches_left_out(reasons: Sequence[Reason]) -> list[str]:
    """Say which patches were left out and why; those that share a reason share a sentence."""
    names_by_rest: dict[str, list[str]] = {}
    for reason in reasons:
        told = ONE_PATCH.fullmatch(reason.sentence)
        name, rest = told.groups() if told else ("", reason.sentence)
        names_by_rest.setdefault(rest, []).append(name)
    return [_told_of(names, rest) for rest, names in names_by_rest.items()]


def _told_of(names: Sequence[str], rest: str) -> str:
    """Say of one or several patches what was said of each; of none, just that."""
    if not names[0]:
        return rest
    return f"Patch {names[0]} is {rest}" if len(names) == 1 else f"Patches {', '.join(names)} are {rest}"


def _piece_rows(piece: PieceReport) -> str:
    size = f"{number_words(piece.width_mm, 0)} mm × {number_words(piece.height_mm, 0)} mm"
    rows = _row("Piece", size + (", mirrored" if piece.mirrored else ""))
    rows += _row("Matched with the artwork within", f"{number_words(piece.registration_mm, 2)} mm")
    if piece.hidden_share is None:
        return rows
    return rows + _row("Hidden by glare or an object", percent_words(piece.hidden_share))


def notes_section(notes: tuple[str, ...]) -> str:
    """Show what else a user should know about how the photo was read."""
    if not notes:
        return ""
    items = "".join(f"<li>{html_text(note)}</li>" for note in notes)
    return f'<section><h2>Notes</h2><ul class="notes">{items}</ul></section>'
