"""How far a paler piece is from a right one, in CIEDE2000, over the made artworks."""

import numpy as np

from dyecast_calibration.pressing_model import (
    Pressing,
    bands_from_xyz,
    dye_amounts,
    pressed_bands,
    xyz_from_bands,
)
from dyecast_shared.cielab import xyz_to_lab
from dyecast_shared.delta_e import delta_e_2000
from dyecast_shared.encodings import SRGB_TO_XYZ_D50, srgb_decode
from scenes.artworks import ARTWORKS, artwork


def delta_e_of_fraction(fraction: float) -> float:
    """Return the mean CIEDE2000 over all kinds of artwork between a transferred fraction and a whole one."""
    means = []
    for name in ARTWORKS:
        light = srgb_decode(artwork(name, 1, 96, 96) / 255.0)
        amounts = dye_amounts(bands_from_xyz(light @ SRGB_TO_XYZ_D50.T))
        labs = [
            np.asarray(xyz_to_lab(xyz_from_bands(pressed_bands(amounts, Pressing(share, share, share, 0.0)))))
            for share in (fraction, 1.0)
        ]
        means.append(float(np.mean(delta_e_2000(labs[0], labs[1]))))
    return float(np.mean(means))
