"""Pillow without warnings on stderr, its many exceptions turned into plain refusals."""

import logging
import re
import threading
import warnings
from collections.abc import Iterator
from contextlib import contextmanager

from PIL import Image, UnidentifiedImageError

from dyecast_shared.errors import BadInput, PictureDamaged, PictureTooLarge

logging.getLogger("PIL").addHandler(logging.NullHandler())  # else its complaints reach stderr

_PILLOW_LOCK = threading.RLock()


@contextmanager
def pillow_quietly(name: str) -> Iterator[None]:
    """Run Pillow without a word on stderr, and turn what it raises into a BadInput about file `name`.

    The warning filters are the interpreter's, so one thread at a time passes.
    """
    with _PILLOW_LOCK, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            yield
        except BadInput:
            raise
        except Image.DecompressionBombError as failure:
            raise PictureTooLarge(f"It would decode to {_megapixels(failure)}.", file=name) from failure
        except MemoryError as failure:
            raise PictureTooLarge("Decoding it takes more memory than there is.", file=name) from failure
        except UnidentifiedImageError as failure:
            message = "The picture's header is damaged, or its pixels are of a kind dyecast does not read."
            raise PictureDamaged(message, file=name) from failure
        except Exception as failure:
            if "too large" in str(failure):
                raise PictureTooLarge("A text or profile inside it is too large.", file=name) from failure
            raise PictureDamaged("The picture breaks off or contradicts itself.", file=name) from failure


def _megapixels(failure: Image.DecompressionBombError) -> str:
    """Take the number of pixels out of Pillow's words."""
    count = re.search(r"\d+", str(failure))
    return f"{int(count[0]) / 1e6:.0f} megapixels" if count else "far too many pixels"
