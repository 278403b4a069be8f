"""Take light and glass off the measured piece, and find what of it can be judged.

The pressing is fitted twice: once to everything, to see the outline (a round piece shows table in the
corners of the artwork's frame) and the glare, and once more to what is left.
"""

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.pressing_prior import PressingPrior
from dyecast_inspect.fit_pressing import PieceSample, PressingFit, fit_pressing
from dyecast_inspect.intended_ink import IntendedInk, intended_ink
from dyecast_inspect.measure_piece import MeasuredPiece
from dyecast_inspect.outline import find_outline
from dyecast_inspect.read_artwork import Artwork
from dyecast_shared.single_precision import cube_root

FIT_LONG_SIDE_PX: Final = 64
"""Long side of the pictures the fit sees; the artwork enters at twice that."""

FIRST_LOOK: Final = 0.1
"""The first fit only has to tell glare and table from print: it ends at steps of a tenth of the prior."""

LEAST_USABLE: Final = 0.7
"""Share of usable pixels that a pixel of the fit needs."""

LEAST_KEPT: Final = 0.25
"""Share of the judged piece that must be left when a faulty part is set aside."""

GLARE_RISE: Final = 0.08
"""Rise over the prediction, in cube roots of light (9 in lightness), from which a place is glare."""

GLARE_OPENING_PX: Final = 5
"""Glare smaller than this, in pixels of the frame, is noise or a slipped edge."""

