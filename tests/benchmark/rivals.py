"""Methods anyone can get, on the same photos, with the true pose handed to them.

Each takes a `HandedPhoto` and returns the piece in linear sRGB, (h, w, 3), 1 = perfect white diffuser.
"""

from collections.abc import Callable
from typing import Any

import colour
import cv2
import numpy as np
from numpy.typing import NDArray

from benchmark.handed_photo import HandedPhoto

Rival = Callable[[HandedPhoto], NDArray[np.float32]]


def bare_photo(handed: HandedPhoto) -> NDArray[np.float32]:
    """Take the photo at its word: its own profile and nothing else."""
    return as_float32(handed.piece @ handed.to_linear_srgb.T)


def white_on_paper(handed: HandedPhoto) -> NDArray[np.float32]:
    """Divide each channel by the card's white areas."""
    return as_float32((handed.piece / handed.whites.mean(axis=0)) @ handed.to_linear_srgb.T)


def root_polynomial(handed: HandedPhoto) -> NDArray[np.float32]:
    """Root-polynomial of degree 2 by colour-science (Finlayson, Mackiewicz, Hurlbert 2015)."""
    return by_colour_science(handed, "Finlayson 2015", degree=2, root_polynomial_expansion=True)


def cheung_polynomial(handed: HandedPhoto) -> NDArray[np.float32]:
    """Polynomial of 7 terms by colour-science (Cheung, Westland, Connah, Ripamonti 2004)."""
    return by_colour_science(handed, "Cheung 2004", terms=7)


def by_colour_science(handed: HandedPhoto, method: str, **options: Any) -> NDArray[np.float32]:
    """Correct the piece by one of colour-science's methods, fitted on all patches of the card."""
    matrix = colour.characterisation.matrix_colour_correction(
        handed.patches, handed.patch_values, method=method, **options
    )
    corrected = colour.characterisation.apply_matrix_colour_correction(
        handed.piece.reshape(-1, 3).astype(np.float64), matrix, method=method, **options
    )
    return as_float32(corrected.reshape(handed.piece.shape))


def opencv_model(handed: HandedPhoto) -> NDArray[np.float32]:
    """OpenCV's colour correction model, 3 x 3, CIEDE2000 loss, fitted in linear light."""
    model = cv2.ccm.ColorCorrectionModel(
        handed.patches.reshape(-1, 1, 3), handed.patch_values.reshape(-1, 1, 3), cv2.ccm.COLOR_SPACE_SRGBL
    )
    model.setColorSpace(cv2.ccm.COLOR_SPACE_SRGB)
    model.setCcmType(cv2.ccm.CCM_LINEAR)
    model.setDistance(cv2.ccm.DISTANCE_CIE2000)
    model.setLinearization(cv2.ccm.LINEARIZATION_IDENTITY)
    matrix = np.asarray(model.compute(), dtype=np.float64)
    return as_float32(handed.piece @ matrix)


def as_float32(light: NDArray[np.floating[Any]]) -> NDArray[np.float32]:
    """Clip to what an 8-bit sRGB picture could hold, as the product's own picture is."""
    return np.asarray(np.clip(light, 0, 1), dtype=np.float32)


RIVALS: dict[str, Rival] = {
    "bare photo": bare_photo,
    "white on paper": white_on_paper,
    "colour-science root-polynomial": root_polynomial,
    "colour-science Cheung 2004": cheung_polynomial,
    "OpenCV ccm": opencv_model,
}
"""Every rival by the name the tables show."""
