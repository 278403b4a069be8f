"""Faults of a pressed piece as frozen records, and what each does to the dye in the coating.

Places are millimetres in the artwork's frame, from its top left; directions are degrees clockwise, 0 to the
right. All act on dye amounts, before glass and light. Typical sizes: common practice, no published source.
"""

from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

Amounts = NDArray[np.float32]
Where = Literal["top", "bottom", "left", "right", "top left", "top right", "bottom left", "bottom right"]

SUBPIXELS = 8
"""Small marks are drawn this many times finer, then averaged, so that a thin one covers part of a pixel."""


@dataclass(frozen=True, slots=True)
class Ghost:
    """The paper moved while it was hot: a second layer with a share of the dye, shifted."""

    distance_mm: float
    direction_deg: float
    share: float


@dataclass(frozen=True, slots=True)
class Banding:
    """Nozzles that print less: lines across the print where one dye (0, 1, 2: cyan, magenta, yellow) lacks.

    `depth` is the share of the dye that lacks in the middle of a line; the profile is a raised cosine.
    """

    period_mm: float
    depth: float
    dye: int
    along_rows: bool = True
    phase: float = 0.0


@dataclass(frozen=True, slots=True)
class Pale:
    """Too little pressure at a side or corner: `depth` of the dye lacks at the edge, none past the reach."""

    where: Where
    reach_mm: float
    depth: float


@dataclass(frozen=True, slots=True)
class Lint:
    """A fibre between paper and blank, bent by `bend_deg`, where a share of the dye did not arrive."""

    x_mm: float
    y_mm: float
    length_mm: float
    width_mm: float
    turn_deg: float = 0.0
    bend_deg: float = 60.0
    blocked: float = 0.9


@dataclass(frozen=True, slots=True)
class Speck:
    """A grain of dust, round."""

    x_mm: float
    y_mm: float
    diameter_mm: float
    blocked: float = 0.9


@dataclass(frozen=True, slots=True)
class Scratch:
    """A straight thin line where the coating is gone and its dye with it."""

    x_mm: float
    y_mm: float
    length_mm: float
    width_mm: float
    turn_deg: float
    blocked: float = 0.95


@dataclass(frozen=True, slots=True)
class Bubbles:
    """Bubbles in the coating: round spots of less dye, (x, y, diameter) in mm each."""

    spots: tuple[tuple[float, float, float], ...]
    blocked: float = 0.6


@dataclass(frozen=True, slots=True)
class WrongSize:
    """Printed larger or smaller by a factor, about its own centre."""

    factor: float


@dataclass(frozen=True, slots=True)
class OffCentre:
    """Laid beside the middle of the blank."""

    right_mm: float
    down_mm: float


Fault = Ghost | Banding | Pale | Lint | Speck | Scratch | Bubbles | WrongSize | OffCentre


def with_faults(amounts: Amounts, faults: tuple[Fault, ...], pixels_per_mm: float) -> Amounts:
    """Return the dye amounts, (h, w, 4), with all faults that act on dye; sizes and places do not."""
    for fault in faults:
        amounts = _with_fault(amounts, fault, pixels_per_mm)
    return amounts


def _with_fault(amounts: Amounts, fault: Fault, pixels_per_mm: float) -> Amounts:
    if isinstance(fault, Ghost):
        return _ghosted(amounts, fault, pixels_per_mm)
    if isinstance(fault, Banding):
        return _banded(amounts, fault, pixels_per_mm)
    if isinstance(fault, Pale):
        paler = 1.0 - np.float32(fault.depth) * lack(fault, amounts.shape, pixels_per_mm)
        return np.asarray(amounts * paler, np.float32)
    if isinstance(fault, Lint | Speck | Scratch | Bubbles):
        covered = coverage_of(fault, amounts.shape, pixels_per_mm)
        return np.asarray(amounts * (1.0 - np.float32(fault.blocked) * covered)[..., np.newaxis], np.float32)
    return amounts


def _ghosted(amounts: Amounts, ghost: Ghost, pixels_per_mm: float) -> Amounts:
    turn = np.deg2rad(ghost.direction_deg)
    shift = ghost.distance_mm * pixels_per_mm * np.array([np.cos(turn), np.sin(turn)])
    matrix = np.array([[1.0, 0.0, shift[0]], [0.0, 1.0, shift[1]]])
    height, width = amounts.shape[:2]
    moved = cv2.warpAffine(amounts, matrix, (width, height), flags=cv2.INTER_LINEAR, borderValue=0)
    return np.asarray(amounts + np.float32(ghost.share) * moved, np.float32)


