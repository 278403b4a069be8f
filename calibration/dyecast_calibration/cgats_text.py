"""Reading measurement files in CGATS.17 / ISO 28178 ASCII form, and the relatives that share their grammar.

The grammar: a line is a keyword and its value, value often in quotes; `#` starts a comment;
BEGIN_DATA_FORMAT … END_DATA_FORMAT names the columns and BEGIN_DATA … END_DATA holds one row per sample,
parted by spaces or tabs. Keyword and column names are compared without regard to case.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from dyecast_shared.errors import FileUnreadable, MeasurementsInvalid

MAXIMUM_FILE_BYTES = 20_000_000
"""A spectral file of ten thousand samples stays below this. Our own bound."""

_TOKEN = re.compile(r'"(?:[^"]|"")*"|[^\s"]+|"')
"""A quoted value, a bare word, or (last) a quote that is never closed; spaces and tabs part them."""

_SECTION_WORDS = frozenset({"BEGIN_DATA_FORMAT", "END_DATA_FORMAT", "BEGIN_DATA", "END_DATA"})


@dataclass(frozen=True, slots=True)
class MeasurementTable:
    """A measurement file as it is written, before anything is concluded from it.

    Attributes
    ----------
    keywords
        (name, value) in the order of the file, names in capitals; a name may come more than once.
    columns
        Column names in capitals.
    rows
        One tuple of texts per sample, as long as `columns`.
    """

    keywords: tuple[tuple[str, str], ...]
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]

    def values_of(self, name: str) -> tuple[str, ...]:
        """Return every value given for a keyword, in the order of the file."""
        return tuple(value for keyword, value in self.keywords if keyword == name)

    def column(self, name: str) -> int | None:
        """Return the place of a column, or None when there is none of that name."""
        return self.columns.index(name) if name in self.columns else None


def read_measurement_table(path: Path) -> MeasurementTable:
    """Read the first table of a CGATS file.

    Raises
    ------
    FileUnreadable
        The file is missing or may not be read.
    MeasurementsInvalid
        It has no data format or data block, or a row with too few or too many values.
    """
    tokens_of_lines = [_tokens(line) for line in _read_text(path).splitlines()]
    keywords: list[tuple[str, str]] = []
    blocks: dict[str, list[list[str]]] = {}
    lines = iter(tokens_of_lines)
    for tokens in lines:
        word = tokens[0].upper() if tokens else ""
        if word in ("BEGIN_DATA_FORMAT", "BEGIN_DATA"):
            end = word.replace("BEGIN", "END")
            blocks[word] = [tokens[1:], *_block(lines, end, path.name)]
            if word == "BEGIN_DATA":
                break
        elif word and word not in _SECTION_WORDS:
            keywords.append((word, " ".join(tokens[1:])))
    return _table(keywords, blocks, path.name)


def _read_text(path: Path) -> str:
    try:
        with path.open("rb") as stream:
            content = stream.read(MAXIMUM_FILE_BYTES + 1)
    except OSError as problem:
        reason = problem.strerror or "unknown reason"
        raise FileUnreadable(f"The file could not be read ({reason}).", file=path.name) from problem
    if len(content) > MAXIMUM_FILE_BYTES:
        raise MeasurementsInvalid("The file is far too large for measurements of a card.", file=path.name)
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        return content.decode("utf-16", errors="replace")
    return content.decode("utf-8-sig", errors="replace")


def _tokens(line: str) -> list[str]:
    tokens = []
    for token in _TOKEN.findall(line):
        if token.startswith("#"):
            break
        quoted = len(token) > 1 and token.startswith('"')
        tokens.append(token[1:-1].replace('""', '"') if quoted else token)
    return tokens


def _block(lines: Iterator[list[str]], end: str, file: str) -> list[list[str]]:
    block: list[list[str]] = []
    for tokens in lines:
        if tokens and tokens[0].upper() == end:
            return block
        if tokens and tokens[-1].upper() == end:
            return [*block, tokens[:-1]]
        block.append(tokens)
    raise MeasurementsInvalid(f"The file breaks off: there is no {end}.", file=file)


def _table(
    keywords: list[tuple[str, str]], blocks: dict[str, list[list[str]]], file: str
) -> MeasurementTable:
    columns = tuple(word.upper() for line in blocks.get("BEGIN_DATA_FORMAT", []) for word in line)
    if not columns:
        raise MeasurementsInvalid("The file names no columns (no BEGIN_DATA_FORMAT block).", file=file)
    if "BEGIN_DATA" not in blocks:
        raise MeasurementsInvalid("The file holds no measurements (no BEGIN_DATA block).", file=file)
    rows = [tuple(line) for line in blocks["BEGIN_DATA"] if line]
    for number, row in enumerate(rows, start=1):
        if len(row) != len(columns):
            raise MeasurementsInvalid(
                f"Row {number} of the measurements has {len(row)} values, not {len(columns)}.", file=file
            )
    if not rows:
        raise MeasurementsInvalid("The file's BEGIN_DATA block is empty.", file=file)
    return MeasurementTable(tuple(keywords), columns, tuple(rows))
