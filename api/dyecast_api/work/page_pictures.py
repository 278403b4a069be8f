"""The pictures that pages show of an inspection, small enough for a phone on a weak network."""

import io
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageOps

from dyecast_api.difference_scale import coloured_map
from dyecast_api.report_pictures import mean_of_judged, shrunk
from dyecast_inspect.inspection import Inspection, Pictures
from dyecast_inspect.pillow_quietly import pillow_quietly
from dyecast_shared.errors import BadInput

MEDIA_TYPE: Final = "image/jpeg"

FRAME_LONG_SIDE_PX: Final = 1024
PHOTO_LONG_SIDE_PX: Final = 1280
THUMBNAIL_LONG_SIDE_PX: Final = 320
"""Longest sides at most. The frame and a photo fill a screen; four thumbnails stand in a row of a list. Our
own choice."""

QUALITY: Final = 88
"""JPEG quality, colours at full resolution: no difference beside the PNG is seen at arm's length."""

PHOTO_QUALITY: Final = 80


def page_pictures(inspection: Inspection, photo: Path) -> dict[str, bytes]:
    """Return JPEG files by name: `piece`, `artwork`, `difference`, `photo`, `thumbnail`; those there are.

    The first three lie in the artwork's frame, of one size, so that they can be laid over each other. sRGB,
    but the photo's own colours and profile in the last two; upright.
    """
    return {**_frame_pictures(inspection), **dict(_photo_pictures(photo))}


def _frame_pictures(inspection: Inspection) -> Mapping[str, bytes]:
    """Return the piece, what it should look like, and their difference; none for a retake."""
    pictures = inspection.pictures
    if pictures is None or inspection.delta_e_2000 is None:
        return {}
    factor = max(1, -(-max(pictures.judged.shape) // FRAME_LONG_SIDE_PX))
    return {
        "piece": _jpeg(shrunk(pictures.piece, factor)),
        "artwork": _jpeg(shrunk(pictures.intended, factor)),
        "difference": _jpeg(_map(pictures, factor)),
    }


def _map(pictures: Pictures, factor: int) -> NDArray[np.uint8]:
    values = mean_of_judged(pictures.delta_e_map, pictures.judged, factor)
    return coloured_map(values.astype(np.float32), np.isfinite(values))


def _jpeg(pixels: NDArray[np.uint8]) -> bytes:
    return _encoded(Image.fromarray(np.ascontiguousarray(pixels)), QUALITY)


def _encoded(picture: Image.Image, quality: int, profile: bytes | None = None) -> bytes:
    stream = io.BytesIO()
    picture.save(stream, "JPEG", quality=quality, subsampling=0, optimize=False, icc_profile=profile)
    return stream.getvalue()


def _photo_pictures(photo: Path) -> Iterator[tuple[str, bytes]]:
    """Yield the photo at two sizes; nothing for one that cannot be decoded."""
    try:
        with pillow_quietly(photo.name):
            picture = _opened(photo)
            profile = picture.info.get("icc_profile") if picture.mode == "RGB" else None
            picture = ImageOps.exif_transpose(picture).convert("RGB")
            for name, side in (("photo", PHOTO_LONG_SIDE_PX), ("thumbnail", THUMBNAIL_LONG_SIDE_PX)):
                picture.thumbnail((side, side), Image.Resampling.BOX, reducing_gap=None)
                yield name, _encoded(picture, PHOTO_QUALITY, profile)
    except BadInput:
        return


def _opened(photo: Path) -> Image.Image:
    """Open a photo, reduced while it is decoded where the format can do that."""
    with photo.open("rb") as stream:
        beginning = stream.read(12)
    if beginning[4:8] == b"ftyp" and beginning[8:12] not in (b"avif", b"avis"):
        import pillow_heif

        return pillow_heif.open_heif(photo).to_pillow()
    picture = Image.open(photo)
    picture.draft("RGB", (PHOTO_LONG_SIDE_PX, PHOTO_LONG_SIDE_PX))
    return picture
