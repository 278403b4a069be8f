"""What the product measures on made pieces: the signs for the grader, and plain figures for its rivals."""

import json
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from benchmark.in_turn import in_turn
from dyecast_calibration.grading_limits import grading_limits
from dyecast_calibration.pressing_model import xyz_from_bands
from dyecast_inspect.grading_signs import GradingSigns, grading_signs
from dyecast_inspect.pipeline import measure_photo
from dyecast_inspect.read_artwork import Artwork, read_artwork
from dyecast_inspect.trail import MeasuredPhoto
from dyecast_shared.cielab import xyz_to_lab
from dyecast_shared.delta_e import delta_e_2000
from dyecast_shared.errors import Retake

HISTOGRAM_BINS = 4
"""Bins per CIELAB axis of the rival that looks at colour histograms alone."""

HISTOGRAM_RANGES = ((0.0, 100.0), (-60.0, 60.0), (-60.0, 60.0))


@dataclass(frozen=True, slots=True, eq=False)
class PieceRow:
    """One piece: the truth about it and what was measured; `code` is the retake's, empty when judged.

    `delta_e_mean`, `lightness_shift` and `histogram` are what plain methods see of the colour-corrected
    photo: mean CIEDE2000 from the artwork, mean L* above it, and share of pixels per CIELAB cell.
    """

    truth: dict[str, Any]
    code: str
    signs: GradingSigns | None
    delta_e_mean: float
    lightness_shift: float
    histogram: tuple[float, ...]


def measured_rows(folders: tuple[Path, ...], *, jobs: int, kept: Path | None = None) -> list[PieceRow]:
    """Measure every piece; with `kept`, read what was measured from that file, or write it there."""
    if kept is not None and kept.exists():
        return [_read(line) for line in kept.read_text().splitlines()]
    rows = in_turn(_row, folders, jobs=jobs, what="measuring pieces")
    if kept is not None:
        kept.write_text("".join(json.dumps(asdict(row)) + "\n" for row in rows))
    return rows


def _read(line: str) -> PieceRow:
    """Read one row as it was written."""
    record = json.loads(line)
    signs = None if record["signs"] is None else GradingSigns(**record["signs"])
    return PieceRow(**{**record, "signs": signs, "histogram": tuple(record["histogram"])})


def _row(folder: Path) -> PieceRow:
    """Measure one piece."""
    truth = json.loads((folder / "truth.json").read_text())
    artwork = read_artwork(folder / "artwork.png")
    try:
        measured = measure_photo(folder / "photo.jpg", artwork)
    except Retake as retake:
        return PieceRow(truth, retake.code, None, 0.0, 0.0, ())
    seen, intended = _looks(measured, artwork)
    return PieceRow(
        truth=truth,
        code="",
        signs=grading_signs(measured, grading_limits()),
        delta_e_mean=float(np.mean(delta_e_2000(seen, intended))),
        lightness_shift=float(np.mean(seen[:, 0] - intended[:, 0])),
        histogram=tuple(_histogram(seen).tolist()),
    )


def _looks(measured: MeasuredPhoto, artwork: Artwork) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Return CIELAB of the judged piece as the card corrects it, and of the artwork there, (n, 3) each."""
    height, width = measured.explained.judged.shape
    judged = measured.explained.judged
    intended = cv2.resize(artwork.xyz, (width, height), interpolation=cv2.INTER_AREA)
    seen = xyz_from_bands(measured.piece.bands)
    return (
        np.asarray(xyz_to_lab(np.maximum(seen[judged], 0.0)), np.float32),
        np.asarray(xyz_to_lab(intended[judged]), np.float32),
    )


def _histogram(lab: NDArray[np.float32]) -> NDArray[np.float64]:
    """Return the share of pixels in each CIELAB cell, flat."""
    counts, _ = np.histogramdd(lab, bins=HISTOGRAM_BINS, range=HISTOGRAM_RANGES)
    return np.asarray(counts.ravel() / max(len(lab), 1), np.float64)
