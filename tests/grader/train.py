"""Train the grader on made pieces and write its numbers: ``python tests/grader/train.py --pieces FOLDER``."""

import argparse
import json
import sys
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from dyecast_api.version import SOFTWARE
from grader.learning import (
    COVERAGE,
    PENALTY,
    best_temperature,
    fit,
    good_look,
    labels_of,
    least_possible,
    log_loss,
    record_of,
    sign_matrix,
    softmax,
    unseen_predictors,
)
from grader.measured import PieceRow, measured_rows
from grader.pieces import LEAST_FRACTION, LEAST_HEAT, make_pieces

MODEL = Path(__file__).resolve().parents[2] / "calibration" / "dyecast_calibration" / "grader_model.json"


def main(arguments: Sequence[str] | None = None) -> int:
    """Make the pieces that are missing, measure them, fit, and write the model."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--pieces", type=Path, required=True, help="folder of the made pieces")
    parser.add_argument("--count", type=int, default=2100, help="pieces to train on")
    parser.add_argument("--kept", type=Path, help="file of measurements, written when it is not there")
    parser.add_argument("--jobs", type=int, default=1, help="processes")
    parser.add_argument("--out", type=Path, default=MODEL, help="the model's file")
    order = parser.parse_args(arguments)
    folders = make_pieces(order.pieces, range(order.count), jobs=order.jobs)
    measured = measured_rows(folders, jobs=order.jobs, kept=order.kept)
    rows = [row for row in measured if not row.code]
    record = trained(rows, order.count)
    order.out.write_text(json.dumps(record, indent=2) + "\n", encoding="utf-8")
    print(json.dumps(record["about"], indent=2))
    return 0


def trained(rows: Sequence[PieceRow], count: int) -> dict[str, Any]:
    """Fit on all judged pieces; temperature and coverage come from fits that had not seen the piece."""
    values, labels = sign_matrix(rows), labels_of(rows)
    unseen = unseen_predictors(rows, values, labels)
    temperature = best_temperature(unseen, labels)
    probabilities = softmax(unseen / temperature)
    fitted = fit(values, labels)
    least = least_possible(probabilities, labels)
    return record_of(
        replace(fitted, temperature=temperature),
        least,
        good_look(rows),
        _about(rows, count, probabilities),
    )


def _about(rows: Sequence[PieceRow], count: int, probabilities: Any) -> dict[str, Any]:
    """Say what it was trained on and how well it foretold pieces it had not seen."""
    labels = labels_of(rows)
    return {
        "made": datetime.now(UTC).date().isoformat(),
        "software": SOFTWARE,
        "libraries": f"scikit-learn {version('scikit-learn')}, numpy {version('numpy')}",
        "recipe": "tests/grader/pieces.py, seeds 0 to count - 1",
        "pieces_made": count,
        "pieces_judged": len(rows),
        "least_fraction": LEAST_FRACTION,
        "least_heat": LEAST_HEAT,
        "penalty": PENALTY,
        "coverage": COVERAGE,
        "unseen_accuracy": round(float((probabilities.argmax(axis=1) == labels).mean()), 4),
        "unseen_log_loss": round(log_loss(probabilities, labels), 4),
        "kinds_of_artwork": len({row.truth["artwork"] for row in rows}),
        "cameras": len({row.truth["camera"] for row in rows}),
        "note": "unseen: neither the artwork's kind nor the camera was in the training of that fit",
        "share_of_grades": {
            grade: round(float(np.mean(labels == place)), 3)
            for place, grade in enumerate(("under-pressed", "good", "over-pressed"))
        },
    }


if __name__ == "__main__":
    sys.exit(main())
