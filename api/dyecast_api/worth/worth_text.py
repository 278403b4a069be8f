"""What pressing costs as text tables, and as CSV."""

import csv
import io
from collections.abc import Sequence
from typing import Final

from dyecast_api.printable_text import printable
from dyecast_api.spreadsheet_text import harmless
from dyecast_api.worth.worth_lines import FIRST_PIECE, Worth, WorthLine

HEADINGS: Final = ("pressed", "not good", "lost", "cost of lost", "first piece good")

CSV_COLUMNS: Final = (
    "by",
    "name",
    "pressed",
    "not_good",
    "lost",
    "cost_of_lost",
    "currency",
    "lost_without_cost",
    "runs",
    "first_piece_good",
    "first_piece_yield",
)


def worth_text(worth: Worth) -> str:
    """Return the tables one below the other."""
    tables = [_table(f"By {by}", [*lines, worth.total]) for by, lines in worth.tables]
    return "\n\n".join([*tables, FIRST_PIECE])


def worth_csv(worth: Worth) -> str:
    """Return all lines as CSV, one a currency; a line without cost has empty cells for it."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(CSV_COLUMNS)
    for by, lines in (*worth.tables, ("all", (worth.total,))):
        for line in lines:
            for currency in sorted(line.cost) or [""]:
                writer.writerow(_csv_row(by, line, currency, line.cost.get(currency)))
    return stream.getvalue()


def cells(line: WorthLine) -> tuple[str, ...]:
    """Return a line's figures in words, in the order of `HEADINGS`."""
    return (
        f"{line.pressed}",
        f"{line.not_good}",
        f"{line.lost}",
        cost_words(line),
        yield_words(line),
    )


def cost_words(line: WorthLine) -> str:
    """Return what the lost blanks cost, and of how many that is not known."""
    told = [f"{cost:.2f} {currency}".rstrip() for currency, cost in sorted(line.cost.items())]
    if line.lost_without_cost:
        told.append(f"{line.lost_without_cost} of unknown cost")
    return " and ".join(told) or "-"


def yield_words(line: WorthLine) -> str:
    """Return of how many runs the first piece was good, also in per cent; a dash without runs."""
    share = line.first_piece_yield
    return "-" if share is None else f"{line.first_good} of {line.runs}, {100.0 * share:.0f} %"


def _table(title: str, lines: Sequence[WorthLine]) -> str:
    rows = [(title, *HEADINGS), *((printable(line.name), *cells(line)) for line in lines)]
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    return "\n".join(
        "  ".join(
            cell.ljust(width) if column == 0 else cell.rjust(width)
            for column, (cell, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in rows
    )


def _csv_row(by: str, line: WorthLine, currency: str, cost: float | None) -> list[object]:
    share = line.first_piece_yield
    return [
        by,
        harmless(line.name),
        line.pressed,
        line.not_good,
        line.lost,
        "" if cost is None else round(cost, 4),
        currency,
        line.lost_without_cost,
        line.runs,
        line.first_good,
        "" if share is None else round(share, 4),
    ]
