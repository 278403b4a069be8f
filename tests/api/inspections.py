"""Hand-built inspections for the tests of what is made from them: no photo, no pipeline, known figures."""

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.metamerism import DeltaERange
from dyecast_inspect.inspection import (
    Advice,
    CardReport,
    ColourDifference,
    Estimate,
    Inspection,
    PhotoCheck,
    Pictures,
    PieceReport,
    PressFeatures,
    Reason,
    RegionDifference,
    Verdict,
)
from dyecast_shared.encodings import srgb8_to_lab

CORNERS = np.array([[100.25, 120.5], [900.0, 110.0], [910.0, 700.0], [95.0, 710.0]])


def sunset(height: int = 90, width: int = 120) -> NDArray[np.uint8]:
    """Draw a small artwork: a warm sky with a sun over a dark sea, (height, width, 3) uint8 sRGB."""
    row, column = np.mgrid[:height, :width] / np.array([height, width]).reshape(2, 1, 1)
    sky = np.stack([40 + 190 * row, 50 + 90 * row, 130 - 60 * row], axis=-1)
    sea = np.stack([20 + 0 * row, 70 + 40 * np.sin(90 * row), 110 + 0 * row], axis=-1)
    sun = np.hypot((row - 0.5) * height, (column - 0.6) * width) < 0.16 * height
    picture = np.where((row > 0.66)[..., np.newaxis], sea, sky)
    picture[sun & (row <= 0.66)] = (250, 214, 90)
    return np.clip(np.rint(picture), 0, 255).astype(np.uint8)


def pictures(height: int = 90, width: int = 120) -> Pictures:
    """Return an artwork, a paler piece of it, and their difference, largest at the bottom left."""
    intended = sunset(height, width)
    piece = np.rint(255 - 0.7 * (255.0 - intended)).astype(np.uint8)
    row, column = np.mgrid[:height, :width] / np.array([height, width]).reshape(2, 1, 1)
    difference = (2.0 + 5.0 * row + 4.0 * (1.0 - column)).astype(np.float32)
    judged = np.hypot((row - 0.12) * height, (column - 0.85) * width) > 0.1 * height
    difference[~judged] = np.nan
    return Pictures(piece=piece, intended=intended, delta_e_map=difference, judged=judged)


def region(name: str, intended: tuple[int, int, int], measured: tuple[int, int, int]) -> RegionDifference:
    """Return a main colour from two 8-bit sRGB colours, its deltas by the CIELAB definitions."""
    first, second = (
        srgb8_to_lab(np.array(rgb, dtype=np.uint8)).astype(float) for rgb in (intended, measured)
    )
    chroma = np.hypot(second[1], second[2]) - np.hypot(first[1], first[2])
    turn = np.arctan2(second[2], second[1]) - np.arctan2(first[2], first[1])
    hue = np.copysign(1.0, np.sin(turn)) * np.sqrt(
        max(0.0, (second[1] - first[1]) ** 2 + (second[2] - first[2]) ** 2 - chroma**2)
    )
    return RegionDifference(
        name=name,
        area_share=0.28,
        intended_lab=tuple(first.tolist()),
        measured_lab=tuple(second.tolist()),
        delta_lightness=float(second[0] - first[0]),
        delta_chroma=float(chroma),
        delta_hue=float(hue),
        delta_e_2000=9.4,
    )


def features(**changes: Any) -> PressFeatures:
    """Return the figures of a piece that took 62 % of its ink."""
    usual = PressFeatures(
        transferred_fraction=Estimate(0.62, 0.04),
        transferred_by_dye={"cyan": 0.58, "magenta": 0.63, "yellow": 0.66},
        transferred_by_tone={"highlights": 0.71, "midtones": 0.63, "shadows": 0.55},
        veil=Estimate(0.021, 0.004),
        coating_yellowing=Estimate(-0.3, 0.6),
        warmth_of_darks=Estimate(1.4, 0.8),
        detail_loss=Estimate(0.05, 0.03, "mm"),
        unevenness=0.034,
    )
    return replace(usual, **changes)


def card(**changes: Any) -> CardReport:
    """Return a card seen whole and well."""
    usual = CardReport(
        layout="a6",
        edition=1,
        trust="as designed",
        corners_px=CORNERS,
        missing_markers=(),
        pixels_per_mm=9.8,
        plane_residual_px=0.21,
        correction="root-polynomial of degree 2 with shading",
        leave_one_out_mean=1.12,
        leave_one_out_p95=2.4,
        left_out_patches=(Reason("patch-clipped", "Patch f5 is clipped at white."),),
        metamerism=DeltaERange(1.3, 3.6),
    )
    return replace(usual, **changes)


