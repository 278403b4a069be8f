"""Say in words where a piece is hidden."""

import numpy as np

from dyecast_inspect.explain_surface import ExplainedPiece

ROWS = ("at the top", "in the middle", "at the bottom")
COLUMNS = ("on the left", "", "on the right")

DIAGONAL = 0.41
"""The lesser part of a direction over the greater, tan 22.5 degrees, from which both are named."""


def where_hidden(piece: ExplainedPiece) -> str:
    """Return the ninth of the piece, as the artwork is held, with the largest hidden share, in words."""
    hidden = piece.outline & ~piece.judged
    shares = [
        [_share(hidden[np.ix_(rows, columns)]) for columns in np.array_split(np.arange(hidden.shape[1]), 3)]
        for rows in np.array_split(np.arange(hidden.shape[0]), 3)
    ]
    row, column = np.unravel_index(int(np.argmax(shares)), (3, 3))
    return f"{ROWS[row]} {COLUMNS[column]}".strip()


def _share(part: np.ndarray) -> float:
    """Return the share of a part that is hidden."""
    return float(part.mean()) if part.size else 0.0


def place_words(across: float, down: float) -> str:
    """Say towards which side of the artwork as it is held a direction (right, down) points, in words.

    A direction within 22.5 degrees of a side names that side alone.

    >>> place_words(1.0, 0.1)
    'on the right'
    >>> place_words(-1.0, -1.0)
    'at the top on the left'
    """
    largest = max(abs(across), abs(down), 1e-12)
    row = ROWS[1 + int(np.sign(down))] if abs(down) > DIAGONAL * largest else ""
    column = COLUMNS[1 + int(np.sign(across))] if abs(across) > DIAGONAL * largest else ""
    return f"{row} {column}".strip()
