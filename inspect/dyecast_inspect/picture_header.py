"""What a picture file says about itself before anything is decoded."""

import io
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from PIL import Image, TiffImagePlugin

from dyecast_inspect.exif_facts import exif_colour_space, orientation, parsed_exif
from dyecast_inspect.pillow_quietly import pillow_quietly
from dyecast_inspect.png_chunks import PNG_SIGNATURE, small_chunk
from dyecast_shared.errors import NotAPicture

_HEIF_BRANDS = frozenset((b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"mif2", b"msf1"))
_AVIF_BRANDS = frozenset((b"avif", b"avis"))
"""Brands a file names as its own or as compatible. Source: ISO/IEC 23008-12 and the AVIF specification,
from memory."""

SRGB_CODING_POINTS = (1, 13)
"""BT.709 primaries with the sRGB curve. Source: ITU-T H.273, tables 2 and 3."""

TIFF_RGB = 2
TIFF_ONE_PLANE = 1
TIFF_WHOLE_NUMBERS = 1
TIFF_PLAIN_OPACITY = 2
"""PhotometricInterpretation, PlanarConfiguration, SampleFormat and ExtraSamples of a TIFF that is read at 16
bits. Source: TIFF revision 6.0."""

SEPARATE_PLANES = "16-bit RGB in separate planes"
"""Mode of a TIFF that Pillow and OpenCV both read without complaint and get wrong."""


class Container(StrEnum):
    """The file formats dyecast reads."""

    JPEG = "JPEG"
    PNG = "PNG"
    TIFF = "TIFF"
    WEBP = "WebP"
    HEIF = "HEIF"
    AVIF = "AVIF"


_PILLOW_FORMATS = {
    Container.JPEG: ("JPEG", "MPO"),
    Container.PNG: ("PNG",),
    Container.TIFF: ("TIFF",),
    Container.WEBP: ("WEBP",),
    Container.AVIF: ("AVIF",),
}


@dataclass(frozen=True, slots=True)
class PictureHeader:
    """What is known of a picture before decoding.

    Attributes
    ----------
    name
        File name without its folder.
    container
        The format by its first bytes; the file's extension plays no part.
    width, height
        Pixels as stored, before `orientation` is applied.
    mode
        Pixel layout in Pillow's words, e.g. ``"RGB"``, ``"CMYK"``, ``"I;16"``, ``"RGB;16"``.
    orientation
        EXIF orientation still to be applied, 1 to 8.
    icc_profile
        The embedded profile's bytes, or None.
    exif_colour_space
        EXIF ColorSpace, 1 = sRGB, 65535 = uncalibrated, None when absent.
    coding_points
        Colour primaries and transfer characteristics of ITU-T H.273 that a PNG or HEIF file states,
        or None; a PNG's sRGB chunk counts as (1, 13).
    frames
        Pictures in the file; 2 stands for several.
    """

    name: str
    container: Container
    width: int
    height: int
    mode: str
    orientation: int = 1
    icc_profile: bytes | None = None
    exif_colour_space: int | None = None
    coding_points: tuple[int, int] | None = None
    frames: int = 1


