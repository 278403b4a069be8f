"""Where the print departs from the fitted pressing: density that is there and should not be, or lacks.

A map of about two pixels a millimetre, in the artwork's frame: enough for a shifted second print or for lines
across the print, and small enough to be quick.
"""

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.pressing_model import bands_from_xyz, dye_amounts, pressed_bands
from dyecast_inspect.card_sighting import CardSighting
from dyecast_inspect.explain_surface import ExplainedPiece
from dyecast_inspect.fit_pressing import LEAST_LIGHT
from dyecast_inspect.inspection import Estimate
from dyecast_inspect.measure_piece import MeasuredPiece
from dyecast_inspect.read_artwork import Artwork
from dyecast_inspect.register_piece import Registration
from dyecast_shared.geometry import local_scale

PIXELS_PER_MM: Final = 2.2
"""Finest map: half a millimetre is about a pixel."""

EDGE_PX: Final = 2
"""Pixels beside what was not judged that are left out too."""

LEAST_EXPECTED: Final = np.float32(1e-2)
"""Light below which no further density is expected: no print looks darker through its own sheen."""

LOG10_E: Final = np.float32(np.log10(np.e))

Image = NDArray[np.float32]


@dataclass(frozen=True, slots=True, eq=False)
class PrintResidual:
    """The departure of the print from the fitted pressing.

    Attributes
    ----------
    density
        (h, w, 3) float32 optical density in the three bands, measured minus expected.
    weight
        (h, w, 3) float32: how much light a density changes there, squared (in cube roots); 0 where nothing
        was judged. Deep shadows tell little.
    expected
        (h, w, 3) float32 expected density in the three bands, as sharp as the photo.
    amounts
        (h, w, 3) float32 dye amounts the artwork asks for.
    pixels_per_mm
        Pixels per mm of the print.
    """

    density: Image
    weight: Image
    expected: Image
    amounts: Image
    pixels_per_mm: float


def print_residual(  # noqa: PLR0913, PLR0917 (what five stages found)
    card: CardSighting,
    registration: Registration,
    piece: MeasuredPiece,
    bleed: Estimate | None,
    explained: ExplainedPiece,
    artwork: Artwork,
) -> PrintResidual:
    """Compare the measured piece with the fitted pressing of the artwork."""
    ratio = min(1.0, PIXELS_PER_MM / piece.pixels_per_mm)
    height, width = (round(side * ratio) for side in piece.usable.shape)
    size, scale = (width, height), piece.pixels_per_mm * ratio
    amounts = dye_amounts(bands_from_xyz(artwork.at_size(height, width)))
    blur = _blur_px(card, registration, bleed, size, scale)
    light = cv2.GaussianBlur(pressed_bands(amounts, explained.fit.pressing()), (0, 0), blur)
    gain = cv2.resize(explained.fit.gain(height // 2, width // 2), size)
    veil = cv2.resize(explained.fit.veil(height // 2, width // 2), size)[..., np.newaxis]
    lit = gain * light
    root = _cube_root(lit + veil)
    seen = np.asarray(cv2.resize(piece.bands, size, interpolation=cv2.INTER_AREA), np.float32)
    slope = np.float32(np.log(10.0) / 3.0) * lit / (root * root)
    judged = cv2.resize(explained.judged.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST)
    kernel = np.ones((2 * EDGE_PX + 1,) * 2, np.uint8)
    judged = cv2.erode(judged, kernel, borderType=cv2.BORDER_CONSTANT, borderValue=0)
    return PrintResidual(
        density=np.asarray(np.subtract(root, _cube_root(seen)) / slope, np.float32),
        weight=np.asarray(slope * slope * judged[..., np.newaxis], np.float32),
        expected=np.asarray(cv2.log(np.maximum(light, LEAST_EXPECTED)) * -LOG10_E, np.float32),
        amounts=amounts,
        pixels_per_mm=scale,
    )


def _cube_root(light: Image) -> Image:
    """Return the cube root of light; OpenCV's power is several times as fast as numpy's cube root."""
    return np.asarray(cv2.pow(np.maximum(light, np.float32(LEAST_LIGHT)), 1.0 / 3.0), np.float32)


def _blur_px(
    card: CardSighting,
    registration: Registration,
    bleed: Estimate | None,
    size: tuple[int, int],
    pixels_per_mm: float,
) -> float:
    """Return the standard deviation of the photo's blur, a pixel's own and the dyes' bleed, in map pixels."""
    to_map = np.diag([size[0], size[1], 1.0]) @ np.linalg.inv(registration.artwork_to_photo)
    middle = registration.artwork_to_photo @ np.array([0.5, 0.5, 1.0])
    photo_blur = card.edge_width_px * local_scale(to_map, middle[:2] / middle[2])
    spread = 0.0 if bleed is None else max(bleed.value, 0.0) * pixels_per_mm**2
    return float(np.sqrt(photo_blur**2 + spread + 1.0 / 12.0))