GLARE_MARGIN_PX: Final = 3
"""Pixels of the frame around glare that its edge may reach."""


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
    hidden_ink
        Share of the artwork's ink that lies where the print cannot be judged, 0..1: `hidden_ink_share`.
    """

    bands: NDArray[np.float32]
    outline: NDArray[np.bool_]
    judged: NDArray[np.bool_]
    fit: PressingFit
    hidden_ink: float = 0.0

    @property
    def hidden_share(self) -> float:
        """Share of the printed face that cannot be judged, 0..1."""
        return 1.0 - float(self.judged.sum()) / max(float(self.outline.sum()), 1.0)


def explain_surface(piece: MeasuredPiece, artwork: Artwork, prior: PressingPrior) -> ExplainedPiece:
    """Fit, find outline and glare, fit again, and take gain and veil off."""
    height, width = piece.usable.shape
    opaque = _opaque(artwork, height, width)
    ink = intended_ink(artwork, fit_size(height, width))
    sample = piece_sample(piece, ink, piece.usable & opaque)
    first = fit_pressing(sample, prior, converged=FIRST_LOOK)
    outline = opaque & find_outline(first.agreement, sample.weight > 0, height, width)
    judged = piece.usable & outline & ~_glare(piece, first)
    final = fit_pressing(piece_sample(piece, ink, judged), prior, start=first.parameters)
    hidden = hidden_ink_share(ink, outline, judged)
    return ExplainedPiece(_without_surface(piece, judged, final), outline, judged, final, hidden)


def hidden_ink_share(ink: IntendedInk, outline: NDArray[np.bool_], judged: NDArray[np.bool_]) -> float:
    """Return the share of the ink on the printed face, 0..1, that lies where it cannot be judged.

    `outline` and `judged` are (h, w) bool of any size. Unprinted white has no part in it: hidden or not, it
    tells little of a pressing. Without any ink nothing is hidden.
    """
    height, width = ink.mixed.shape[:2]
    asked = np.maximum(ink.mixed, np.float32(0.0)).sum(axis=2)
    masks = (mask.astype(np.float32) for mask in (outline, judged))
    small = (cv2.resize(mask, (width, height), interpolation=cv2.INTER_AREA) for mask in masks)
    printed, seen = (float(np.vdot(asked, mask)) for mask in small)
    return max(0.0, 1.0 - seen / printed) if printed > 0.0 else 0.0


def _opaque(artwork: Artwork, height: int, width: int) -> NDArray[np.bool_]:
    """Tell where the artwork puts anything at all, (height, width)."""
    if artwork.opaque.all():
        return np.ones((height, width), bool)
    share = cv2.resize(artwork.opaque.astype(np.float32), (width, height), interpolation=cv2.INTER_AREA)
    return np.asarray(share > 0.5)


def explain_again(
    piece: MeasuredPiece,
    ink: IntendedInk,
    prior: PressingPrior,
    explained: ExplainedPiece,
    set_aside: NDArray[np.bool_] | None = None,
) -> ExplainedPiece:
    """Explain a piece again by another ink or from what is not `set_aside`, (h, w) bool.

    As much of it is judged as before. With too little left for a fit, the explanation stays as it is.
    """
    kept = explained.judged if set_aside is None else explained.judged & ~set_aside
    if kept.sum() < LEAST_KEPT * explained.judged.sum():
        return explained
    fit = fit_pressing(piece_sample(piece, ink, kept), prior, start=explained.fit.parameters)
    bands = _without_surface(piece, explained.judged, fit)
    return ExplainedPiece(bands, explained.outline, explained.judged, fit, explained.hidden_ink)


def fit_size(height: int, width: int) -> tuple[int, int]:
    """Return (height, width) of the pictures the fit sees."""
    ratio = FIT_LONG_SIDE_PX / max(height, width)
    return max(8, round(height * ratio)), max(8, round(width * ratio))


def piece_sample(piece: MeasuredPiece, ink: IntendedInk, usable: NDArray[np.bool_]) -> PieceSample:
    """Reduce the measured piece to what the fit sees."""
    height, width = fit_size(*usable.shape)
    mask = usable.astype(np.float32)
    light = cv2.resize(piece.bands * mask[..., np.newaxis], (width, height), interpolation=cv2.INTER_AREA)
    share = cv2.resize(mask, (width, height), interpolation=cv2.INTER_AREA)
    printable = cv2.resize(ink.printable(), (width, height), interpolation=cv2.INTER_AREA)
    return PieceSample(
        measured=np.asarray(light / np.maximum(share, 1e-3)[..., np.newaxis], np.float32),
        weight=np.asarray((share > LEAST_USABLE) * printable, np.float32),
        ink=ink,
        pixels_per_mm=piece.pixels_per_mm * width / usable.shape[1],
    )


def _glare(piece: MeasuredPiece, fit: PressingFit) -> NDArray[np.bool_]:
    """Tell where the piece is clearly lighter than any pressing explains."""
    height, width = piece.usable.shape
    expected = cv2.resize(fit.predicted, (width, height), interpolation=cv2.INTER_LINEAR)
    blur = max(1.0, 0.5 * width / fit.predicted.shape[1])
    seen = cv2.GaussianBlur(piece.bands, (0, 0), blur)
    rise = _root(np.asarray(seen, np.float32)) - _root(np.asarray(expected, np.float32))
    raised = (_least(rise) > GLARE_RISE).astype(np.uint8)
    opened = cv2.morphologyEx(raised, cv2.MORPH_OPEN, np.ones((GLARE_OPENING_PX,) * 2, np.uint8))
    return cv2.dilate(opened, np.ones((2 * GLARE_MARGIN_PX + 1,) * 2, np.uint8)).astype(bool)


def _root(light: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return the cube root of light."""
    return cube_root(np.maximum(light, np.float32(0.0)))


def _least(planes: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return the least of the three bands, (h, w); numpy's own minimum over a short axis is slow."""
    return np.minimum(np.minimum(planes[..., 0], planes[..., 1]), planes[..., 2])


def _without_surface(
    piece: MeasuredPiece, judged: NDArray[np.bool_], fit: PressingFit
) -> NDArray[np.float32]:
    """Take gain and veil off; where nothing was judged, put the fitted prediction."""
    height, width = judged.shape
    rows, columns = fit.predicted.shape[:2]
    bare = (fit.predicted - fit.veil(rows, columns)[..., np.newaxis]) / fit.gain(rows, columns)
    expected = cv2.resize(np.maximum(bare, 0.0), (width, height), interpolation=cv2.INTER_LINEAR)
    gain = cv2.resize(fit.gain(rows, columns), (width, height), interpolation=cv2.INTER_LINEAR)
    veil = cv2.resize(fit.veil(rows, columns), (width, height), interpolation=cv2.INTER_LINEAR)
    seen = np.maximum(piece.bands - veil[..., np.newaxis], np.float32(0.0)) / np.asarray(gain, np.float32)
    return np.asarray(cv2.copyTo(seen, np.asarray(judged, np.uint8), expected), np.float32)
