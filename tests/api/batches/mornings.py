"""A simulated morning at the press: pieces every six minutes, steady or sliding from one piece on."""

from datetime import UTC, datetime, timedelta

import numpy as np

from dyecast_api.batches.batch_values import Batch, BatchPiece, BatchState
from dyecast_api.press_log.log_values import Pressing

CARD = {"layout": "a6", "edition": 1, "trust": "measured", "leave_one_out_mean": 1.2}
"""What the inspections' documents tell of the card."""

EIGHT = datetime(2026, 5, 4, 8, 0, tzinfo=UTC)


def morning(
    count: int, *, slide: float = 0.0, since: int = 0, scatter: float = 0.008, seed: float = 1
) -> tuple[Batch, list[BatchPiece]]:
    """Return an approved batch of `count` pieces.

    The ink arriving is 0.955 with a scatter from piece to piece, and slides by `slide` a piece after the
    piece number `since`; every percentage point of it costs 0.4 CIEDE2000.
    """
    random = np.random.default_rng(int(seed))
    pieces = []
    for number in range(1, count + 1):
        moved = slide * max(0, number - since)
        ink, difference, veil, yellow = scatter / 0.008 * random.standard_normal(4)
        moment = EIGHT + timedelta(minutes=6 * number)
        pressing = Pressing(
            recipe_id=1,
            temperature_k=466.5,
            time_s=180.0,
            pressed_at=moment,
            logged_at=moment,
            grade="good",
            transferred_fraction=0.955 + moved + 0.008 * ink,
            transferred_fraction_uncertainty=0.03,
            delta_e_2000=2.0,
            delta_e_2000_first=None if number == 1 else abs(1.0 - 40.0 * moved + 0.2 * difference),
            veil=0.02 + 0.002 * veil,
            piece_number=number,
            number=number,
        )
        features = {"veil": {"value": 0.02, "uncertainty": 0.002}}
        features["coating_yellowing"] = {"value": 0.2 + 0.15 * yellow, "uncertainty": 0.4}
        pieces.append(BatchPiece(pressing, {"features": features, "card": CARD}))
    batch = Batch("May", 1, EIGHT, state=BatchState.APPROVED, first_pressing_id=1, number=1)
    return batch, pieces
