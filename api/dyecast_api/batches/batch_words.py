"""A batch and its pieces in lines of words, for the terminal and the page."""

from collections.abc import Sequence
from itertools import pairwise
from typing import Final

from dyecast_api.batches.batch_values import Batch, BatchPiece, BatchState
from dyecast_api.printable_text import printable

STATE_WORDS: Final = {
    BatchState.STARTED: "the first piece is not approved yet",
    BatchState.APPROVED: "first piece approved",
    BatchState.HELD: "first piece held",
    BatchState.CLOSED: "closed",
}


def batch_line(batch: Batch, pieces: int) -> str:
    """Return a batch in a line."""
    told = [batch.name, f"started {batch.started_at:%Y-%m-%d %H:%M} UTC", _count_words(batch, pieces)]
    return printable("  ".join([*told, state_words(batch)]))


def state_words(batch: Batch) -> str:
    """Return how far a batch is, and who brought it there."""
    if batch.state is BatchState.CLOSED:
        told = "closed" if batch.certificate is not None else "given up"
        return f"{told} by {batch.closed_by}"
    by = f" by {batch.decided_by}" if batch.decided_by else ""
    return f"{STATE_WORDS[batch.state]}{by}"


def piece_line(piece: BatchPiece) -> str:
    """Return a piece in a line: its number, when it was pressed, its grade, and what was measured."""
    one = piece.pressing
    told = [
        f"Piece {piece.number:3}",
        f"{one.pressed_at:%Y-%m-%d %H:%M} UTC",
        f"{one.grade} by {one.judged_by}",
        *figure_words(piece),
    ]
    told += ["lost"] if one.lost else []
    told += [one.note] if one.note else []
    return printable("  ".join(told))


def figure_words(piece: BatchPiece) -> list[str]:
    """Return what was measured on a piece, each with its unit; what is not known is left out."""
    one = piece.pressing
    told = []
    if one.transferred_fraction is not None:
        own = one.transferred_fraction_uncertainty
        about = "" if own is None else f" ± {100 * own:.0f}"
        told.append(f"{100 * one.transferred_fraction:.0f}{about} % of the ink")
    if one.delta_e_2000_first is not None:
        told.append(f"ΔE00 {one.delta_e_2000_first:.1f} from the first piece")
    if one.veil is not None:
        told.append(f"veil {100 * one.veil:.1f} %")
    return told


def clock_notes(pieces: Sequence[BatchPiece]) -> tuple[str, ...]:
    """Return a sentence for each piece that is dated before the piece in front of it."""
    return tuple(
        f"Piece {later.number} is dated before piece {earlier.number}: was the clock set back? "
        "The pieces count in the order of their numbers."
        for earlier, later in pairwise(pieces)
        if later.pressing.pressed_at < earlier.pressing.pressed_at
    )


def _count_words(batch: Batch, pieces: int) -> str:
    planned = "" if batch.planned_pieces is None else f" of {batch.planned_pieces} planned"
    every = "" if batch.every_nth == 1 else f", every {ordinal(batch.every_nth)} piece"
    return f"{pieces} inspected{planned}{every}"


def ordinal(number: int) -> str:
    """Return a number as a place in a row.

    >>> ordinal(2), ordinal(11), ordinal(23)
    ('2nd', '11th', '23rd')
    """
    endings = {1: "st", 2: "nd", 3: "rd"}
    return f"{number}{'th' if number % 100 in {11, 12, 13} else endings.get(number % 10, 'th')}"


def number_spans(numbers: Sequence[int]) -> str:
    """Return rising numbers in words, three or more in a row as a span, such as ``7, 23 to 30``.

    >>> number_spans([1, 2, 7, 23, 24, 25])
    '1, 2, 7, 23 to 25'
    """
    rows: list[list[int]] = []
    for number in numbers:
        if rows and number == rows[-1][-1] + 1:
            rows[-1].append(number)
        else:
            rows.append([number])
    told = [f"{row[0]} to {row[-1]}" if len(row) > 2 else ", ".join(map(str, row)) for row in rows]
    return ", ".join(told)
