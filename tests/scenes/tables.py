"""Table tops: each a mixture of two spectra, patterned by noise, tiled over the table."""

import cv2
import numpy as np
from numpy.typing import NDArray

from scenes.observers import sensing_weights
from scenes.scene import Table
from scenes.spectra import WAVELENGTHS_NM, Spectrum, gaussian_sum
from scenes.surfaces import Picture

TILE_MM = 320.0
TEXELS_PER_MM = 4.0
TEXELS = round(TILE_MM * TEXELS_PER_MM)
PLANK_MM = 95.0

Generator = np.random.Generator


def _rising(low: float, high: float, middle_nm: float, width_nm: float) -> Spectrum:
    """Brown and yellow things: low in the blue, high in the red, with a soft step."""
    step: Spectrum = low + (high - low) / (1.0 + np.exp(-(WAVELENGTHS_NM - middle_nm) / width_nm))
    return step


def _flat(level: float) -> Spectrum:
    return np.full_like(WAVELENGTHS_NM, level)


def _spectra(table: Table) -> tuple[Spectrum, Spectrum]:
    """Reflectance of the ground and of the pattern on it."""
    return {
        "wood": (_rising(0.10, 0.42, 560, 45), _rising(0.03, 0.20, 590, 40)),
        "oak": (_rising(0.26, 0.62, 530, 50), _rising(0.14, 0.42, 550, 50)),
        "cloth": (_flat(0.20) + gaussian_sum((450, 50, 0.14)), _flat(0.42) + gaussian_sum((460, 60, 0.08))),
        "laminate": (_flat(0.48), _flat(0.40)),
        "dark": (_flat(0.035), _flat(0.075) + gaussian_sum((650, 60, 0.02))),
        "white": (_flat(0.80), _flat(0.74)),
        "tinted": (_flat(0.30) + gaussian_sum((610, 50, 0.25), (440, 40, 0.12)), _flat(0.33)),
    }[table]


def _noise(random: Generator, cells_down: int, cells_across: int) -> Picture:
    """Smooth noise of unit deviation over the tile from a coarse random grid."""
    grid = random.standard_normal((cells_down, cells_across)).astype(np.float32)
    smooth = np.asarray(cv2.resize(grid, (TEXELS, TEXELS), interpolation=cv2.INTER_CUBIC), dtype=np.float32)
    return np.asarray(smooth / smooth.std(), dtype=np.float32)


def _grain(random: Generator) -> Picture:
    """Wood: bent year rings, fine fibres, and planks with dark joints."""
    down = np.arange(TEXELS, dtype=np.float32)[:, None] / np.float32(TEXELS_PER_MM)
    plank = np.floor(down / PLANK_MM).astype(int)
    phase = random.uniform(0.0, 40.0, plank.max() + 1).astype(np.float32)[plank]
    tone = random.normal(0.0, 0.10, plank.max() + 1).astype(np.float32)[plank]
    rings = np.sin((down + phase + 4.0 * _noise(random, 9, 3)) * 0.9) * 0.5 + 0.5
    fibres = 0.10 * _noise(random, 420, 14) + 0.08 * _noise(random, 900, 40)
    joint = np.exp(-(((down % PLANK_MM) / 0.6) ** 2))
    return np.asarray(0.30 + 0.28 * rings + tone + fibres + 0.9 * joint, dtype=np.float32)


def _weave(random: Generator) -> Picture:
    """Cloth: threads both ways of uneven brightness."""
    across = 0.22 * _noise(random, TEXELS // 5, 26) + 0.22 * _noise(random, 26, TEXELS // 5)
    return np.asarray(0.45 + across + 0.06 * _noise(random, 8, 8), dtype=np.float32)


def _speckle(random: Generator) -> Picture:
    """Laminate and lacquer: nearly even."""
    return np.asarray(0.4 + 0.10 * _noise(random, 5, 5) + 0.08 * _noise(random, 640, 640), dtype=np.float32)


def table_colours(
    table: Table, camera: str, illuminant: str, places: tuple[Picture, Picture], random: Generator
) -> Picture:
    """Balanced camera RGB of the bare table at places (x, y in mm, each (h, w)): (h, w, 3) float32."""
    maker = {"wood": _grain, "oak": _grain, "dark": _grain, "cloth": _weave}.get(table, _speckle)
    pattern = np.clip(maker(random), 0.0, 1.0)
    x, y = places
    shift_x, shift_y = random.uniform(0.0, TILE_MM, 2).astype(np.float32)
    scale = np.float32(TEXELS_PER_MM)
    mixed = cv2.remap(
        pattern, (x + shift_x) * scale, (y + shift_y) * scale, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT
    )
    ground, figure = (spectrum @ sensing_weights(camera, illuminant) for spectrum in _spectra(table))
    share: NDArray[np.float32] = np.asarray(mixed, dtype=np.float32)[..., None]
    return ground.astype(np.float32) + share * (figure - ground).astype(np.float32)
