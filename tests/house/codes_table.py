"""The README's table of error codes, made from the errors themselves.

`python tests/house/codes_table.py` prints it, to be pasted between the table's two comments.
"""

import sys
from collections.abc import Iterator

from dyecast_shared import errors, request_errors
from dyecast_shared.errors import DyecastError

MODULES = (errors.__name__, request_errors.__name__)
"""Where the tree of errors stands."""

HEADING = "| code | what it means | what to do |\n| --- | --- | --- |"


def leaf_errors(error: type[DyecastError] = DyecastError) -> Iterator[type[DyecastError]]:
    """Yield the errors that have no kinds of their own, in the order they are written."""
    kinds = [kind for kind in error.__subclasses__() if kind.__module__ in MODULES]
    if not kinds:
        yield error
    for kind in kinds:
        yield from leaf_errors(kind)


def table_row(error: type[DyecastError]) -> str:
    """Write one error as a row: its code, the first sentence of its docstring, its advice."""
    meaning = (error.__doc__ or "").strip().splitlines()[0]
    return f"| `{error.code}` | {meaning} | {error.default_advice} |"


def codes_table() -> str:
    """Write all errors as a Markdown table."""
    return "\n".join([HEADING, *map(table_row, leaf_errors())])


if __name__ == "__main__":
    sys.stdout.write(codes_table() + "\n")
