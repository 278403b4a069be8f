"""Register the artwork to its print: of all places it may lie, take the likeliest, and refine it."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dyecast_inspect.find_piece import PieceCandidate
from dyecast_inspect.gradient_alignment import Alignment, align, artwork_template, small_step
from dyecast_inspect.read_artwork import Artwork
from dyecast_shared.geometry import apply_homography
from dyecast_shared.photo import Photo

COARSE_PX, FINE_PX = 128, 256
"""Long side of the pictures, first for every candidate, then for the likeliest."""

COARSE_STEPS, FINE_STEPS = 12, 8
"""Steps at most at each size."""

CLEAR_CORRELATION = 0.9
"""A candidate that correlates so well at the coarse size needs no rival. A wrong one reached 0.86: a nearly
symmetric design over its own mirror image (160 rendered and made scenes, a third of them small, pale or
mirrored; five in six right candidates lie above)."""

LIKELY_CORRELATION, CLEAR_AGREEING = 0.6, 80
"""Together these are as clear: in the same scenes no wrong candidate that correlated so had more than 63
matches, and the one that had more (repeated tiles, 128) did not correlate to 0.5."""

OVERCONFIDENCE = 2.0
"""The fit takes its pixels' errors as independent; glass, lens and spread dye move whole regions together. On
160 rendered and made scenes the worst corner was off by 2.7 times the fit's own figure in the median."""

_CORNERS = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])


@dataclass(frozen=True, slots=True, eq=False)
class Registration:
    """The artwork laid over its print.

    Attributes
    ----------
    artwork_to_photo
        (3, 3) float64 homography from the artwork's unit square to working pixels.
    mirrored
        True when the print runs the wrong way round.
    correlation
        Correlation of the gradients of photo and artwork in small windows, weighted by the artwork's
        detail; -1..1.
    uncertainty_px
        Standard uncertainty of the worst corner, working pixels, from the fit's covariance and
        `OVERCONFIDENCE`; large where the artwork's details leave a direction open.
    outline_score
        How much speaks for the outline, 0..1, when the place was found by it; None when the artwork's details
        found it. An artwork without detail lies as its outline does, and `correlation` is NaN.
    """

    artwork_to_photo: NDArray[np.float64]
    mirrored: bool
    correlation: float
    uncertainty_px: float
    outline_score: float | None = None


def register_piece(
    photo: Photo, candidate: PieceCandidate, artwork: Artwork, say: NDArray[np.bool_] | None = None
) -> Registration:
    """Refine a candidate's place to a fraction of a pixel.

    `say`, (h, w) bool of any size in the artwork's frame, tells which part of the print shows; None = all.
    """
    template = artwork_template(artwork, COARSE_PX, say)
    coarse = align(photo, template, candidate.artwork_to_photo, COARSE_STEPS)
    return _refined(photo, coarse, artwork, mirrored=candidate.mirrored, say=say)


def register_best(
    photo: Photo, candidates: Iterable[PieceCandidate], artwork: Artwork
) -> Registration | None:
    """Register the candidate that correlates best; None when there is none.

    Candidates are asked for one by one, and no more of them once one is beyond doubt.
    """
    template = artwork_template(artwork, COARSE_PX)
    best: tuple[Alignment, bool] | None = None
    for candidate in candidates:
        coarse = align(photo, template, candidate.artwork_to_photo, COARSE_STEPS)
        if best is None or coarse.correlation > best[0].correlation:
            best = coarse, candidate.mirrored
        if _clear(coarse.correlation, candidate.agreeing):
            break
    return None if best is None else _refined(photo, best[0], artwork, mirrored=best[1])


def _clear(correlation: float, agreeing: int) -> bool:
    """Tell whether a candidate at the coarse size is beyond doubt."""
    likely = correlation >= LIKELY_CORRELATION and agreeing >= CLEAR_AGREEING
    return likely or correlation >= CLEAR_CORRELATION


def _refined(
    photo: Photo,
    coarse: Alignment,
    artwork: Artwork,
    *,
    mirrored: bool,
    say: NDArray[np.bool_] | None = None,
) -> Registration:
    """Align at the fine size."""
    fine = align(photo, artwork_template(artwork, FINE_PX, say), coarse.unit_to_photo, FINE_STEPS)
    return Registration(
        artwork_to_photo=fine.unit_to_photo,
        mirrored=mirrored,
        correlation=fine.correlation,
        uncertainty_px=OVERCONFIDENCE * _corner_uncertainty_px(fine),
    )


def _corner_uncertainty_px(alignment: Alignment) -> float:
    """Return the standard uncertainty of the worst corner's place, working pixels, as the fit sees it.

    A small change of each parameter is carried to the corners.
    """
    small = 1e-4
    corners = apply_homography(np.linalg.inv(alignment.centred_to_unit), _CORNERS)
    still = apply_homography(alignment.centred_to_photo, corners)
    changed = [alignment.centred_to_photo @ small_step(row) for row in small * np.eye(8)]
    moved = np.stack([apply_homography(homography, corners) for homography in changed], axis=-1)
    slopes = (moved - still[..., np.newaxis]) / small
    variance = np.einsum("ijk,kl,ijl->i", slopes, alignment.covariance, slopes)
    return float(np.sqrt(np.maximum(variance, 0.0).max()))
