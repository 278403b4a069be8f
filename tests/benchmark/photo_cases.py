"""Reading photos with truth: one folder per case with photo, artwork, reference appearance and truth.

What the corners are (looked at in overlays): `card_corners` are the outer corners of the card, and
`piece_image_corners` those of the whole printed layer *including the white border*, where the layer is seen
through the glass. The artwork fills the piece inside the border, so its corners follow by carrying the inset
rectangle through the piece's homography. `reference_appearance.png` shows the whole piece too; the artwork
shifted against its inside by 0.02 px (median; worst 0.4 of 720). The truth counts coordinates from the outer
corner of the first pixel; here they are moved by half a pixel: pixel centres lie at whole numbers.
"""

import json
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from benchmark.piece_error import artwork_frame, read_picture


@dataclass(frozen=True)
class PhotoCase:
    """One photo whose truth is known. `kind` is ``clear`` or ``spoiled``."""

    folder: Path
    kind: str
    truth: dict[str, Any]

    @property
    def name(self) -> str:
        """Kind and folder name, e.g. ``clear/case_0001``."""
        return f"{self.kind}/{self.folder.name}"

    @property
    def photo(self) -> Path:
        """The photo as the user uploads it."""
        return self.folder / "photo.jpg"

    @property
    def artwork(self) -> Path:
        """What was meant to be printed."""
        return self.folder / "artwork.png"

    @property
    def dose(self) -> float:
        """How much was pressed; 0.93 to 1.03 is good."""
        return float(self.truth["dose"])

    @property
    def spoiled(self) -> str:
        """What was done to spoil the photo; empty for a clear one."""
        return str(self.truth.get("spoiled") or "")

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height of the piece, border included, in mm."""
        return float(self.truth["piece"]["w_mm"]), float(self.truth["piece"]["h_mm"])

    @property
    def border_mm(self) -> float:
        """Width of the unprinted border inside the piece, in mm."""
        return float(self.truth["piece"]["border_mm"])

    @property
    def strong_glare_share(self) -> float:
        """Share of the piece (0..1) that mirrors more than 5 % of white; 0 for a matt piece."""
        return float((self.truth.get("glare_on_piece") or {}).get("share_above_5pct", 0.0))

    @property
    def light(self) -> str:
        """The light's scenario and the lamps' spectra."""
        spectra = "+".join(str(light["spd"]) for light in self.truth["lights"])
        return f"{self.truth['light_scenario']} {spectra}"

    @cached_property
    def _reference(self) -> NDArray[np.uint8]:
        whole = read_picture(self.folder / "reference_appearance.png")
        return artwork_frame(whole, self.border_mm, *self.size_mm)

    def reference(self) -> NDArray[np.uint8]:
        """What the piece looks like, (h, w, 4) sRGB in the artwork's frame, alpha = outline."""
        return self._reference

    def card_corners(self) -> NDArray[np.float64] | None:
        """Outer corners of the card, (4, 2), or None where the photo has no whole card."""
        return corners_of(self.truth, "card_corners")

    def piece_corners(self) -> NDArray[np.float64]:
        """Corners of the printed layer, border included, (4, 2), as seen through the glass."""
        corners = corners_of(self.truth, "piece_image_corners")
        if corners is None:
            raise ValueError(f"{self.name} has no piece_image_corners")
        return corners

    def artwork_corners(self) -> NDArray[np.float64]:
        """Corners of the artwork inside the border, (4, 2), as seen through the glass."""
        width, height = self.size_mm
        return carried(
            rectangle(width, height, self.border_mm), rectangle(width, height), self.piece_corners()
        )

    def card_size_mm(self) -> tuple[float, float]:
        """Width and height of the card in mm."""
        width, height = self.truth["target"]["mm"]
        return float(width), float(height)


def corners_of(truth: dict[str, Any], name: str) -> NDArray[np.float64] | None:
    """Corners in the upright photo with pixel centres at whole numbers, or None where they are not known."""
    corners = (truth.get("corners_display_px") or {}).get(name)
    return None if corners is None else np.asarray(corners, dtype=np.float64) - 0.5


def rectangle(width: float, height: float, inset: float = 0.0) -> NDArray[np.float64]:
    """Corners of a rectangle (top-left, top-right, bottom-right, bottom-left), moved inwards by `inset`."""
    left, top, right, bottom = inset, inset, width - inset, height - inset
    return np.array([[left, top], [right, top], [right, bottom], [left, bottom]], dtype=np.float64)


def carried(
    points: NDArray[np.float64], source: NDArray[np.float64], target: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Carry points, (N, 2), through the homography that takes four source corners to four target corners."""
    homography = cv2.getPerspectiveTransform(source.astype(np.float32), target.astype(np.float32))
    moved = cv2.perspectiveTransform(points.reshape(-1, 1, 2), homography.astype(np.float64))
    return np.asarray(moved, dtype=np.float64).reshape(-1, 2)


def read_case(folder: Path) -> PhotoCase:
    """Read one case; it is spoiled where its truth says so."""
    truth = json.loads((folder / "truth.json").read_text())
    return PhotoCase(folder, "spoiled" if truth.get("spoiled") else "clear", truth)


def read_cases(photos: Path) -> tuple[PhotoCase, ...]:
    """Read every case below ``clear`` and ``spoiled``, in the order of their names."""
    files = sorted(photos.glob("clear/*/truth.json")) + sorted(photos.glob("spoiled/*/truth.json"))
    if not files:
        raise FileNotFoundError(f"no clear/*/truth.json or spoiled/*/truth.json in {photos}")
    return tuple(read_case(file.parent) for file in files)
