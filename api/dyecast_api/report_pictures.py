"""The pictures of a report, ready to stand in the page, each with a caption in words."""

import base64
import io
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dyecast_api.difference_scale import coloured_map, hatching, legend_strip
from dyecast_api.plain_words import number_words, percent_words
from dyecast_inspect.inspection import Inspection, Pictures, Reference

LONGEST_SIDE_PX: Final = 800
"""Pictures are shrunk to at most this many pixels on their longer side: sharp at the width the page shows
them on a phone of double density, and a page of about a megabyte. Our own choice."""

PERCEPTUAL_INTENT: Final = 0
"""Of the PNG's sRGB chunk. Source: PNG specification, sRGB chunk (from memory)."""

PLACES: Final = (
    ("at the top left", "at the top", "at the top right"),
    ("on the left", "in the middle", "on the right"),
    ("at the bottom left", "at the bottom", "at the bottom right"),
)
"""Names of the nine parts of the artwork, row by row."""

LEAST_SHARE_OF_PART: Final = 0.15
"""A ninth of the picture is spoken of only when at least this share of it was judged. Our own choice."""

CLEARLY_UNEVEN: Final = 1.0
"""CIEDE2000 between the most and the least different ninth below which the caption calls the difference even;
just above the 0.8 that half of observers see (Paravina et al. 2015)."""


@dataclass(frozen=True, slots=True)
class ReportPicture:
    """A picture as a PNG data URI, its alternative text and the caption under it."""

    data_uri: str
    width: int
    height: int
    alternative: str
    caption: str


@dataclass(frozen=True, slots=True)
class ReportPictures:
    """The pictures of one page. Scale and hatching are the keys to the map."""

    piece: ReportPicture
    intended: ReportPicture
    difference_map: ReportPicture
    scale: ReportPicture
    not_judged: ReportPicture


INTENDED_WORDS: Final = {
    Reference.ARTWORK: ("The artwork as intended.", "The artwork: what the piece should look like."),
    Reference.APPROVED_PIECE: (
        "The approved piece as measured.",
        "The approved piece, as measured from its own photo: what the piece should look like.",
    ),
}
"""Alternative text and caption of what a piece was compared with."""


