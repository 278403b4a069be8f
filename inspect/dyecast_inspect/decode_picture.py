"""From a picture file's bytes to arrays of code values, at full or at working resolution."""

import io
import re
from contextlib import nullcontext
from dataclasses import dataclass
from typing import Any, cast

import cv2
import numpy as np
import simplejpeg
from numpy.typing import NDArray
from PIL import Image

from dyecast_inspect.deep_picture import decode_deep
from dyecast_inspect.jpeg_scans import check_scans
from dyecast_inspect.picture_header import SEPARATE_PLANES, Container, PictureHeader, open_with_pillow
from dyecast_inspect.pillow_quietly import pillow_quietly
from dyecast_inspect.png_chunks import only_pixels, pixels_intact, small_chunk
from dyecast_inspect.reading_bounds import ReadingBounds
from dyecast_inspect.silent_stderr import silent_stderr
from dyecast_shared.errors import NotAPicture, PictureDamaged

CodeValues = NDArray[np.uint8] | NDArray[np.uint16]

_HARMLESS_JPEG_REMARK = re.compile(r"extraneous bytes before marker|Inconsistent progression|bad ICC marker")
"""libjpeg's remarks that leave every pixel intact; all others mean lost data."""

_PIXEL_BYTES = {"RGB;16": 16, "RGBA;16": 16, "I;16": 4, "L": 2, "1": 3}
"""Memory per pixel while decoding, by mode: Pillow keeps 4 bytes for a colour and converts beside it."""

_PIXEL_BYTES_DEFAULT = 8

_WEBP_PIXEL_BYTES = 16
"""Pillow decodes WebP through the animation decoder, which holds four copies."""

_PLAIN_MODES = ("L", "LA", "RGB", "RGBA", "CMYK")

_CONVERTED_MODES = {
    "1": "L",
    "P": "RGB",
    "PA": "RGBA",
    "La": "LA",
    "RGBa": "RGBA",
    "RGBX": "RGB",
    "YCbCr": "RGB",
}


@dataclass(frozen=True, slots=True, eq=False)
class Raster:
    """Decoded code values as stored, not yet turned upright.

    Attributes
    ----------
    codes
        (H, W, C) uint8 or uint16; C = 1 grey, 3 RGB, 4 CMYK with 0 = no ink.
    alpha
        (H, W) float32 opacity in 0..1, or None when the picture is opaque throughout.
    factor
        Stored pixels per decoded pixel along each axis: 1, 2 or 4.
    """

    codes: CodeValues
    alpha: NDArray[np.float32] | None
    factor: int


def bytes_per_pixel(header: PictureHeader) -> int:
    """Return about how much memory one pixel takes while it is decoded, in bytes."""
    least = _WEBP_PIXEL_BYTES if header.container is Container.WEBP else 0
    return max(least, _PIXEL_BYTES.get(header.mode, _PIXEL_BYTES_DEFAULT))


def decode(data: bytes, header: PictureHeader, *, factor: int, bounds: ReadingBounds) -> Raster:
    """Decode a picture whose size has been checked, `factor` times smaller (1, 2 or 4).

    JPEG is reduced in its cosine transform, every other format by the mean over whole blocks of encoded
    values; the mean of encoded values is darker than that of light by less than half a code wherever the
    block is as even as the inside of a patch. Raises PictureDamaged, NotAPicture or PictureTooLarge.
    """
    if header.container is Container.JPEG:
        check_scans(data, header.name, header.width * header.height, bounds=bounds)
        if header.mode != "CMYK":
            return _decode_jpeg(data, header, factor)
    if header.mode == SEPARATE_PLANES:
        raise _not_read(header.mode, header.name)
    if header.container is Container.HEIF:
        return _decode_heif(data, header, factor)
    if header.container is Container.PNG and not pixels_intact(data):
        raise PictureDamaged("The PNG's pixels do not match their checksum.", file=header.name)
    plain = _plain_png(data, header) if factor == 1 else None
    return _decode_with_pillow(data, header, factor) if plain is None else _raster(plain, factor)


