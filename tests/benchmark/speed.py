"""Speed and memory as ratios within one run, so that the machine cancels out."""

import io
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import cv2
import numpy as np
from PIL import Image, ImageOps

from benchmark.inspected import COMMAND, inspected
from benchmark.photo_cases import PhotoCase
from benchmark.tables import Cell, Table

LARGE_SIZE_PX = (4000, 3000)
"""A 12-megapixel photo, landscape."""

JPEG_QUALITY = 92
"""Quality phones use (common practice, no published source)."""

DECODED_BYTES = LARGE_SIZE_PX[0] * LARGE_SIZE_PX[1] * 3
"""What the photo takes decoded, 8 bits per channel: 36 MB."""

ROUNDS = 7
"""Timed rounds of each, after one that is not counted; the medians are compared."""

MEMORY_SCRIPT = """
import atexit, pathlib, resource, sys

def tell():
    status = pathlib.Path("/proc/self/status")
    lines = status.read_text().splitlines() if status.exists() else []
    marks = [int(line.split()[1]) for line in lines if line.startswith("VmHWM")]
    print(marks[0] if marks else resource.getrusage(resource.RUSAGE_SELF).ru_maxrss, file=sys.stderr)

atexit.register(tell)
from dyecast_api.cli import main
main()
"""
"""The command in a fresh process that says its greatest resident set in KiB when it ends. Linux carries
`ru_maxrss` over from the parent at exec, so the high-water mark of the process's own memory is read there."""


def large_photo(case: PhotoCase, file: Path) -> None:
    """Enlarge a photo to 12 megapixels, upright, with its profile kept."""
    with Image.open(case.photo) as photo:
        profile = photo.info.get("icc_profile")
        upright = ImageOps.exif_transpose(photo)
        size = LARGE_SIZE_PX if upright.width >= upright.height else LARGE_SIZE_PX[::-1]
        enlarged = upright.resize(size, Image.Resampling.BICUBIC)
        held = io.BytesIO()
        enlarged.save(held, "JPEG", quality=JPEG_QUALITY, icc_profile=profile)
        file.write_bytes(held.getvalue())


def median_seconds(action: Callable[[], object]) -> float:
    """Median wall time of `ROUNDS` calls after one that warms up."""
    action()
    times = []
    for _ in range(ROUNDS):
        start = time.perf_counter()
        action()
        times.append(time.perf_counter() - start)
    return float(np.median(times))


def peak_bytes(photo: Path, artwork: Path) -> int:
    """Greatest resident set, in bytes, of a fresh `dyecast inspect` of one photo."""
    done = subprocess.run(
        [sys.executable, "-c", MEMORY_SCRIPT, "inspect", str(photo), "--artwork", str(artwork), "--json"],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    return int(done.stderr.split()[-1]) * 1024


def help_cpu_seconds() -> float:
    """Processor seconds, user and system, of `dyecast --help`; median of three runs."""
    spent = []
    for _ in range(3):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run([*COMMAND, "--help"], capture_output=True, check=True)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        spent.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return float(np.median(spent))


def stage_seconds(photo: Path, artwork: Path) -> list[tuple[str, float]]:
    """Wall time between the pipeline's progress messages: the name of each stage and how long it took."""
    marks: list[tuple[str, float]] = []
    inspected(photo, artwork, lambda stage: marks.append((stage, time.perf_counter())))
    marks.append(("", time.perf_counter()))
    return [(name, end - start) for (name, start), (_, end) in pairwise(marks)]


def speed_tables(case: PhotoCase) -> list[Table]:
    """Time and memory of one inspection against reading the same file, and where the time goes."""
    with tempfile.TemporaryDirectory() as folder:
        photo = Path(folder) / "large.jpg"
        large_photo(case, photo)
        reading = median_seconds(lambda: cv2.imread(str(photo)))
        inspecting = median_seconds(lambda: inspected(photo, case.artwork))
        stages = stage_seconds(photo, case.artwork)
        peak = peak_bytes(photo, case.artwork)
        verdict = inspected(photo, case.artwork).verdict.value
    rows: tuple[tuple[Cell, ...], ...] = (
        ("cv2.imread, ms", 1000 * reading),
        ("whole inspection, ms", 1000 * inspecting),
        ("inspection / imread", inspecting / reading),
        ("peak memory, MB", peak / 1e6),
        ("peak memory / decoded photo", peak / DECODED_BYTES),
        ("dyecast --help, CPU seconds", help_cpu_seconds()),
    )
    note = (
        f"{case.name} at 12 megapixels, called {verdict}; artwork read each time; median of {ROUNDS} rounds."
    )
    return [
        Table("Speed and memory", ("what", "value"), rows, note),
        Table("Stages, ms", ("stage", "ms"), tuple((name, 1000 * spent) for name, spent in stages)),
    ]