def report_pictures(inspection: Inspection) -> ReportPictures | None:
    """Return the pictures of an inspection, or None when it has none to show."""
    pictures = inspection.pictures
    if pictures is None or inspection.delta_e_2000 is None:
        return None
    factor = max(1, -(-max(pictures.judged.shape) // LONGEST_SIDE_PX))
    return ReportPictures(
        piece=_picture(
            shrunk(pictures.piece, factor),
            "The piece as measured.",
            "The piece as measured from the photo: straightened, corrected by the card, without the "
            "colour of the light.",
        ),
        intended=_picture(
            shrunk(pictures.intended, factor),
            *INTENDED_WORDS[inspection.compared_with],
        ),
        difference_map=_map_picture(pictures, factor),
        scale=_picture(legend_strip(), "Colour scale from dark blue, 0, to pale yellow, 10 and more.", ""),
        not_judged=_picture(hatching(14, 28), "Grey stripes.", ""),
    )


def _map_picture(pictures: Pictures, factor: int) -> ReportPicture:
    values = mean_of_judged(pictures.delta_e_map, pictures.judged, factor)
    coloured = coloured_map(values.astype(np.float32), np.isfinite(values))
    where = where_it_differs(pictures.delta_e_map, pictures.judged)
    return _picture(coloured, f"Map of the colour difference. {where}", where)


def _picture(pixels: NDArray[np.uint8], alternative: str, caption: str) -> ReportPicture:
    encoded = base64.b64encode(png_bytes(pixels)).decode("ascii")
    return ReportPicture(
        data_uri=f"data:image/png;base64,{encoded}",
        width=pixels.shape[1],
        height=pixels.shape[0],
        alternative=alternative,
        caption=caption,
    )


def measured_png(pictures: Pictures) -> bytes:
    """Encode the piece as measured as an RGBA PNG, sRGB, in the artwork's frame.

    Alpha is 255 where the piece was measured and 0 where it could not be: under glare, overexposed, or
    outside its outline. There R, G and B hold what the rest of the piece makes expect.
    """
    alpha = np.where(pictures.judged, np.uint8(255), np.uint8(0))
    return png_bytes(np.dstack([pictures.piece, alpha]))


def png_bytes(pixels: NDArray[np.uint8]) -> bytes:
    """Encode (h, w, 3 or 4) uint8 sRGB, alpha last, as PNG; its sRGB chunk leaves no viewer to guess."""
    from PIL import Image, PngImagePlugin

    chunks = PngImagePlugin.PngInfo()
    chunks.add(b"sRGB", bytes([PERCEPTUAL_INTENT]))
    stream = io.BytesIO()
    Image.fromarray(np.ascontiguousarray(pixels)).save(stream, "PNG", pnginfo=chunks)
    return stream.getvalue()


def shrunk(pixels: NDArray[np.uint8], factor: int) -> NDArray[np.uint8]:
    """Shrink (h, w, 3) uint8 by a whole factor >= 1, averaging code values; only for showing."""
    channels = [_block_mean(pixels[..., channel].astype(np.float64), factor) for channel in range(3)]
    return np.rint(np.stack(channels, axis=-1)).astype(np.uint8)


def mean_of_judged(
    delta_e_map: NDArray[np.float32], judged: NDArray[np.bool_], factor: int
) -> NDArray[np.float64]:
    """Shrink a map, (h, w), by a whole factor: mean of the judged values, NaN where there is none."""
    shown = judged & np.isfinite(delta_e_map)
    total = _block_mean(np.where(shown, delta_e_map, 0.0).astype(np.float64), factor)
    share = _block_mean(shown.astype(np.float64), factor)
    mean = np.full(total.shape, np.nan)
    np.divide(total, share, out=mean, where=share > 0.0)
    return mean


def _block_mean(values: NDArray[np.float64], factor: int) -> NDArray[np.float64]:
    """Mean over blocks of factor × factor; the last block of a row or column may be smaller."""
    height, width = values.shape
    rows = np.add.reduceat(values, np.arange(0, height, factor), axis=0)
    blocks = np.add.reduceat(rows, np.arange(0, width, factor), axis=1)
    block_heights = np.diff(np.append(np.arange(0, height, factor), height))
    block_widths = np.diff(np.append(np.arange(0, width, factor), width))
    return np.asarray(blocks / np.outer(block_heights, block_widths))


def where_it_differs(delta_e_map: NDArray[np.float32], judged: NDArray[np.bool_]) -> str:
    """Say in words in which part of the artwork the piece differs most, and in which least."""
    parts = _parts_by_difference(delta_e_map, judged)
    hidden = 1.0 - float((judged & np.isfinite(delta_e_map)).mean())
    hidden_words = f" Not judged: {percent_words(hidden)} of the picture." if hidden >= 0.005 else ""
    if not parts:
        return "Nothing was judged."
    (least, least_place), (most, most_place) = parts[0], parts[-1]
    if most - least < CLEARLY_UNEVEN:
        return f"The difference is about the same everywhere, ΔE00 {number_words(most)}.{hidden_words}"
    return (
        f"It differs most {most_place}, ΔE00 {number_words(most)} on average, and least "
        f"{least_place}, ΔE00 {number_words(least)}.{hidden_words}"
    )


def _parts_by_difference(
    delta_e_map: NDArray[np.float32], judged: NDArray[np.bool_]
) -> list[tuple[float, str]]:
    """Mean CIEDE2000 and name of each ninth of the map that was judged well enough, least first."""
    shown = judged & np.isfinite(delta_e_map)
    parts = []
    for row, names in enumerate(PLACES):
        for column, name in enumerate(names):
            area = (_third(shown.shape[0], row), _third(shown.shape[1], column))
            values = delta_e_map[area][shown[area]]
            if values.size and values.size >= LEAST_SHARE_OF_PART * shown[area].size:
                parts.append((float(values.mean(dtype=np.float64)), name))
    return sorted(parts)


def _third(length: int, index: int) -> slice:
    return slice(index * length // 3, (index + 1) * length // 3)