def _banded(amounts: Amounts, banding: Banding, pixels_per_mm: float) -> Amounts:
    count = amounts.shape[0 if banding.along_rows else 1]
    place = (np.arange(count) + 0.5) / pixels_per_mm / banding.period_mm + banding.phase
    factor = 1.0 - banding.depth * (0.5 - 0.5 * np.cos(2 * np.pi * place)) ** 2
    banded = amounts.copy()
    banded[..., banding.dye] *= (factor[:, np.newaxis] if banding.along_rows else factor).astype(np.float32)
    return banded


def lack(pale: Pale, shape: tuple[int, ...], pixels_per_mm: float) -> NDArray[np.float32]:
    """How pale each place is, (h, w, 1): 1 at the edge or corner, smoothly 0 from the reach on."""
    height, width = shape[:2]
    x, y = np.meshgrid((np.arange(width) + 0.5) / pixels_per_mm, (np.arange(height) + 0.5) / pixels_per_mm)
    away_x = {"left": x, "right": width / pixels_per_mm - x}
    away_y = {"top": y, "bottom": height / pixels_per_mm - y}
    nothing = np.zeros_like(x)
    across = next((away_x[side] for side in away_x if side in pale.where), nothing)
    down = next((away_y[side] for side in away_y if side in pale.where), nothing)
    near = np.clip(1.0 - np.hypot(across, down) / pale.reach_mm, 0.0, 1.0)
    return np.asarray((near * near * (3.0 - 2.0 * near))[..., np.newaxis], np.float32)


def coverage_of(
    mark: Lint | Speck | Scratch | Bubbles, shape: tuple[int, ...], pixels_per_mm: float
) -> NDArray[np.float32]:
    """Share of every pixel, (h, w), that a mark covers."""
    height, width = shape[:2]
    fine = np.zeros((height * SUBPIXELS, width * SUBPIXELS), np.uint8)
    scale = pixels_per_mm * SUBPIXELS
    if isinstance(mark, Speck | Bubbles):
        spots = ((mark.x_mm, mark.y_mm, mark.diameter_mm),) if isinstance(mark, Speck) else mark.spots
        for x, y, diameter in spots:
            cv2.circle(fine, (round(x * scale), round(y * scale)), round(diameter / 2 * scale), 255, -1)
    else:
        line = np.round(_middle_line(mark) * scale).astype(np.int32)
        cv2.polylines(fine, [line], isClosed=False, color=255, thickness=max(1, round(mark.width_mm * scale)))
    small = cv2.resize(fine, (width, height), interpolation=cv2.INTER_AREA)
    return np.asarray(small, np.float32) / np.float32(255.0)


def _middle_line(mark: Lint | Scratch) -> NDArray[np.float64]:
    """Points along a fibre or scratch, (n, 2) mm, its middle at the mark's place."""
    bend = np.deg2rad(mark.bend_deg) if isinstance(mark, Lint) else 0.0
    along = np.linspace(-0.5, 0.5, 24)
    heading = np.deg2rad(mark.turn_deg) + bend * along
    steps = mark.length_mm / len(along) * np.stack([np.cos(heading), np.sin(heading)], axis=1)
    path = np.cumsum(steps, axis=0)
    return np.asarray(path - path.mean(axis=0) + [mark.x_mm, mark.y_mm])


def print_box(
    width_mm: float, height_mm: float, border_mm: float, faults: tuple[Fault, ...]
) -> tuple[float, float, float, float]:
    """Where the print lies on a piece: left, top, width, height in mm."""
    factor, right, down = 1.0, 0.0, 0.0
    for fault in faults:
        if isinstance(fault, WrongSize):
            factor *= fault.factor
        if isinstance(fault, OffCentre):
            right, down = right + fault.right_mm, down + fault.down_mm
    printed_width, printed_height = factor * (width_mm - 2 * border_mm), factor * (height_mm - 2 * border_mm)
    return (
        (width_mm - printed_width) / 2 + right,
        (height_mm - printed_height) / 2 + down,
        printed_width,
        printed_height,
    )
