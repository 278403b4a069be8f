"""The two facts that EXIF data hold about pixels: which way is up, and whether they are sRGB.

Nothing else is read; position, time and camera stay in the file.
"""

from PIL import Image

EXIF_ORIENTATION = 0x0112
EXIF_SUB_DIRECTORY = 0x8769
EXIF_COLOUR_SPACE = 0xA001
"""Tags of EXIF 2.32 (CIPA DC-008-2019), tables 4 to 8."""


def parsed_exif(exif_bytes: bytes | None) -> Image.Exif:
    """Parse an EXIF block; a damaged or missing one is empty."""
    exif = Image.Exif()
    try:
        exif.load(exif_bytes or b"")
    except Exception:  # damaged EXIF raises nearly anything, and the pixels do not need it
        return Image.Exif()
    return exif


def orientation(exif: Image.Exif) -> int:
    """Return the EXIF orientation, 1 to 8; anything else counts as 1."""
    stated = exif.get(EXIF_ORIENTATION, 1)
    return stated if isinstance(stated, int) and 1 <= stated <= 8 else 1


def exif_colour_space(exif: Image.Exif) -> int | None:
    """Return EXIF ColorSpace, or None when it is absent or damaged."""
    try:
        colour_space = exif.get_ifd(EXIF_SUB_DIRECTORY).get(EXIF_COLOUR_SPACE)
    except Exception:  # damaged EXIF again
        return None
    return colour_space if isinstance(colour_space, int) else None
