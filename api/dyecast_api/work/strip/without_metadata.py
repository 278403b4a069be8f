"""Strip a photo of any format that dyecast reads."""

from dyecast_api.work.strip.heif import strip_heif
from dyecast_api.work.strip.jpeg import strip_jpeg
from dyecast_api.work.strip.minimal_exif import minimal_exif
from dyecast_api.work.strip.png import strip_png
from dyecast_api.work.strip.tiff import strip_tiff
from dyecast_api.work.strip.webp import strip_webp
from dyecast_inspect.picture_header import Container, PictureHeader


def without_metadata(photo: bytes, header: PictureHeader) -> bytes:
    """Return the photo without what it says about place, time, camera and owner; pixels are not touched.

    It is read as before: upright, in the same colours. Raises PictureDamaged for a file whose parts cannot be
    told apart.
    """
    exif = minimal_exif(header.orientation, header.exif_colour_space)
    match header.container:
        case Container.JPEG:
            return strip_jpeg(photo, exif, header.name)
        case Container.PNG:
            return strip_png(photo, exif)
        case Container.WEBP:
            return strip_webp(photo, exif, header.name)
        case Container.TIFF:
            return strip_tiff(photo, header.name)
        case Container.HEIF | Container.AVIF:
            return strip_heif(photo, exif, header.name)
