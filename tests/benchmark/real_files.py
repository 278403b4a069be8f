"""Read a folder of real files beside its `expected.json` and print where the two differ.

    python tests/benchmark/real_files.py FOLDER [FOLDER ...]

Three kinds of folder are known by what their `expected.json` says of a file: ``must`` (hostile files: the
answer, its time, memory and silence), ``upright_size`` (phone files: size and colours of a 4 by 3 grid) and
anything else (colour profiles: CIELAB of single pixels, or whether a lone profile opens). Prints one line
per file; exit status 1 when any file misses.
"""

import json
import multiprocessing
import os
import sys
import tempfile
import time
from dataclasses import dataclass
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dyecast_inspect.colour_profile import encoding_from_icc
from dyecast_inspect.read_artwork import read_artwork
from dyecast_inspect.read_photo import read_photo
from dyecast_inspect.reading_bounds import ReadingBounds
from dyecast_shared.cielab import xyz_to_lab
from dyecast_shared.encodings import xyz_d50_to_srgb8
from dyecast_shared.errors import BadInput
from dyecast_shared.photo import Photo

ANSWER_SECONDS = 10.0
GROWTH_MEBIBYTES = 1536.0
"""What one hostile file may take, as the folder's `expected.json` asks."""

GRID_CODES = 4.0
PIXEL_CODES = 2.0
LAB_STEPS = 1.0
LAB_STEPS_FROM_PRIMARIES = 0.3
"""Tolerances of the same documents: 8-bit sRGB codes and CIELAB coordinates."""

ANY_SIZE = ReadingBounds(short_side=1)
"""Some profile samples hold a single pixel."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one file: whether it met what was expected, and a line about it."""

    met: bool
    told: str


def main(folders: list[str]) -> int:
    """Check each folder; return the exit status."""
    if not folders:
        print(__doc__)
        return 2
    missed = 0
    for folder in map(Path, folders):
        expected: dict[str, dict[str, Any]] = json.loads((folder / "expected.json").read_text())["files"]
        outcomes = {name: outcome_of(folder / name, wanted) for name, wanted in expected.items()}
        misses = sum(not outcome.met for outcome in outcomes.values())
        missed += misses
        print(f"\n{folder.name}: {len(outcomes) - misses} of {len(outcomes)} as expected")
        for name, outcome in outcomes.items():
            print(f"{'ok  ' if outcome.met else 'MISS'}  {name:<44.44}  {outcome.told}")
    return 1 if missed else 0


def outcome_of(path: Path, wanted: dict[str, Any]) -> Outcome:
    """Check one file against its entry."""
    if "must" in wanted:
        return hostile_outcome(path, str(wanted["must"]))
    if "upright_size" in wanted:
        return phone_outcome(path, wanted)
    if "littlecms" in wanted:
        return lone_profile_outcome(path, str(wanted["littlecms"]))
    return profiled_outcome(path, wanted)


def hostile_outcome(path: Path, must: str) -> Outcome:
    """Read a hostile file as photo and as artwork, each in a process of its own."""
    told, met = [], True
    for reader in ("photo", "artwork"):
        ours, theirs = multiprocessing.get_context("spawn").Pipe(duplex=False)
        child = multiprocessing.get_context("spawn").Process(target=read_alone, args=(path, reader, theirs))
        child.start()
        theirs.close()
        answered = ours.poll(6 * ANSWER_SECONDS)
        answer, seconds, growth, chatter = ours.recv() if answered else ("no answer", 60.0, 0.0, "")
        child.kill()
        child.join()
        refused = answer not in ("read", "no answer", "traceback")
        met &= (
            answered and answer != "traceback" and seconds <= ANSWER_SECONDS and not growth > GROWTH_MEBIBYTES
        )
        met &= not chatter and (refused or must != "refuse")
        told.append(f"{reader} {answer} {seconds:.2f} s {growth:.0f} MiB {chatter}")
    return Outcome(met, f"must: {must}; " + "; ".join(told))


