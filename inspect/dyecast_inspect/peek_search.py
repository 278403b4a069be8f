"""Where the artwork's colours may show, when it has no details that could be matched.

Soft pictures are looked for as a whole: small pictures of optical density, each place taken relative to its
surroundings, are correlated over all shifts (by the Fourier transform) for every turn and size. Paper and a
plain table are even, so they hardly count, and a part of the picture is enough. It takes seconds, so it is
the second way, for when matching details finds nothing.
"""

from collections.abc import Sequence
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.pressing_model import bands_from_xyz
from dyecast_inspect.find_piece import PieceCandidate
from dyecast_inspect.read_artwork import Artwork
from dyecast_inspect.table_view import TableView, similarity, unit_to_pixels
from dyecast_shared.geometry import apply_homography
from dyecast_shared.photo import Photo

MM_PER_PIXEL: Final = 3.0
"""Resolution of the search: soft pictures hold nothing finer."""

WINDOW_PX: Final = 9
"""Side of the surroundings a place is taken relative to: 27 mm, a quarter of a tile."""

NOISE: Final = 0.05
"""Deviation of density below which a place is even."""

TURNS: Final = 36
"""Turns tried, every 10 degrees."""

LONG_SIDES_MM: Final = tuple(np.geomspace(50.0, 280.0, 14).tolist())
"""Long sides tried, 14 % apart: a small tile to a board; the registration takes up the rest."""

MOST_PLACES: Final = 12
"""Places returned; on made peeks the right one was among the first nine when a third of the picture
showed."""

NEAR: Final = 0.1
"""Places whose middles lie closer than this share of the long side are one."""

Image = NDArray[np.float32]


def places_by_colours(photo: Photo, view: TableView, artwork: Artwork) -> tuple[PieceCandidate, ...]:
    """Return places where the artwork's colours, either way round, correlate best; the best first."""
    light = photo.linear(view.pixels)
    scene = _relative(-np.log10(np.maximum(light, 0.01)), view.seen)
    side = cv2.getOptimalDFTSize(max(scene.shape[:2]) + WINDOW_PX)
    spectra = np.fft.rfft2(scene, (side, side), axes=(0, 1))
    found: list[tuple[float, PieceCandidate]] = []
    for long_side in LONG_SIDES_MM:
        picture = _small_artwork(artwork, long_side * view.pixels_per_mm)
        for mirrored in (False, True):
            to_pixels = unit_to_pixels((picture.shape[0], picture.shape[1]), mirrored=mirrored)
            shown = np.ascontiguousarray(picture[:, ::-1]) if mirrored else picture
            for turn in np.arange(TURNS) * (2.0 * np.pi / TURNS):
                height, place = _best_shift(spectra, scene.shape[:2], shown, float(turn))
                candidate = PieceCandidate(view.to_photo @ place @ to_pixels, mirrored, 0)
                found.append((height, candidate))
    found.sort(key=lambda scored: -scored[0])
    return distinct_places([candidate for _, candidate in found], MOST_PLACES)


def _relative(density: Image, seen: NDArray[np.bool_]) -> Image:
    """Take every place relative to its surroundings and in units of their spread, (h, w, 3)."""
    share = seen.astype(np.float32)
    known = np.maximum(_around(share), 0.05)
    mean = _around(density * share[..., np.newaxis]) / known[..., np.newaxis]
    apart = (density - mean) * share[..., np.newaxis]
    variance = _around((apart * apart).sum(axis=2)) / known
    return np.asarray(apart / np.sqrt(variance + NOISE**2)[..., np.newaxis], np.float32)


def _around(values: Image) -> Image:
    """Mean over the surroundings of each pixel, nothing beyond the edge."""
    window = (WINDOW_PX, WINDOW_PX)
    return np.asarray(cv2.boxFilter(values, -1, window, borderType=cv2.BORDER_CONSTANT), np.float32)


def _small_artwork(artwork: Artwork, long_side_px: float) -> Image:
    """Return the artwork's relative density at a size."""
    height, width = artwork.xyz.shape[:2]
    ratio = long_side_px / max(height, width)
    size = (max(4, round(width * ratio)), max(4, round(height * ratio)))
    bands = bands_from_xyz(cv2.resize(artwork.xyz, size, interpolation=cv2.INTER_AREA))
    density = np.asarray(-np.log10(np.maximum(bands, 0.01)), np.float32)
    return _relative(density, np.ones(density.shape[:2], np.bool_))


def _best_shift(
    spectra: NDArray[np.complexfloating], size: tuple[int, ...], picture: Image, turn: float
) -> tuple[float, NDArray[np.float64]]:
    """Return the highest correlation over all shifts, and the similarity (3, 3) from picture to scene."""
    rows, columns = picture.shape[:2]
    half = int(np.ceil(np.hypot(rows, columns) / 2))
    turning = complex(np.cos(turn), np.sin(turn))
    shift = complex(half, half) - turning * complex((columns - 1) / 2, (rows - 1) / 2)
    turned = cv2.warpAffine(picture, similarity(turning, shift)[:2], (2 * half + 1, 2 * half + 1))
    side = spectra.shape[0]
    product = (spectra * np.conj(np.fft.rfft2(turned, (side, side), axes=(0, 1)))).sum(axis=2)
    correlation = np.fft.irfft2(product, (side, side)) / np.sqrt(float((turned * turned).sum()) + 1.0)
    y, x = divmod(int(np.argmax(correlation)), side)
    moved = complex(x - side if x > size[1] else x, y - side if y > size[0] else y)
    return float(correlation.max()), similarity(turning, shift + moved)


def distinct_places(candidates: Sequence[PieceCandidate], most: int) -> tuple[PieceCandidate, ...]:
    """Return the first `most` places of which no two are nearly the same."""
    kept: list[PieceCandidate] = []
    for candidate in candidates:
        if not any(_same(candidate, other) for other in kept):
            kept.append(candidate)
        if len(kept) == most:
            break
    return tuple(kept)


def _same(first: PieceCandidate, second: PieceCandidate) -> bool:
    """Tell whether two places are nearly the same, to a tenth of the piece."""
    if first.mirrored != second.mirrored:
        return False
    corners = [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]]
    ours, theirs = (apply_homography(place.artwork_to_photo, corners) for place in (first, second))
    long_side = np.linalg.norm(ours - np.roll(ours, -1, axis=0), axis=1).max()
    return bool(np.linalg.norm(ours - theirs, axis=1).mean() < NEAR * long_side)
