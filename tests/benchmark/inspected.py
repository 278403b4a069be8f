"""The product on one case: called in process, and through its command line for the check that both agree."""

import json
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from benchmark.photo_cases import PhotoCase
from benchmark.piece_error import read_picture
from dyecast_api.card_choice import layouts_to_look_for
from dyecast_api.inspect_stages import load_inspect_stages
from dyecast_api.photo_batch import Setting, inspected_photos
from dyecast_inspect.inspection import Inspection
from dyecast_shared.meanwhile import meanwhile

COMMAND = (sys.executable, "-m", "dyecast_api")
"""The `dyecast` command of the environment that runs the benchmark, whether or not it is installed."""


@dataclass(frozen=True, slots=True, eq=False)
class Answer:
    """What the product said about one photo.

    Corners are (4, 2) upright full-resolution pixels or None; `measured` is the piece as measured,
    (h, w, 3) sRGB in the artwork's frame (a fourth channel is taken as alpha), or None; `judged` is (h, w)
    bool where the product judged it, known in process only; `trouble` is what went wrong when the product
    broke off, which it never should; `faults` are the codes of the faults told, in process only.
    """

    case: str
    verdict: str
    confidence: float
    reasons: tuple[str, ...]
    card_corners: NDArray[np.float64] | None
    piece_corners: NDArray[np.float64] | None
    measured: NDArray[np.uint8] | None
    judged: NDArray[np.bool_] | None
    seconds: float
    trouble: str = ""
    faults: tuple[str, ...] = ()


def inspect_in_process(case: PhotoCase) -> Answer:
    """Inspect one photo as the command does, without a new process; a crash becomes the answer's trouble."""
    start = time.perf_counter()
    try:
        inspection = inspected(case.photo, case.artwork)
    except Exception as trouble:  # a benchmark reports every photo, also the one that breaks the product
        return broken_off(case, f"{type(trouble).__name__}: {trouble}", time.perf_counter() - start)
    pictures = inspection.pictures
    return Answer(
        case=case.name,
        verdict=inspection.verdict.value,
        confidence=inspection.confidence,
        reasons=tuple(reason.code for reason in inspection.reasons),
        card_corners=None if inspection.card is None else inspection.card.corners_px,
        piece_corners=None if inspection.piece is None else inspection.piece.corners_px,
        measured=None if pictures is None else pictures.piece,
        judged=None if pictures is None else pictures.judged,
        seconds=time.perf_counter() - start,
        faults=tuple(fault.code for fault in inspection.faults),
    )


def inspected(photo: Path, artwork: Path, progress: Callable[[str], None] = lambda _: None) -> Inspection:
    """Read the artwork and inspect one photo with the cards that ship; a refused photo is a retake.

    It raises DyecastError for an artwork that cannot be used.
    """
    stages = load_inspect_stages()
    with meanwhile(partial(stages.read_artwork, artwork)) as read:
        setting = Setting(read, layouts_to_look_for(None), {})
        return next(inspected_photos([photo], setting, stages, progress)).inspection


def broken_off(case: PhotoCase, trouble: str, seconds: float) -> Answer:
    """Stand for a photo on which the product broke off."""
    return Answer(case.name, "none", 0.0, (), None, None, None, None, seconds, trouble)


def inspect_by_command(case: PhotoCase) -> Answer:
    """Inspect one photo through the command line: one JSON document, and the measured picture as PNG."""
    with tempfile.TemporaryDirectory() as folder:
        measured = Path(folder) / "measured.png"
        start = time.perf_counter()
        done = subprocess.run(
            [*COMMAND, "inspect", str(case.photo), "--artwork", str(case.artwork), "--json",
             "--measured", str(measured)],
            capture_output=True, text=True, check=False,
        )  # fmt: skip
        seconds = time.perf_counter() - start
        try:
            document = json.loads(done.stdout)
        except ValueError:
            return broken_off(
                case, f"no JSON document, code {done.returncode}: {done.stderr[-300:]}", seconds
            )
        return of_document(case, document, read_picture(measured) if measured.exists() else None, seconds)


def of_document(
    case: PhotoCase, document: dict[str, Any], measured: NDArray[np.uint8] | None, seconds: float
) -> Answer:
    """Read an answer out of the command's JSON document."""
    return Answer(
        case=case.name,
        verdict=document["verdict"],
        confidence=document["confidence"],
        reasons=tuple(reason["code"] for reason in document["reasons"]),
        card_corners=corners_in(document.get("card")),
        piece_corners=corners_in(document.get("piece")),
        measured=measured,
        judged=None,
        seconds=seconds,
    )


def corners_in(part: dict[str, Any] | None) -> NDArray[np.float64] | None:
    """Corners of the card or the piece in the document, or None."""
    return None if part is None else np.asarray(part["corners_px"], dtype=np.float64)
