"""Which of the markers seen belong to one card, and where that card lies."""

from collections.abc import Callable, Sequence
from itertools import product

import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.card_layout import CardLayout
from dyecast_inspect.card_plane import (
    CardPlane,
    first_homography,
    fit_card_plane,
    homography_between,
    marker_points_mm,
    project,
)
from dyecast_inspect.card_sighting import CardSighting, SeenMarker
from dyecast_shared.photo import Photo

SAME_CARD_SIDES = 0.3
"""Markers of one card lie this close (root mean square) to one plane, in marker sides: 4 mm on the A6 card.
Far more than any card that can be used is bent, far less than a marker of another card would miss it by."""

CANDIDATES_PER_MARKER = 3
"""Most places considered for one marker: three cards of one kind in a photo are enough to say so."""

LOCAL_NOISE_PX = 0.1
"""Misses of a marker below this, working pixels root mean square, are noise and do not move the card's
corner: twice the standard deviation of a refined marker corner."""

GRID_POINTS = 7
"""Points along each side of the card in the grid through which the nearest plane is laid."""


def group_markers(
    layout: CardLayout, markers: Sequence[SeenMarker], least: int = 2
) -> list[tuple[SeenMarker, ...]]:
    """Sort markers of one layout into cards, the most complete and flattest first.

    Parameters
    ----------
    layout
        The card they belong to.
    markers
        Markers with refined corners, best likeness first; an id may occur more than once.
    least
        Fewest markers that make a card.
    """
    left, groups = list(markers), []
    while left:
        choices = _choices(layout, left, least)
        best = min(choices, key=_size_then_miss, default=None)
        if best is None:
            break
        groups.append(best[1])
        left = [marker for marker in left if all(marker is not used for used in best[1])]
    return groups


def _choices(
    layout: CardLayout, markers: Sequence[SeenMarker], least: int
) -> list[tuple[float, tuple[SeenMarker, ...]]]:
    """Return every choice of one or no marker for each id that lies in one plane, with its miss in px.

    When each id was seen once and all of them lie in one plane, that is the only choice.
    """
    wanted = sorted(layout.marker_ids())
    places = [[marker for marker in markers if marker.id == x][:CANDIDATES_PER_MARKER] for x in wanted]
    if max(len(place) for place in places) == 1 and len(markers) >= least:
        everything = _in_one_plane(layout, tuple(markers))
        if everything is not None:
            return [everything]
    choices = []
    for choice in product(*[[None, *place] for place in places]):
        chosen = tuple(marker for marker in choice if marker is not None)
        found = _in_one_plane(layout, chosen) if len(chosen) >= max(least, 1) else None
        if found is not None:
            choices.append(found)
    return choices


def _in_one_plane(
    layout: CardLayout, markers: tuple[SeenMarker, ...]
) -> tuple[float, tuple[SeenMarker, ...]] | None:
    """Return these markers with their miss in px, or None when they cannot be of one card."""
    homography = first_homography(layout, markers)
    misses = [project(homography, marker_points_mm(layout, m.id)) - m.corners_px for m in markers]
    miss = float(np.sqrt(np.mean(np.sum(np.square(misses), axis=2))))
    return (miss, markers) if miss <= SAME_CARD_SIDES * _side_px(markers) else None


def _size_then_miss(choice: tuple[float, tuple[SeenMarker, ...]]) -> tuple[int, float]:
    return -len(choice[1]), choice[0]


def _side_px(markers: Sequence[SeenMarker]) -> float:
    """Mean side of these markers, working px."""
    corners = np.array([marker.corners_px for marker in markers])
    return float(np.linalg.norm(np.roll(corners, -1, axis=1) - corners, axis=2).mean())


def card_outline_mm(layout: CardLayout) -> NDArray[np.float64]:
    """Return the corners of the card, mm: top left, top right, bottom right, bottom left; (4, 2)."""
    return np.array(
        [[0, 0], [layout.width, 0], [layout.width, layout.height], [0, layout.height]], np.float64
    )