def read_alone(path: Path, reader: str, answers: Connection) -> None:
    """Read one file and send (answer, seconds, memory growth in MiB, what reached stderr)."""
    with tempfile.TemporaryFile() as remarks:
        os.dup2(remarks.fileno(), 2)
        before = peak_mebibytes()
        start = time.perf_counter()
        try:
            read_photo(path) if reader == "photo" else read_artwork(path)
            answer = "read"
        except BadInput as refusal:
            answer = refusal.code
        except Exception:
            answer = "traceback"
        seconds = time.perf_counter() - start
        growth = peak_mebibytes() - before
        remarks.seek(0)
        answers.send((answer, seconds, growth, remarks.read(200).decode(errors="replace")))


def peak_mebibytes() -> float:
    """Return this process's greatest memory so far, from Linux's own account; NaN where there is none."""
    account = Path("/proc/self/status")
    lines = account.read_text().splitlines() if account.exists() else []
    return next((int(line.split()[1]) / 1024 for line in lines if line.startswith("VmHWM")), float("nan"))


def phone_outcome(path: Path, wanted: dict[str, Any]) -> Outcome:
    """Compare upright size and the mean sRGB codes of a 4 by 3 grid."""
    photo = read_photo(path, bounds=ANY_SIZE)
    codes = xyz_d50_to_srgb8(xyz_of(photo))
    cells = [
        cell.reshape(-1, 3).mean(axis=0)
        for row in np.array_split(codes, 3)
        for cell in np.array_split(row, 4, axis=1)
    ]
    off = float(np.abs(np.array(cells) - np.array(wanted["grid_srgb"])).max())
    same_size = photo.full_size == tuple(reversed(wanted["upright_size"]))
    told = f"{photo.encoding.name}, {photo.full_size[1]} x {photo.full_size[0]}, grid off by {off:.1f} codes"
    return Outcome(same_size and off <= GRID_CODES, told)


def lone_profile_outcome(path: Path, wanted: str) -> Outcome:
    """Compare whether a profile opens."""
    try:
        told, opens = encoding_from_icc(path.read_bytes()).name, True
    except BadInput as refusal:
        told, opens = refusal.message, False
    return Outcome(opens == wanted.startswith("opens"), f"{told} (colour engine: {wanted})")


def profiled_outcome(path: Path, wanted: dict[str, Any]) -> Outcome:
    """Compare single pixels of a picture with a profile."""
    try:
        photo = read_photo(path, bounds=ANY_SIZE)
    except BadInput as refusal:
        return Outcome(wanted.get("mode") == "CMYK" or "error" in wanted, refusal.message)
    if "pixels" not in wanted:
        return Outcome("error" not in wanted or photo.encoding.assumed, " ".join(photo.notes))
    xyz = xyz_of(photo)
    lab, srgb = xyz_to_lab(xyz), xyz_d50_to_srgb8(xyz)
    limits = {"lab": LAB_STEPS, "lab_from_primaries": LAB_STEPS_FROM_PRIMARIES, "srgb": PIXEL_CODES}
    found = {"lab": lab, "lab_from_primaries": lab, "srgb": srgb}
    off = {
        key: max(
            float(np.abs(found[key][each["xy"][1], each["xy"][0]].astype(float) - each[key]).max())
            for each in wanted["pixels"]
        )
        for key in limits
        if key in wanted["pixels"][0]
    }
    told = ", ".join(f"{key} off by {value:.2f}" for key, value in off.items())
    return Outcome(all(value <= limits[key] for key, value in off.items()), f"{photo.encoding.name}: {told}")


def xyz_of(photo: Photo) -> NDArray[np.float32]:
    """Return a photo's XYZ, D50, 2 degree observer, Y = 1 for white."""
    return np.asarray(photo.linear(photo.pixels) @ photo.encoding.to_xyz_d50.T, np.float32)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
