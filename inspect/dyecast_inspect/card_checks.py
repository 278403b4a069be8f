"""Why a card that was seen cannot be used: each refusal with the measured value and its limit."""

import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.card_layout import CardLayout
from dyecast_inspect.card_assembly import printed_part_mm
from dyecast_inspect.card_plane import project
from dyecast_inspect.card_sighting import CardSighting
from dyecast_shared.errors import CardBent, CardClipped, CardTooSmall, PhotoBlurred
from dyecast_shared.photo import Photo

CLIPPED_MM = 0.5
"""How far, mm, the printed part of the card may lie outside the photo: a place that is not seen is
extrapolated from the markers and known no better. A blank margin that is cut off does no harm."""

PATCH_SIDE_PX_LEAST = 20.0
"""Shortest side of a patch, working pixels. A fifth is left out at each edge, and 12 × 12 pixels bring noise
of 3 % down to 0.25 %, below what the eye sees (0.1 lightness steps in the mid-tones)."""

EDGE_WIDTH_CELLS = 0.3
"""Largest standard deviation of the edge spread in marker cells. At 0.3 a line one cell wide still reaches
90 % of its own level (Gaussian blur: erf(0.5 / (0.3 √2)) = 0.904) and an edge rises over three quarters of a
cell; beyond that neighbouring colours mix, on the card and on the piece."""

OFF_PLANE_PATCH_SHARE = 0.1
"""How far a part of the card may lie from where the plane puts it, in shortest sides of the smallest patch:
half of the fifth that is left out at each edge of a patch when it is measured."""

SIDES = ("left", "right", "top", "bottom")


def check_sighting(photo: Photo, sighting: CardSighting, cells: int) -> None:
    """Refuse a card that cannot be measured.

    Parameters
    ----------
    photo
        The photo it was seen in.
    sighting
        Where it lies.
    cells
        Cells along one side of its markers, border included.

    Raises
    ------
    CardClipped
        Part of it lies outside the photo.
    CardTooSmall
        A patch has too few pixels.
    PhotoBlurred
        Edges are too wide for its marker cells.
    CardBent
        Parts of it lie too far from a plane.
    """
    printed = project(sighting.card_to_photo, printed_part_mm(sighting.layout))
    check_inside(photo, sighting.layout, printed, sighting.pixels_per_mm)
    check_size(photo, sighting)
    check_sharpness(photo, sighting, cells)
    check_flatness(photo, sighting)


def check_inside(
    photo: Photo, layout: CardLayout, printed_px: NDArray[np.float64], pixels_per_mm: float
) -> None:
    """Raise CardClipped when a corner of its printed part, (4, 2) working px, lies outside the photo."""
    height, width = photo.pixels.shape[:2]
    low, high = printed_px.min(axis=0), printed_px.max(axis=0)
    beyond_px = (-0.5 - low[0], high[0] - width + 0.5, -0.5 - low[1], high[1] - height + 0.5)
    cut = [(side, px / pixels_per_mm) for side, px in zip(SIDES, beyond_px, strict=True)]
    cut = [(side, mm) for side, mm in cut if mm > CLIPPED_MM]
    if cut:
        places = " and ".join(f"about {mm:.0f} mm beyond the {side} edge" for side, mm in cut)
        raise CardClipped(f"The card '{layout.name}' reaches {places} of the photo.", file=photo.name)


def check_size(photo: Photo, sighting: CardSighting) -> None:
    """Raise CardTooSmall when the smallest patch has too few pixels."""
    shortest = shortest_patch_side_px(sighting)
    if shortest < PATCH_SIDE_PX_LEAST:
        raise CardTooSmall(
            f"The smallest patch of the card '{sighting.layout.name}' is {shortest:.0f} pixels wide; "
            f"{PATCH_SIDE_PX_LEAST:.0f} are needed.",
            file=photo.name,
        )


def shortest_patch_side_px(sighting: CardSighting) -> float:
    """Return the shortest side of the card's smallest patch, working pixels."""
    sides = []
    for patch in sighting.layout.patches:
        right, bottom = patch.x + patch.width, patch.y + patch.height
        outline = [[patch.x, patch.y], [right, patch.y], [right, bottom], [patch.x, bottom]]
        corners = project(sighting.card_to_photo, np.array(outline))
        sides.append(float(np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1).min()))
    return min(sides)


def edge_width_limit_mm(layout: CardLayout, cells: int) -> float:
    """Return the largest edge spread (standard deviation), mm, for markers of so many cells."""
    return EDGE_WIDTH_CELLS * min(marker.size for marker in layout.markers) / cells


def check_sharpness(photo: Photo, sighting: CardSighting, cells: int) -> None:
    """Raise PhotoBlurred when the marker edges are too wide."""
    width_mm = sighting.edge_width_px / sighting.pixels_per_mm
    limit_mm = edge_width_limit_mm(sighting.layout, cells)
    if width_mm > limit_mm:
        raise PhotoBlurred(
            f"Edges on the card '{sighting.layout.name}' are blurred by {width_mm:.2f} mm "
            f"({sighting.edge_width_px:.1f} pixels); at most {limit_mm:.2f} mm can be measured.",
            file=photo.name,
        )


def off_plane_limit_mm(layout: CardLayout) -> float:
    """Return how far, mm, parts of this card may lie from its plane."""
    return OFF_PLANE_PATCH_SHARE * min(min(patch.width, patch.height) for patch in layout.patches)


def check_flatness(photo: Photo, sighting: CardSighting) -> None:
    """Raise CardBent when a marker or patch lies too far from where the plane puts it."""
    limit = off_plane_limit_mm(sighting.layout)
    if sighting.off_plane_mm > limit:
        raise CardBent(
            f"Parts of the card '{sighting.layout.name}' lie {sighting.off_plane_mm:.1f} mm from where "
            f"a flat card would show them; at most {limit:.1f} mm can be measured.",
            file=photo.name,
        )
