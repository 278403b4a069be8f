"""A table as a value: printed as Markdown, written as JSON."""

import json
import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np

Cell = str | int | float | bool | None


@dataclass(frozen=True, slots=True)
class Table:
    """One table: a title, the columns' names with their units, the rows, and a note in plain words."""

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    note: str = ""


@dataclass(frozen=True, slots=True)
class Spread:
    """How a set of errors lies: how many, the middle, the 95th percentile and the worst (NaN when empty)."""

    count: int
    median: float
    p95: float
    worst: float


def spread(values: Sequence[float]) -> Spread:
    """Summarise errors; NaN entries are left out."""
    known = np.array([value for value in values if not math.isnan(value)])
    if not len(known):
        return Spread(0, math.nan, math.nan, math.nan)
    return Spread(len(known), float(np.median(known)), float(np.percentile(known, 95)), float(known.max()))


def shown(cell: Cell) -> str:
    """Write one cell: floats with two decimals, missing values as a dash."""
    if cell is None or (isinstance(cell, float) and math.isnan(cell)):
        return "–"
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    return f"{cell:.2f}" if isinstance(cell, float) else str(cell)


def markdown(table: Table) -> str:
    """Write a table as Markdown that also reads well as plain text."""
    lines = [list(table.columns), *([shown(cell) for cell in row] for row in table.rows)]
    widths = [max(3, *(len(line[column]) for line in lines)) for column in range(len(table.columns))]
    written = [
        "| " + " | ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)) + " |"
        for line in lines
    ]
    written.insert(1, "| " + " | ".join("-" * width for width in widths) + " |")
    note = f"\n\n{table.note}" if table.note else ""
    return f"## {table.title}\n\n" + "\n".join(written) + note + "\n"


def write_json(file: Path, tables: Sequence[Table]) -> None:
    """Write all tables as one JSON document; what is not known is null."""
    document = [
        asdict(table) | {"rows": [[known(cell) for cell in row] for row in table.rows]} for table in tables
    ]
    file.write_text(json.dumps(document, indent=1, allow_nan=False) + "\n")


def known(cell: Cell) -> Cell:
    """Turn NaN, which JSON does not have, into None."""
    return None if isinstance(cell, float) and not math.isfinite(cell) else cell