def container_of(data: bytes, name: str) -> Container:
    """Tell the format from the first bytes. Raises NotAPicture when they are none that dyecast reads."""
    if data.startswith(b"\xff\xd8"):
        return Container.JPEG
    if data.startswith(PNG_SIGNATURE):
        return Container.PNG
    if data[:4] in (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+"):
        return Container.TIFF
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return Container.WEBP
    if data[4:8] == b"ftyp":
        box = data[8 : max(12, min(int.from_bytes(data[:4], "big"), 256))]
        brands = {box[start : start + 4] for start in range(0, len(box), 4)}
        if not brands.isdisjoint(_AVIF_BRANDS):
            return Container.AVIF
        if not brands.isdisjoint(_HEIF_BRANDS):
            return Container.HEIF
    raise NotAPicture("The file's content is no picture that dyecast reads.", file=name)


def open_with_pillow(data: bytes, container: Container, name: str) -> Image.Image:
    """Open without decoding. Call it, and decode, inside `pillow_quietly`."""
    if container is Container.AVIF and "AVIF" not in Image.OPEN:
        Image.init()
        if "AVIF" not in Image.OPEN:
            raise NotAPicture("This installation cannot decode AVIF.", file=name)
    return Image.open(io.BytesIO(data), formats=_PILLOW_FORMATS[container])


def read_header(data: bytes, name: str) -> PictureHeader:
    """Read the header of a picture held in memory.

    Raises NotAPicture for a foreign format and PictureDamaged or PictureTooLarge when the header is beyond
    reading.
    """
    container = container_of(data, name)
    if container is Container.HEIF:
        return _heif_header(data, name)
    with pillow_quietly(name):
        picture = open_with_pillow(data, container, name)
        exif = _exif(picture, container, data)
        return PictureHeader(
            name=name,
            container=container,
            width=picture.width,
            height=picture.height,
            mode=_true_mode(picture, container, data),
            orientation=orientation(exif),
            icc_profile=picture.info.get("icc_profile") or None,
            exif_colour_space=exif_colour_space(exif),
            coding_points=_png_coding_points(data) if container is Container.PNG else None,
            frames=_frames(picture, container),
        )


def _heif_header(data: bytes, name: str) -> PictureHeader:
    """Read a HEIF header; libheif applies the file's own rotation, so the orientation left is 1."""
    import pillow_heif  # loads a large library, so not before it is needed

    with pillow_quietly(name):
        picture = pillow_heif.open_heif(io.BytesIO(data), convert_hdr_to_8bit=False)
        return PictureHeader(
            name=name,
            container=Container.HEIF,
            width=picture.size[0],
            height=picture.size[1],
            mode=picture.mode,
            icc_profile=picture.info.get("icc_profile") or None,
            exif_colour_space=exif_colour_space(parsed_exif(picture.info.get("exif"))),
            coding_points=_heif_coding_points(picture.info.get("nclx_profile")),
        )


def _exif(picture: Image.Image, container: Container, data: bytes) -> Image.Exif:
    """Return the EXIF data without decoding a pixel; empty for TIFF, which Pillow turns upright itself."""
    if container is Container.TIFF:
        return Image.Exif()
    if container is Container.PNG:  # asking Pillow would decode the whole picture
        return parsed_exif(small_chunk(data, b"eXIf"))
    try:
        return picture.getexif()
    except Exception:  # damaged EXIF raises nearly anything, and the pixels do not need it
        return Image.Exif()


def _png_coding_points(data: bytes) -> tuple[int, int] | None:
    """Read what a PNG's cICP or sRGB chunk says (PNG specification, third edition, 11.3.2)."""
    stated = small_chunk(data, b"cICP")
    if stated is not None and len(stated) >= 2:
        return stated[0], stated[1]
    return SRGB_CODING_POINTS if small_chunk(data, b"sRGB") is not None else None


def _heif_coding_points(nclx: dict[str, Any] | None) -> tuple[int, int] | None:
    """Read primaries and transfer from a HEIF colour box."""
    if not nclx:
        return None
    return int(nclx.get("color_primaries", 2)), int(nclx.get("transfer_characteristics", 2))


def _frames(picture: Image.Image, container: Container) -> int:
    """Count pictures, but do not walk a TIFF's chain of them, which may be endless.

    A JPEG counts as one: what phones append (gain map, depth) is no second photo.
    """
    if container is Container.JPEG:
        return 1
    if container is not Container.TIFF:
        return int(getattr(picture, "n_frames", 1))
    try:
        picture.seek(1)
    except Exception:  # EOFError at the end of the chain, nearly anything when it is damaged
        return 1
    return 2


def _true_mode(picture: Image.Image, container: Container, data: bytes) -> str:
    """Return Pillow's mode, or e.g. ``"RGB;16"`` where Pillow would halve 16 bits of a PNG or TIFF."""
    if picture.mode not in ("RGB", "RGBA"):
        return picture.mode
    if container is Container.PNG:
        return f"{picture.mode};16" if data[24:25] == b"\x10" else picture.mode
    if isinstance(picture, TiffImagePlugin.TiffImageFile) and _is_deep_tiff(picture):
        planes = picture.tag_v2.get(TiffImagePlugin.PLANAR_CONFIGURATION, TIFF_ONE_PLANE)
        return f"{picture.mode};16" if planes == TIFF_ONE_PLANE else SEPARATE_PLANES
    return picture.mode


def _is_deep_tiff(picture: TiffImagePlugin.TiffImageFile) -> bool:
    """Tell a TIFF of 16-bit whole numbers whose opacity, if any, is not multiplied in."""
    tags = picture.tag_v2
    opacity = tags.get(TiffImagePlugin.EXTRASAMPLES, ())
    return (
        set(tags.get(TiffImagePlugin.BITSPERSAMPLE, ())) == {16}
        and tags.get(TiffImagePlugin.PHOTOMETRIC_INTERPRETATION) == TIFF_RGB
        and set(tags.get(TiffImagePlugin.SAMPLEFORMAT, (TIFF_WHOLE_NUMBERS,))) == {TIFF_WHOLE_NUMBERS}
        and tuple(opacity) == (() if picture.mode == "RGB" else (TIFF_PLAIN_OPACITY,))
    )
