"""Speed and memory as ratios within one run, so that the machine cancels out."""

import io
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
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

GRAIN_CODES = 2.0
"""Standard deviation of a sensor's grain at its own pixels, the same in red, green and blue: it brings an
enlarged photo of 0.5 bits a pixel to 1.1; the one large phone photo in `real/phone_containers` has 1.15."""

GRAINS = {"smooth": 0.0, "grainy": GRAIN_CODES}
"""Photos timed, by name."""

DECODED_BYTES = LARGE_SIZE_PX[0] * LARGE_SIZE_PX[1] * 3
"""What the photo takes decoded, 8 bits per channel: 36 MB."""

ROUNDS = 15
"""Timed rounds, after one that is not counted; in each, everything is timed once, so that all meet the same
load. The shortest times are compared: whatever else the machine does can only add.

Every `cv2.imread` gets new memory from the system, as in a program that reads one photo; on a virtual machine
that is half of its time. In a process that has so large a block to spare it takes half as long."""

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


def large_photo(case: PhotoCase, file: Path, grain_codes: float) -> None:
    """Enlarge a photo to 12 megapixels, upright, with its profile kept, and give it grain.

    Enlarging leaves nothing at the scale of a pixel, and such a JPEG is read much faster than a phone's.
    """
    with Image.open(case.photo) as photo:
        profile = photo.info.get("icc_profile")
        upright = ImageOps.exif_transpose(photo)
        size = LARGE_SIZE_PX if upright.width >= upright.height else LARGE_SIZE_PX[::-1]
        enlarged = _with_grain(upright.resize(size, Image.Resampling.BICUBIC), grain_codes)
        held = io.BytesIO()
        enlarged.save(held, "JPEG", quality=JPEG_QUALITY, icc_profile=profile)
        file.write_bytes(held.getvalue())


def _with_grain(photo: Image.Image, codes: float) -> Image.Image:
    grain = np.random.default_rng(0).normal(scale=codes, size=(photo.height, photo.width, 1))
    return Image.fromarray(np.clip(np.asarray(photo) + grain + 0.5, 0, 255).astype(np.uint8))


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
    """Processor seconds, user and system, of `dyecast --help`; median of three runs after one not counted.

    That one compiles what an installation has compiled, into a folder of its own.
    """
    spent = []
    with tempfile.TemporaryDirectory() as folder:
        compiled = {**os.environ, "PYTHONPYCACHEPREFIX": folder, "PYTHONDONTWRITEBYTECODE": ""}
        for _ in range(4):
            before = resource.getrusage(resource.RUSAGE_CHILDREN)
            subprocess.run([*COMMAND, "--help"], capture_output=True, check=True, env=compiled)
            after = resource.getrusage(resource.RUSAGE_CHILDREN)
            spent.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return float(np.median(spent[1:]))


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
        photos = {name: Path(folder) / f"{name}.jpg" for name in GRAINS}
        with ProcessPoolExecutor(1) as pool:  # what is freed after this work would be lent to `cv2.imread`
            for name, codes in GRAINS.items():
                pool.submit(large_photo, case, photos[name], codes).result()
        figures = {name: _figures(photo, case.artwork) for name, photo in photos.items()}
        stages = stage_seconds(photos["grainy"], case.artwork)
        verdicts = [inspected(photo, case.artwork).verdict.value for photo in photos.values()]
    rows: list[tuple[Cell, ...]] = [
        (what, *(figures[name][what] for name in photos)) for what in figures["smooth"]
    ]
    rows.append(("dyecast --help, CPU seconds", help_cpu_seconds(), None))
    note = (
        f"{case.name} enlarged to 12 megapixels, and with grain of {GRAIN_CODES:g} codes as a sensor has; "
        f"called {' and '.join(verdicts)}; artwork read each time; best of {ROUNDS} rounds."
    )
    return [
        Table("Speed and memory", ("what", *photos), tuple(rows), note),
        Table("Stages, ms", ("stage", "ms"), tuple((name, 1000 * spent) for name, spent in stages)),
    ]


def _figures(photo: Path, artwork: Path) -> dict[str, float]:
    """Measure one photo: what is shown of it, by name."""
    reading, inspecting = seconds_in_turn([lambda: cv2.imread(str(photo)), lambda: inspected(photo, artwork)])
    peak = peak_bytes(photo, artwork)
    return {
        "bits a pixel of the JPEG": 8 * photo.stat().st_size / (DECODED_BYTES / 3),
        "cv2.imread, ms": 1000 * reading[0],
        "whole inspection, ms": 1000 * inspecting[0],
        "inspection / imread": inspecting[0] / reading[0],
        "inspection / imread, processor time": inspecting[1] / reading[1],
        "peak memory, MB": peak / 1e6,
        "peak memory / decoded photo": peak / DECODED_BYTES,
    }
