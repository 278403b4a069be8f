"""How the viewfinder's glance answers small frames of photos whose faults are known.

`--photos FOLDER` holds rendered photos, `clear/*/photo.jpg` and `spoiled/*/photo.jpg`; `--scenes N` makes N
scenes with the tests' scene maker, each without a mirrored lamp, with a weak one and with a strong one.
"""

import argparse
import io
import sys
import tempfile
import time
from collections.abc import Iterable, Iterator
from pathlib import Path

import numpy as np
from PIL import Image, ImageOps

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from dyecast_inspect.glance import Glance, glance_at
from dyecast_inspect.read_photo import photo_of
from scenes.render import render, write_photo
from scenes.scenarios import random_scene
from scenes.scene import GlareBlob

FRAME_SIDE_PX, FRAME_QUALITY = 960, 80
"""What the bench page sends."""

PHOTO_SIDE_PX = 4032
"""Long side of a phone's photo of 12 megapixels."""

LAMPS = {"no lamp": 0.0, "a lamp of 0.9": 0.9, "a lamp of 3.0": 3.0}
"""Brightness of the mirrored lamp, 1 = perfect white."""


def frame_of(photo: Path) -> bytes:
    """Return a photo as small as the bench page sends its frames."""
    with Image.open(photo) as opened:
        frame = ImageOps.exif_transpose(opened).convert("RGB")
    frame.thumbnail((FRAME_SIDE_PX, FRAME_SIDE_PX), Image.Resampling.BILINEAR)
    stream = io.BytesIO()
    frame.save(stream, "JPEG", quality=FRAME_QUALITY)
    return stream.getvalue()


def report(name: str, frames: Iterable[bytes]) -> None:
    """Glance at frames and print what was told how often."""
    seen: list[Glance] = []
    seconds: list[float] = []
    for frame in frames:
        began = time.process_time()
        seen.append(glance_at(photo_of(frame, "frame"), PHOTO_SIDE_PX))
        seconds.append(time.process_time() - began)
    print(
        f"{name}: {len(seen)} frames, card usable {sum(each.usable for each in seen)}, "
        f"glare told {sum(bool(each.glare.places) for each in seen)}, "
        f"white burnt out {sum(each.glare.burnt_out for each in seen)}, "
        f"glare not to be told {sum(each.glare.places is None for each in seen)}, "
        f"{1000 * float(np.median(seconds)):.0f} ms of computing"
    )


def scene_frames(count: int, lamp: float) -> Iterator[bytes]:
    """Make scenes with a lamp of 24 mm mirrored in the piece, and return their frames."""
    with tempfile.TemporaryDirectory() as folder:
        photo = Path(folder) / "photo.jpg"
        glare = (GlareBlob(30.0, 30.0, 12.0, 12.0, 0.0, lamp),) if lamp else ()
        for seed in range(count):
            scene = random_scene(seed, width_px=1200, height_px=900, glass=True, glare=glare)
            write_photo(photo, render(scene, seed))
            yield frame_of(photo)


def main() -> None:
    """Read the options and report."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--photos", type=Path)
    parser.add_argument("--scenes", type=int, default=0)
    options = parser.parse_args()
    if options.photos is not None:
        for kind in ("clear", "spoiled"):
            report(kind, map(frame_of, sorted(options.photos.glob(f"{kind}/*/photo.jpg"))))
    if options.scenes:
        for name, lamp in LAMPS.items():
            report(f"scenes with {name}", scene_frames(options.scenes, lamp))


if __name__ == "__main__":
    main()
