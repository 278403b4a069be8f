"""Speed and memory as ratios within one run, so that the machine cancels out."""

import io
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from itertools import pairwise
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
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

ROUNDS = 15
"""Timed rounds, after one that is not counted; in each, everything is timed once, so that all meet the same
load. The shortest times are compared: whatever else the machine does can only add."""

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


def seconds_in_turn(actions: Sequence[Callable[[], object]]) -> NDArray[np.float64]:
    """Wall and processor time (actions, 2), of each action the shortest of `ROUNDS`, taken in turn."""
    times = np.zeros((ROUNDS + 1, len(actions), 2))
    for times_of_round in times:
        for place, action in enumerate(actions):
            wall, processor = time.perf_counter(), time.process_time()
            action()
            times_of_round[place] = time.perf_counter() - wall, time.process_time() - processor
    return np.asarray(times[1:].min(axis=0))


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
    """Shortest wall time between the pipeline's progress messages: each stage's name and how long it took."""
    rounds = []
    for _ in range(ROUNDS):
        marks: list[tuple[str, float]] = []
        inspected(photo, artwork, lambda stage: marks.append((stage, time.perf_counter())))  # noqa: B023
        marks.append(("", time.perf_counter()))
        rounds.append([end - start for (_, start), (_, end) in pairwise(marks)])
    names = [name for name, _ in marks[:-1]]
    return list(zip(names, np.min(rounds, axis=0).tolist(), strict=True))


def speed_tables(case: PhotoCase) -> list[Table]:
    """Time and memory of one inspection against reading the same file, and where the time goes."""
    with tempfile.TemporaryDirectory() as folder:
        photo = Path(folder) / "large.jpg"
        large_photo(case, photo)
        reading, inspecting = seconds_in_turn(
            [lambda: cv2.imread(str(photo)), lambda: inspected(photo, case.artwork)]
        )
        stages = stage_seconds(photo, case.artwork)
        peak = peak_bytes(photo, case.artwork)
        verdict = inspected(photo, case.artwork).verdict.value
    rows: tuple[tuple[Cell, ...], ...] = (
        ("cv2.imread, ms", 1000 * reading[0]),
        ("whole inspection, ms", 1000 * inspecting[0]),
        ("inspection / imread", inspecting[0] / reading[0]),
        ("inspection / imread, processor time", inspecting[1] / reading[1]),
        ("peak memory, MB", peak / 1e6),
        ("peak memory / decoded photo", peak / DECODED_BYTES),
        ("dyecast --help, CPU seconds", help_cpu_seconds()),
    )
    note = f"{case.name} at 12 megapixels, called {verdict}; artwork read each time; best of {ROUNDS} rounds."
    return [
        Table("Speed and memory", ("what", "value"), rows, note),
        Table("Stages, ms", ("stage", "ms"), tuple((name, 1000 * spent) for name, spent in stages)),
    ]
