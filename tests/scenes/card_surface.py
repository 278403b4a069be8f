"""The reference card drawn in spectra: every patch gets the inks that its colour under D50 needs."""

from functools import lru_cache
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.card_layout import CardLayout
from scenes.colorimetry import spectra_to_lab, srgb_to_lab_d50
from scenes.dyes import reflectance, separate_lab
from scenes.observers import sensing_weights
from scenes.scene import Card
from scenes.spectra import inkjet_dyes
from scenes.surfaces import Picture, Pose, Surface

Array = NDArray[np.float64]
Box = tuple[float, float, float, float]
"""x, y, width, height on the card, mm."""

PRINTED_BLACK_LAB = (11.0, 0.0, 0.0)
"""Markers and ruler: an ordinary printer's black. Common practice, no published source."""

RULER_LINE_MM = 0.3
RULER_TICK_MM = 2.0

HIDING_DISC_MM = 16.0
"""Diameter of what lies over a hidden marker: about a coin."""

HIDING_REFLECTANCE = 0.18


def card_pose(card: Card) -> Pose:
    """Where the card lies."""
    layout = card.layout
    return Pose(
        card.card_x_mm,
        card.card_y_mm,
        card.card_rotation_deg,
        layout.width,
        layout.height,
        bend_mm=card.bend_mm,
    )


def designed_lab(layout: CardLayout) -> Array:
    """CIELAB, D50, of every patch as the layout wants it, (n, 3)."""
    return np.array(
        [patch.lab_d50 or srgb_to_lab_d50(np.array(patch.srgb) / 255.0) for patch in layout.patches]
    )


@lru_cache(maxsize=8)
def patch_reflectances(layout: CardLayout) -> Array:
    """Reflectance of every patch in the layout's order, then of the printed black, (n + 1, 31)."""
    inks = inkjet_dyes()
    wanted = np.vstack([designed_lab(layout), PRINTED_BLACK_LAB])
    return reflectance(separate_lab(wanted, inks), inks).astype(np.float64)


def misprinted(reflectances: Array, card: Card) -> Array:
    """Scatter the density of every patch, (n + 1, 31): `misprint` by amount, half as much by hue."""
    if not card.misprint:
        return reflectances
    random = np.random.default_rng((card.misprint_seed, 31))
    amount, tilt = random.normal(0.0, card.misprint, (2, len(reflectances), 1))
    across = np.linspace(-1.0, 1.0, reflectances.shape[1])
    paper = inkjet_dyes().base
    scattered: Array = paper * (reflectances / paper) ** (1.0 + amount + 0.5 * tilt * across)
    return scattered


def printed_lab(layout: CardLayout) -> Array:
    """CIELAB, D50, of every patch as printed: as designed where the inks reach, (n, 3)."""
    return spectra_to_lab(patch_reflectances(layout)[:-1])


def coverage(start_mm: float, end_mm: float, side_mm: float, texels: int) -> Picture:
    """Share of each of `texels` texels along a side that lies between two places on it, (texels,)."""
    left = np.arange(texels, dtype=np.float64)
    density = texels / side_mm
    share = np.minimum(left + 1.0, end_mm * density) - np.maximum(left, start_mm * density)
    covered: Picture = np.clip(share, 0.0, 1.0).astype(np.float32)
    return covered


def _fill(texture: Picture, layout: CardLayout, box: Box, colour: Array) -> None:
    """Paint a rectangle with exact area coverage."""
    _paint(texture, layout, box, np.ones((1, 1), dtype=np.float32), colour)


def _paint(texture: Picture, layout: CardLayout, box: Box, cells: Picture, colour: Array) -> None:
    """Paint a box divided into equal cells, (rows, columns) of 0..1, with exact area coverage."""
    x, y, width, height = box
    rows, columns = (np.arange(count + 1) / count for count in cells.shape)
    down = np.stack(
        [coverage(y + a * height, y + b * height, layout.height, len(texture)) for a, b in pairwise(rows)], 1
    )
    across = np.stack(
        [coverage(x + a * width, x + b * width, layout.width, texture.shape[1]) for a, b in pairwise(columns)]
    )
    touched_rows, touched_columns = np.flatnonzero(down.any(axis=1)), np.flatnonzero(across.any(axis=0))
    part = np.ix_(touched_rows, touched_columns)
    share = (down[touched_rows] @ cells @ across[:, touched_columns])[..., None]
    texture[part] += share * (colour.astype(np.float32) - texture[part])


