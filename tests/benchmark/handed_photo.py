"""What a rival is handed: the photo's light on the piece and on the card, at the true pose.

Nothing is searched for here. The card's corners and the artwork's corners come from the truth, so a rival's
error is its colour alone.
"""

from dataclasses import dataclass
from io import BytesIO
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageCms, ImageOps

from benchmark.photo_cases import PhotoCase, rectangle
from benchmark.piece_error import BRADFORD_D65_TO_D50, SRGB_TO_XYZ_D65, linear_light
from dyecast_calibration.card_layout import CardLayout, Patch, WhiteArea

PATCH_CORE_SHARE = 0.6
"""Share of a patch's width and height that is averaged: the rest keeps clear of edges and sharpening."""

CORE_SAMPLES = 24
"""Samples along each side of a patch's core; a core is 20 to 70 photo pixels wide."""

SRGB_TO_XYZ_D50 = BRADFORD_D65_TO_D50 @ SRGB_TO_XYZ_D65


@dataclass(frozen=True, slots=True, eq=False)
class HandedPhoto:
    """One photo's light in linear RGB of the photo's own primaries, 0..1 as decoded.

    Attributes
    ----------
    piece
        (h, w, 3) float32, the artwork's frame, on the pixels of the reference appearance.
    patches
        (N, 3) float64, means over the cores of the card's patches.
    whites
        (M, 3) float64, means over the card's white areas.
    patch_values
        (N, 3) float64, linear sRGB the patches were printed from, 1 = perfect white.
    to_linear_srgb
        (3, 3): the photo's linear RGB to linear sRGB, by its own profile.
    """

    piece: NDArray[np.float32]
    patches: NDArray[np.float64]
    whites: NDArray[np.float64]
    patch_values: NDArray[np.float64]
    to_linear_srgb: NDArray[np.float64]


def upright_photo(file: Path) -> tuple[NDArray[np.uint8], NDArray[np.float64]]:
    """Return the upright code values, (H, W, 3), and the matrix of the photo's primaries to linear sRGB."""
    with Image.open(file) as picture:
        profile = picture.info.get("icc_profile")
        upright = ImageOps.exif_transpose(picture)
        return np.asarray(upright.convert("RGB"), dtype=np.uint8), primaries_to_linear_srgb(profile)


def primaries_to_linear_srgb(profile: bytes | None) -> NDArray[np.float64]:
    """Linear RGB of an ICC matrix profile to linear sRGB; the identity without a profile.

    Only the colorants are read: sRGB and Display P3, which phones write, share one tone curve.
    """
    if not profile:
        return np.eye(3)
    described = ImageCms.ImageCmsProfile(BytesIO(profile)).profile
    colorants = (described.red_colorant, described.green_colorant, described.blue_colorant)
    to_xyz_d50 = np.array([colorant[0] for colorant in colorants if colorant is not None]).T
    return np.asarray(np.linalg.solve(SRGB_TO_XYZ_D50, to_xyz_d50))


def hand_over(case: PhotoCase, card: CardLayout) -> HandedPhoto:
    """Cut the light of piece and card out of one photo at the true pose."""
    pixels, to_linear_srgb = upright_photo(case.photo)
    corners = case.card_corners()
    if corners is None:
        raise ValueError(f"{case.name} has no card")
    height, width = case.reference().shape[:2]
    frame = rectangle(width, height) - 0.5
    return HandedPhoto(
        piece=linear_light(warped(pixels, case.artwork_corners(), frame, width, height)),
        patches=np.array([core_mean(pixels, corners, card, patch) for patch in card.patches]),
        whites=np.array([core_mean(pixels, corners, card, area) for area in card.white_areas]),
        patch_values=linear_light(np.array([patch.srgb for patch in card.patches], np.uint8)).astype(float),
        to_linear_srgb=to_linear_srgb,
    )


def warped(
    pixels: NDArray[np.uint8],
    corners: NDArray[np.float64],
    frame: NDArray[np.float64],
    width: int,
    height: int,
) -> NDArray[np.uint8]:
    """Bring the quadrilateral `corners` of a photo to the rectangle `frame` of a (height, width) picture."""
    homography = cv2.getPerspectiveTransform(frame.astype(np.float32), corners.astype(np.float32))
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    moved = cv2.warpPerspective(
        pixels, homography, (width, height), flags=flags, borderMode=cv2.BORDER_REPLICATE
    )
    return np.asarray(moved, dtype=np.uint8)


def core_mean(
    pixels: NDArray[np.uint8], corners: NDArray[np.float64], card: CardLayout, area: Patch | WhiteArea
) -> NDArray[np.float64]:
    """Mean linear light over the core of one rectangle of the card."""
    margin = (1 - PATCH_CORE_SHARE) / 2
    left, top = area.x + margin * area.width, area.y + margin * area.height
    core = rectangle(PATCH_CORE_SHARE * area.width, PATCH_CORE_SHARE * area.height) + np.array([left, top])
    to_photo = cv2.getPerspectiveTransform(
        rectangle(card.width, card.height).astype(np.float32), corners.astype(np.float32)
    )
    moved = cv2.perspectiveTransform(core.reshape(-1, 1, 2), to_photo.astype(np.float64))
    quadrilateral = np.asarray(moved, dtype=np.float64).reshape(-1, 2)
    frame = rectangle(CORE_SAMPLES, CORE_SAMPLES) - 0.5
    samples = warped(pixels, quadrilateral, frame, CORE_SAMPLES, CORE_SAMPLES)
    return np.asarray(linear_light(samples).mean(axis=(0, 1)), dtype=np.float64)