def printed_part_mm(layout: CardLayout) -> NDArray[np.float64]:
    """Return the corners (4, 2), mm, of the part that holds all markers, patches and white areas."""
    boxes = [(marker.x, marker.y, marker.size, marker.size) for marker in layout.markers]
    boxes += [(patch.x, patch.y, patch.width, patch.height) for patch in layout.patches]
    boxes += [(area.x, area.y, area.width, area.height) for area in layout.white_areas]
    places = np.array(boxes)
    (left, top), (right, bottom) = places[:, :2].min(axis=0), (places[:, :2] + places[:, 2:]).max(axis=0)
    return np.array([[left, top], [right, top], [right, bottom], [left, bottom]], np.float64)


def sight_card(photo: Photo, layout: CardLayout, markers: Sequence[SeenMarker]) -> CardSighting:
    """Work out where the card lies from two or more of its markers."""
    plane = fit_card_plane(layout, markers, (photo.pixels.shape[0], photo.pixels.shape[1]))
    printed_part = printed_part_mm(layout)
    across, down = np.linspace(printed_part[0], printed_part[2], GRID_POINTS).T
    grid = np.stack(np.meshgrid(across, down), axis=-1).reshape(-1, 2)
    card_to_photo = homography_between(grid, plane.to_photo(grid))
    patches = np.array([[p.x + p.width / 2, p.y + p.height / 2] for p in layout.patches])
    patch_misses = np.linalg.norm(project(card_to_photo, patches) - plane.to_photo(patches), axis=1)
    unexplained = _misses_px(layout, markers, plane, plane.to_photo)

    def on_plane(points_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        return project(card_to_photo, points_mm)

    pixels_per_mm = _pixels_per_mm(printed_part, card_to_photo)
    return CardSighting(
        layout=layout,
        card_to_photo=card_to_photo,
        corners_px=photo.to_full(_card_corners(layout, markers, plane)),
        missing_markers=tuple(sorted(layout.marker_ids() - {marker.id for marker in markers})),
        residual_px=float(np.sqrt(np.mean(_misses_px(layout, markers, plane, on_plane) ** 2))),
        off_plane_mm=float(max(unexplained.max(), patch_misses.max())) / pixels_per_mm,
        curl_mm=float(abs(plane.curl_mm[0] + plane.curl_mm[1])),
        pixels_per_mm=pixels_per_mm,
        edge_width_px=float(np.median([marker.edge_width_px for marker in markers])),
    )


def _misses_px(
    layout: CardLayout,
    markers: Sequence[SeenMarker],
    plane: CardPlane,
    to_photo: Callable[[NDArray[np.float64]], NDArray[np.float64]],
) -> NDArray[np.float64]:
    """Distance of every marker corner from where `to_photo` puts it, (4 N,) px."""
    printed = np.concatenate([plane.grown(marker_points_mm(layout, marker.id)) for marker in markers])
    seen = np.concatenate([marker.corners_px for marker in markers])
    return np.asarray(np.linalg.norm(to_photo(printed) - seen, axis=1))


def _pixels_per_mm(outline_mm: NDArray[np.float64], card_to_photo: NDArray[np.float64]) -> float:
    x, y = project(card_to_photo, outline_mm).T
    area = abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1))) / 2
    width, height = outline_mm[2] - outline_mm[0]
    return float(np.sqrt(area / (width * height)))


def _card_corners(layout: CardLayout, markers: Sequence[SeenMarker], plane: CardPlane) -> NDArray[np.float64]:
    """Corners of the card, (4, 2) working px: the fitted card, moved by what its marker there still shows.

    A lifted corner takes its marker along. What that marker misses the fitted card by is laid out to the
    corner of the card (affine), weighted by how far it stands out of the noise.
    """
    outline = card_outline_mm(layout)
    corners = plane.to_photo(outline)
    for marker in markers:
        printed = marker_points_mm(layout, marker.id)
        middle = printed.mean(axis=0)
        nearest = int(np.argmin(np.linalg.norm(outline - middle, axis=1)))
        misses = marker.corners_px - plane.to_photo(plane.grown(printed))
        square = float(np.mean(np.sum(misses**2, axis=1)))
        weight = max(0.0, 1 - LOCAL_NOISE_PX**2 / max(square, 1e-12))
        away = printed - middle
        slopes = away.T @ misses / (away[:, 0] @ away[:, 0])
        corners[nearest] += weight * (misses.mean(axis=0) + (outline[nearest] - middle) @ slopes)
    return corners