def marker_cells(layout: CardLayout, marker_id: int) -> NDArray[np.bool_]:
    """Black cells of a marker with its black border, (n, n)."""
    dictionary = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, layout.marker_dictionary))
    picture = cv2.aruco.generateImageMarker(dictionary, marker_id, dictionary.markerSize + 2)
    return np.asarray(picture) < 128


def _draw_markers(texture: Picture, layout: CardLayout, black: Array) -> None:
    for marker in layout.markers:
        cells = marker_cells(layout, marker.id).astype(np.float32)
        _paint(texture, layout, (marker.x, marker.y, marker.size, marker.size), cells, black)


def _draw_ruler(texture: Picture, layout: CardLayout, black: Array) -> None:
    ruler = layout.ruler
    if ruler is None:
        return
    half = RULER_LINE_MM / 2.0
    _fill(texture, layout, (ruler.x - half, ruler.y - half, ruler.length + 2 * half, RULER_LINE_MM), black)
    for place in np.arange(0.0, ruler.length + 1e-9, ruler.tick):
        _fill(texture, layout, (ruler.x + place - half, ruler.y, RULER_LINE_MM, RULER_TICK_MM), black)


def card_surface(card: Card, camera: str, illuminant: str, density: float) -> Surface:
    """Draw the card in balanced camera RGB with about `density` texels per mm."""
    layout = card.layout
    size = (round(layout.height * density), round(layout.width * density))
    colours = misprinted(patch_reflectances(layout), card) @ sensing_weights(camera, illuminant)
    texture = np.empty((*size, 3), dtype=np.float32)
    texture[:] = (inkjet_dyes().base @ sensing_weights(camera, illuminant)).astype(np.float32)
    for patch, colour in zip(layout.patches, colours[:-1], strict=True):
        _fill(texture, layout, (patch.x, patch.y, patch.width, patch.height), colour)
    _draw_markers(texture, layout, colours[-1])
    _draw_ruler(texture, layout, colours[-1])
    if card.bend_mm:
        texture *= _bend_shading(card, size[1])
    opaque = np.ones((*size, 1), dtype=np.float32)
    mirrored = np.full(size, card.gloss, dtype=np.float32) if card.gloss else None
    return Surface(card_pose(card), np.concatenate([texture, opaque], axis=2), mirrored)


def _bend_shading(card: Card, texels: int) -> Picture:
    """Light gained where the bent sheet turns to light from the left, lost where it turns away."""
    slope = -8.0 * card.bend_mm / card.layout.width * np.linspace(-0.5, 0.5, texels)
    light_slant = 0.5
    return (1.0 - light_slant * slope)[None, :, None].astype(np.float32)


def hiding_surface(card: Card, density: float) -> Surface | None:
    """Return the disc over the hidden marker, or None when nothing is hidden."""
    places = {marker.corner: marker for marker in card.layout.markers}
    marker = places.get(card.hidden_corner)
    if marker is None:
        return None
    middle = card_pose(card).to_table(np.array([[marker.x + marker.size / 2, marker.y + marker.size / 2]]))[0]
    texels = max(round(HIDING_DISC_MM * density), 8)
    axis = (np.arange(texels) + 0.5) / texels * 2.0 - 1.0
    radius = np.hypot(axis[:, None], axis[None, :])
    inside = np.clip((1.0 - radius) * texels / 2.0 + 0.5, 0.0, 1.0)[..., None].astype(np.float32)
    shade = HIDING_REFLECTANCE * (1.0 + 0.5 * np.cos(radius * 9.0))[..., None].astype(np.float32)
    pose = Pose(
        float(middle[0]),
        float(middle[1]),
        0.0,
        HIDING_DISC_MM,
        HIDING_DISC_MM,
        above_table_mm=1.5,
        round=True,
    )
    return Surface(pose, np.concatenate([np.repeat(shade * inside, 3, axis=2), inside], axis=2))
