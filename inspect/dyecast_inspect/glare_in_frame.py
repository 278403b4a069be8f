"""Glare in a viewfinder's frame: clipped patches that are more than white paper in the same light.

A lamp mirrored in glass is clipped, and so may white paper be when the frame is too light. Only the card's
own bare paper tells the two apart: while it is not clipped, other white things in that light hardly are.
Glare is light added to whatever lies below, so it is as light as the paper in every channel; a yellow print
that is clipped in red is not.
"""

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from dyecast_inspect.card_sighting import CardSighting
from dyecast_inspect.frame_places import place_in_frame
from dyecast_inspect.patch_samples import CLIPPED_CODE, RegionSamples, sample_patches
from dyecast_inspect.usable_patches import CEILING_MARGIN, CLIPPED_SHARE
from dyecast_shared.photo import Photo

GLARE_MM2_LEAST: Final = 125.0
"""Smallest clipped patch that is called glare, mm²: a lamp mirrored 12.6 mm across, a twentieth of a small
magnet of 50 × 50 mm. Inspecting leaves smaller ones out without harm. Our own choice."""

BURNT_OUT_SHARE: Final = 0.5
"""Share of the card's bare paper, clipped, from which the exposure is to blame: below it, most of the paper
is not clipped, and noise, the light's gradient or a mirrored lamp clips the rest. Our own choice."""

SPECK_PX: Final = 3
"""Clipped patches narrower than this are noise, sharpening and thin lines, and are left out, px."""


@dataclass(frozen=True, slots=True)
class FrameGlare:
    """What is clipped in a frame.

    Attributes
    ----------
    clipped_share
        Share of the frame's pixels with a channel at 99 % of the highest code value or above, 0..1.
    clipped_place
        Where the largest clipped patch lies, in words; None when there is none.
    paper_clipped
        Share of the card's bare paper that is clipped, 0..1; None without a card.
    places
        Where glare lies, in words, the largest first, no place twice; None when it cannot be told.
    """

    clipped_share: float
    clipped_place: str | None
    paper_clipped: float | None
    places: tuple[str, ...] | None

    @property
    def burnt_out(self) -> bool:
        """Tell whether the frame is too light as a whole."""
        return self.paper_clipped is not None and self.paper_clipped > BURNT_OUT_SHARE


def find_glare(frame: Photo, card: CardSighting | None) -> FrameGlare:
    """Find what is clipped in a frame, and what of it is glare.

    Whether it is glare can be told while at most 5 % of the card's bare paper is clipped, which noise alone
    may do (`CLIPPED_SHARE`).
    """
    limit = CLIPPED_CODE * float(np.iinfo(frame.pixels.dtype).max)
    clipped: NDArray[np.bool_] = np.asarray(frame.pixels.max(axis=2) >= limit)
    patches = _patches(clipped)
    paper_clipped, places = None, None
    if card is not None:
        paper = sample_patches(frame, card.card_to_photo, card.layout).paper
        paper_clipped = float(paper.clipped_share.mean())
        if paper_clipped <= CLIPPED_SHARE:
            least_px = GLARE_MM2_LEAST * card.pixels_per_mm**2
            glaring = _patches(_as_light_as_paper(frame, clipped, paper))
            places = tuple(dict.fromkeys(place for area_px, place in glaring if area_px >= least_px))
    return FrameGlare(
        clipped_share=float(clipped.mean()),
        clipped_place=patches[0][1] if patches else None,
        paper_clipped=paper_clipped,
        places=places,
    )


def _as_light_as_paper(frame: Photo, clipped: NDArray[np.bool_], paper: RegionSamples) -> NDArray[np.bool_]:
    """Return those of the clipped pixels that no channel shows to be darker than the card's paper."""
    white = np.nanmedian(paper.median, axis=0)
    chosen = clipped.copy()
    chosen[clipped] = (frame.linear(frame.pixels[clipped]) >= CEILING_MARGIN * white).all(axis=-1)
    return chosen


def _patches(clipped: NDArray[np.bool_]) -> list[tuple[float, str]]:
    """Return area, px, and place of each patch that is no speck, the largest first."""
    opening = np.ones((SPECK_PX, SPECK_PX), np.uint8)
    whole = cv2.morphologyEx(clipped.astype(np.uint8), cv2.MORPH_OPEN, opening)
    _, _, statistics, middles = cv2.connectedComponentsWithStats(whole)
    height, width = clipped.shape
    patches = [
        (float(statistics[number, cv2.CC_STAT_AREA]), place_in_frame(x / width, y / height))
        for number, (x, y) in enumerate(middles)
        if number > 0  # 0 is the ground
    ]
    return sorted(patches, key=lambda patch: -patch[0])
