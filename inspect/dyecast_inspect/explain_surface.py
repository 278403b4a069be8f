"""Take light and glass off the measured piece, and find what of it can be judged.

The pressing is fitted twice: once to everything, to see the outline (a round piece shows table in the
corners of the artwork's frame) and the glare, and once more to what is left.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.pressing_model import bands_from_xyz, dye_amounts
from dyecast_calibration.pressing_prior import PressingPrior
from dyecast_inspect.fit_pressing import PieceSample, PressingFit, fit_pressing
from dyecast_inspect.measure_piece import MeasuredPiece
from dyecast_inspect.read_artwork import Artwork

FIT_LONG_SIDE_PX = 80
"""Long side of the pictures the fit sees; the artwork enters at twice that."""

MIXING_LONG_SIDE_PX = 640
"""Long side of the artwork from which the mean of the dye amounts is taken: fine lines still show."""

GLARE_RISE = 0.08
"""Rise over the prediction, in cube roots of light (9 in lightness), from which a place is glare."""

GLARE_MARGIN_PX = 3
"""Pixels of the frame around glare that its edge may reach."""

CORNER_AGREEMENT = 0.6
"""Agreement outside an outline, relative to inside, below which what lies there is not the piece."""

CORNER_RADII = (0.0, 0.06, 0.10, 0.15, 0.22)
"""Corner radii tried, as a share of the short side, before the whole ellipse."""


@dataclass(frozen=True, slots=True, eq=False)
class ExplainedPiece:
    """The piece without light and glass, and what of it can be judged.

    Attributes
    ----------
    bands
        (h, w, 3) float32 light in the three bands, 1 = perfect white; places that cannot be judged hold
        the fitted prediction.
    outline, judged
        (h, w) bool: the printed face, and the part of it that is neither glare nor clipped.
    fit
        The fitted explanation.
    """

    bands: NDArray[np.float32]
    outline: NDArray[np.bool_]
    judged: NDArray[np.bool_]
    fit: PressingFit

    @property
    def hidden_share(self) -> float:
        """Share of the printed face that cannot be judged, 0..1."""
        return 1.0 - float(self.judged.sum()) / max(float(self.outline.sum()), 1.0)


def explain_surface(
    piece: MeasuredPiece, artwork: Artwork, prior: PressingPrior, card_error: float
) -> ExplainedPiece:
    """Fit, find outline and glare, fit again, and take gain and veil off."""
    height, width = piece.usable.shape
    opaque = cv2.resize(artwork.opaque.astype(np.float32), (width, height), interpolation=cv2.INTER_AREA) > 0.5
    sample = piece_sample(piece, artwork, piece.usable & opaque, card_error)
    first = fit_pressing(sample, prior)
    outline = opaque & _outline(first, sample, height, width)
    usable = piece.usable & outline
    glare = _glare(piece, first)
    judged = usable & ~glare
    sample = piece_sample(piece, artwork, judged, card_error)
    final = fit_pressing(sample, prior, start=first.parameters)
    bands = np.maximum((piece.bands - final.veil(height, width)) / final.gain(height, width), 0.0)
    expected = _expected(final, sample, height, width)
    bands = np.where(judged[..., np.newaxis], bands, expected)
    return ExplainedPiece(np.asarray(bands, np.float32), outline, judged, final)


def piece_sample(
    piece: MeasuredPiece, artwork: Artwork, usable: NDArray[np.bool_], card_error: float
) -> PieceSample:
    """Reduce the measured piece and the artwork to what the fit sees."""
    height, width = usable.shape
    ratio = FIT_LONG_SIDE_PX / max(height, width)
    size = (max(8, round(width * ratio)), max(8, round(height * ratio)))
    mask = usable.astype(np.float32)
    light = cv2.resize(piece.bands * mask[..., np.newaxis], size, interpolation=cv2.INTER_AREA)
    share = cv2.resize(mask, size, interpolation=cv2.INTER_AREA)
    fine_size = (2 * size[0], 2 * size[1])
    fine = cv2.resize(artwork.xyz, fine_size, interpolation=cv2.INTER_AREA)
    detailed = dye_amounts(bands_from_xyz(_reduced(artwork.xyz, MIXING_LONG_SIDE_PX)))
    return PieceSample(
        measured=np.asarray(light / np.maximum(share, 1e-3)[..., np.newaxis], np.float32),
        weight=(share > 0.7).astype(np.float32),
        amounts=dye_amounts(bands_from_xyz(fine)),
        mixed_amounts=np.asarray(cv2.resize(detailed, fine_size, interpolation=cv2.INTER_AREA), np.float32),
        card_error=card_error,
        pixels_per_mm=piece.pixels_per_mm * size[0] / width,
    )


def _reduced(picture: NDArray[np.float32], long_side_px: int) -> NDArray[np.float32]:
    """Average a picture (h, w, 3) down to a long side of at most `long_side_px`."""
    height, width = picture.shape[:2]
    ratio = min(1.0, long_side_px / max(height, width))
    size = (max(1, round(width * ratio)), max(1, round(height * ratio)))
    return np.asarray(cv2.resize(picture, size, interpolation=cv2.INTER_AREA), np.float32)


def _outline(fit: PressingFit, sample: PieceSample, height: int, width: int) -> NDArray[np.bool_]:
    """Return the printed face: the largest of rectangle, rounded rectangle and ellipse that agrees."""
    rows, columns = sample.weight.shape
    seen = sample.weight > 0
    for radius in CORNER_RADII:
        inside = rounded(rows, columns, radius)
        if radius == 0.0:
            beyond = seen & ~rounded(rows, columns, CORNER_RADII[1])
        else:
            beyond = seen & inside & ~_next_rounder(rows, columns, radius)
        if not beyond.any():
            return rounded(height, width, radius)
        within = float(np.median(fit.agreement[seen & ellipse(rows, columns)]))
        if float(np.median(fit.agreement[beyond])) > CORNER_AGREEMENT * within:
            return rounded(height, width, radius)
    return ellipse(height, width)


def _next_rounder(rows: int, columns: int, radius: float) -> NDArray[np.bool_]:
    """Return the next rounder outline after `radius`."""
    place = CORNER_RADII.index(radius) + 1
    return rounded(rows, columns, CORNER_RADII[place]) if place < len(CORNER_RADII) else ellipse(rows, columns)


def rounded(height: int, width: int, radius: float) -> NDArray[np.bool_]:
    """Return a rectangle (height, width) with corners of `radius`, a share of the short side."""
    reach = radius * min(height, width)
    across = np.maximum(np.abs(np.arange(width) + 0.5 - width / 2) - (width / 2 - reach), 0.0)
    down = np.maximum(np.abs(np.arange(height) + 0.5 - height / 2) - (height / 2 - reach), 0.0)
    return np.asarray(np.hypot(down[:, np.newaxis], across) <= max(reach, 1e-6) + 1e-9)


def ellipse(height: int, width: int) -> NDArray[np.bool_]:
    """Return the ellipse inscribed in (height, width)."""
    across = (np.arange(width) + 0.5) / width * 2 - 1
    down = (np.arange(height) + 0.5) / height * 2 - 1
    return np.asarray(np.hypot(down[:, np.newaxis], across) <= 1.0)


def _glare(piece: MeasuredPiece, fit: PressingFit) -> NDArray[np.bool_]:
    """Tell where the piece is clearly lighter than any pressing explains."""
    height, width = piece.usable.shape
    expected = cv2.resize(fit.predicted, (width, height), interpolation=cv2.INTER_LINEAR)
    blur = max(1.0, 0.5 * width / fit.predicted.shape[1])
    seen = cv2.GaussianBlur(piece.bands, (0, 0), blur)
    rise = np.cbrt(np.maximum(seen, 0.0)) - np.cbrt(np.maximum(expected, 0.0))
    raised = (rise.min(axis=2) > GLARE_RISE).astype(np.uint8)
    opened = cv2.morphologyEx(raised, cv2.MORPH_OPEN, np.ones((5, 5), np.uint8))
    return cv2.dilate(opened, np.ones((2 * GLARE_MARGIN_PX + 1,) * 2, np.uint8)).astype(bool)


def _expected(fit: PressingFit, sample: PieceSample, height: int, width: int) -> NDArray[np.float32]:
    """Return the fitted prediction without gain and veil, at the frame's size."""
    rows, columns = sample.weight.shape
    bare = (fit.predicted - fit.veil(rows, columns)) / fit.gain(rows, columns)
    return np.asarray(cv2.resize(np.maximum(bare, 0.0), (width, height), interpolation=cv2.INTER_LINEAR), np.float32)
