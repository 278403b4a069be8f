"""Say in words where a piece is hidden."""

import numpy as np

from dyecast_inspect.explain_surface import ExplainedPiece

ROWS = ("at the top", "in the middle", "at the bottom")
COLUMNS = ("on the left", "", "on the right")


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