def piece(**changes: Any) -> PieceReport:
    """Return a piece matched well with its artwork."""
    usual = PieceReport(
        corners_px=CORNERS + 1000.0,
        width_mm=100.4,
        height_mm=75.2,
        mirrored=False,
        registration_mm=0.12,
        hidden_share=0.031,
    )
    return replace(usual, **changes)


def checks(*, blurred: bool = False) -> tuple[PhotoCheck, ...]:
    """Return two checks of the photo, the first failed when `blurred`."""
    blur = 4.1 if blurred else 1.2
    return (
        PhotoCheck("Sharpness of the marker edges", blur, 3.0, "px", not blurred, "Hold the phone still."),
        PhotoCheck("Patches clipped at white", 0.0, 0.1, "", True, "Lower the exposure."),
    )


def under_pressed(**changes: Any) -> Inspection:
    """Return the inspection of an under-pressed piece, with everything a judged photo yields."""
    usual = Inspection(
        photo="tile-07.jpg",
        artwork="sunset.png",
        verdict=Verdict.UNDER_PRESSED,
        confidence=0.93,
        near_limit=False,
        probabilities={"under-pressed": 0.93, "good": 0.07, "over-pressed": 0.0},
        reasons=(
            Reason("ink-missing", "Only 62 % of the ink the artwork asks for is on the piece."),
            Reason("shadows-weak", "The shadows carry less of it than the highlights."),
        ),
        advice=(
            Advice(
                "press-longer",
                "Press 15 s longer at the same temperature.",
                "At 62 % the dye was still on its way from the paper.",
                "Glass is still hot long after the press opens; wear heat-proof gloves.",
            ),
            Advice("check-pressure", "Check that the press closes evenly.", "The left took less ink."),
        ),
        checks=checks(),
        notes=("The photo carries no colour profile; sRGB was taken for granted.",),
        delta_e_2000=ColourDifference(mean=6.52, median=6.11, p95=10.4),
        delta_e_2000_printer=ColourDifference(mean=5.9, median=5.6, p95=9.7),
        regions=(
            region("dark blue", (20, 70, 110), (91, 126, 154)),
            region("orange", (230, 140, 70), (238, 175, 126)),
            region("yellow", (250, 214, 90), (252, 226, 140)),
        ),
        features=features(),
        card=card(),
        piece=piece(),
        pictures=pictures(),
    )
    return replace(usual, **changes)


def good(**changes: Any) -> Inspection:
    """Return the inspection of a good piece."""
    usual: dict[str, Any] = {
        "verdict": Verdict.GOOD,
        "confidence": 0.97,
        "probabilities": {"under-pressed": 0.02, "good": 0.97, "over-pressed": 0.01},
        "reasons": (Reason("ink-arrived", "97 % of the ink the artwork asks for is on the piece."),),
        "advice": (Advice("keep", "Keep time, temperature and pressure.", "The piece is good."),),
        "delta_e_2000": ColourDifference(mean=1.41, median=1.2, p95=3.0),
    }
    return under_pressed(**{**usual, **changes})


def over_pressed(**changes: Any) -> Inspection:
    """Return the inspection of an over-pressed piece, near the limit."""
    usual: dict[str, Any] = {
        "verdict": Verdict.OVER_PRESSED,
        "confidence": 0.61,
        "near_limit": True,
        "probabilities": {"under-pressed": 0.0, "good": 0.39, "over-pressed": 0.61},
        "reasons": (Reason("coating-yellow", "The coating turned yellow: b* is 3.1 above its neutral."),),
        "advice": (
            Advice(
                "press-shorter", "Press 10 s shorter.", "The coating yellows with heat.", "The press is hot."
            ),
        ),
    }
    return under_pressed(**{**usual, **changes})


def retake(**changes: Any) -> Inspection:
    """Return the retake of a blurred photo in which the card was seen."""
    usual = Inspection(
        photo="tile-08.jpg",
        artwork="sunset.png",
        verdict=Verdict.RETAKE,
        confidence=0.98,
        near_limit=False,
        probabilities={},
        reasons=(Reason("photo-blurred", "The photo is too blurred to measure colours from."),),
        advice=(
            Advice(
                "photo-blurred",
                "Hold the phone still, tap on the piece to focus, and take the photo again.",
                "Blur mixes each colour with its neighbours.",
            ),
        ),
        checks=checks(blurred=True),
        notes=(),
        card=card(),
    )
    return replace(usual, **changes)