def _decode_jpeg(data: bytes, header: PictureHeader, factor: int) -> Raster:
    """Decode a grey or colour JPEG to RGB or grey uint8."""
    smallest = {"min_height": -(-header.height // factor), "min_width": -(-header.width // factor)}
    accurate: dict[str, Any] = {"fastdct": False, "fastupsample": False, **smallest}
    try:
        codes = simplejpeg.decode_jpeg(data, "GRAY" if header.mode == "L" else "RGB", **accurate)
    except ValueError as failure:
        if not _HARMLESS_JPEG_REMARK.search(str(failure)):
            raise PictureDamaged("The JPEG breaks off or is damaged inside.", file=header.name) from failure
        return _decode_with_pillow(data, header, factor)
    if codes.shape[:2] != tuple(smallest.values()):
        raise PictureDamaged("The JPEG contradicts its own size.", file=header.name)
    return Raster(codes, None, factor)


def _decode_heif(data: bytes, header: PictureHeader, factor: int) -> Raster:
    """Decode the primary picture of a HEIF file; more than 8 bits become 16."""
    import pillow_heif  # loads a large library, so not before it is needed

    with pillow_quietly(header.name):
        picture = pillow_heif.open_heif(io.BytesIO(data), convert_hdr_to_8bit=False)
        codes = np.asarray(picture)
        depth = int(picture.info.get("bit_depth", 8))
    if codes.shape[:2] != (header.height, header.width):
        raise PictureDamaged("The picture contradicts its own size.", file=header.name)
    if codes.dtype == np.uint16:
        codes = codes | (codes >> depth)  # the decoder shifts to 16 bits and leaves white short of 65535
    return _raster(_block_mean(codes, factor), factor)


def _decode_with_pillow(data: bytes, header: PictureHeader, factor: int) -> Raster:
    """Decode what Pillow decodes; 16-bit colour is checked by Pillow and decoded again by OpenCV."""
    silence = silent_stderr() if header.container is Container.TIFF else nullcontext()
    with pillow_quietly(header.name):
        with open_with_pillow(data, header.container, header.name) as picture:
            with silence:
                picture.load()
            if header.mode.startswith("I;16"):
                return _raster(_block_mean(np.asarray(picture).astype(np.uint16), factor), factor)
            deep = decode_deep(data, header) if header.mode.endswith(";16") else None
            if deep is None:
                plain = _plain(picture, header.name)
                plain = plain if factor == 1 else plain.reduce(factor)
                return _raster(np.asarray(plain), factor, ink=plain.mode == "CMYK")
        return _raster(_block_mean(deep, factor), factor)


def _plain(picture: Image.Image, name: str) -> Image.Image:
    """Convert to one of the plain modes. Raises NotAPicture for layouts a photo never has."""
    if "transparency" in picture.info and picture.mode in ("1", "L", "P", "RGB"):
        return picture.convert("RGBA")
    if picture.mode in _CONVERTED_MODES:
        return picture.convert(_CONVERTED_MODES[picture.mode])
    if picture.mode not in _PLAIN_MODES:
        raise _not_read(picture.mode, name)
    return picture


def _not_read(layout: str, name: str) -> NotAPicture:
    """Build the refusal of a picture whose pixels are laid out as no photo's are."""
    message = f"Its pixels are stored as {layout}, which dyecast does not read."
    return NotAPicture(message, advice="Save it as 8-bit RGB with its profile embedded.", file=name)


def _plain_png(data: bytes, header: PictureHeader) -> CodeValues | None:
    """Decode an 8-bit colour PNG, (H, W, 3 or 4), twice as fast as Pillow; None for what Pillow must see."""
    if (
        header.container is not Container.PNG
        or header.mode not in ("RGB", "RGBA")
        or small_chunk(data, b"tRNS")
    ):
        return None
    codes = _png_codes(data)
    return codes if codes is not None and codes.dtype == np.uint8 and codes.ndim == 3 else None


def _png_codes(data: bytes) -> CodeValues | None:
    """Decode a PNG from its pixel chunks alone, red first; None where OpenCV finds anything amiss."""
    with silent_stderr():
        codes: NDArray[Any] | None = cv2.imdecode(
            np.frombuffer(only_pixels(data), np.uint8), cv2.IMREAD_UNCHANGED
        )
    if codes is None or codes.ndim != 3:
        return codes
    order = cv2.COLOR_BGRA2RGBA if codes.shape[2] == 4 else cv2.COLOR_BGR2RGB
    return cast(CodeValues, cv2.cvtColor(codes, order, dst=codes))


def _block_mean(codes: NDArray[Any], factor: int) -> NDArray[Any]:
    """Average whole blocks of `factor` by `factor` codes, (H, W[, C]); edge blocks repeat the last line."""
    if factor == 1:
        return codes
    height, width = (-(-side // factor) for side in codes.shape[:2])
    below, right = height * factor - codes.shape[0], width * factor - codes.shape[1]
    whole = cv2.copyMakeBorder(codes, 0, below, 0, right, cv2.BORDER_REPLICATE) if below or right else codes
    return cv2.resize(whole, (width, height), interpolation=cv2.INTER_AREA)


def _raster(codes: NDArray[Any], factor: int, *, ink: bool = False) -> Raster:
    """Split codes (H, W[, C]) into colour and opacity; `ink` says that four channels are CMYK."""
    codes = codes[..., np.newaxis] if codes.ndim == 2 else codes
    if ink or codes.shape[2] in (1, 3):
        return Raster(codes, None, factor)
    opacity = codes[..., -1].astype(np.float32) / np.float32(np.iinfo(codes.dtype).max)
    return Raster(codes[..., :-1], opacity if opacity.min() < 1.0 else None, factor)
