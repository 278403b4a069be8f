"""Lights and eyes: illuminants, the CIE 1931 2 degree observer and camera sensitivities on the grid.

Illuminants, colour matching functions and two measured cameras come from the colour-science package, twelve
more from the table beside this file, which names its source; the phone-like cameras are Gaussian sums.
`colour` is slow to import, so it is loaded on first use, silently.
"""

import csv
import logging
import warnings
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scenes.spectra import WAVELENGTHS_NM, Bump, Spectrum, gaussian_sum

MEASURED_CAMERAS = ("Nikon 5100 (NPL)", "Sigma SDMerill (NPL)")
"""Names in colour-science's table."""

PHONE_CAMERAS: dict[str, tuple[tuple[Bump, ...], tuple[Bump, ...], tuple[Bump, ...]]] = {
    "phone A": (
        ((600, 26, 1.0), (560, 40, 0.18), (430, 25, 0.04)),
        ((532, 33, 1.0), (600, 30, 0.12), (470, 22, 0.18)),
        ((458, 24, 0.9), (505, 25, 0.16)),
    ),
    "phone B": (
        ((608, 30, 1.0), (545, 30, 0.10), (420, 18, 0.07)),
        ((538, 38, 1.0), (470, 20, 0.10)),
        ((450, 28, 0.95), (520, 30, 0.10)),
    ),
    "phone C": (
        ((594, 24, 1.0), (632, 26, 0.45), (520, 45, 0.12)),
        ((526, 30, 1.0), (565, 26, 0.35), (455, 30, 0.08)),
        ((466, 22, 1.0), (430, 20, 0.45), (540, 30, 0.06)),
    ),
}
"""Red, green and blue sensitivities of phone-like sensors; drawn by eye after published sensor curves."""

TABLE = Path(__file__).with_name("camera_sensitivities.csv")
"""Twelve measured cameras; no openly licensed measurement of phones was found."""


def _read_table() -> dict[str, NDArray[np.float64]]:
    """Read the twelve cameras, each (31, 3) as red, green, blue."""
    with TABLE.open(encoding="utf-8", newline="") as lines:
        rows = list(csv.reader(line for line in lines if not line.startswith("#")))[1:]
    channels = [[float(value) for value in row[2:]] for row in rows]
    names = [row[0] for row in rows[::3]]
    return {name: np.stack(channels[3 * place : 3 * place + 3], axis=-1) for place, name in enumerate(names)}


TABLED_CAMERAS = _read_table()
"""The twelve by name."""

CAMERAS = (*PHONE_CAMERAS, *MEASURED_CAMERAS, *TABLED_CAMERAS)
"""Every camera a scene may name. The second measured one is a layered sensor and no likely phone."""

FINE_STEP_NM = 5.0


@cache
def _colour() -> Any:
    logging.getLogger("colour").setLevel(logging.ERROR)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import colour
    return colour


def _on_grid(wavelengths: NDArray[np.float64], values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Average a table to 10 nm bands with a triangle, so that lamp lines between bands are not lost."""
    columns = values.reshape(len(wavelengths), -1)

    def sampled(shift: float) -> NDArray[np.float64]:
        return np.stack([np.interp(WAVELENGTHS_NM + shift, wavelengths, column) for column in columns.T], -1)

    bands = 0.25 * sampled(-FINE_STEP_NM) + 0.5 * sampled(0.0) + 0.25 * sampled(FINE_STEP_NM)
    return np.squeeze(bands)


@cache
def illuminant(name: str) -> Spectrum:
    """Relative spectral power of a CIE illuminant (``"D50"``, ``"FL11"``, ``"LED-B3"``...), mean 1, (31,)."""
    distribution = _colour().SDS_ILLUMINANTS[name]
    power = _on_grid(np.asarray(distribution.wavelengths), np.asarray(distribution.values))
    normalised: Spectrum = power / power.mean()
    return normalised


@cache
def matching_functions() -> NDArray[np.float64]:
    """CIE 1931 2 degree colour matching functions, (31, 3)."""
    functions = _colour().MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    return _on_grid(np.asarray(functions.wavelengths), np.asarray(functions.values))


@cache
def camera_sensitivities(name: str) -> NDArray[np.float64]:
    """Spectral sensitivities of a camera in `CAMERAS`, (31, 3) as red, green, blue, highest value 1."""
    if name in PHONE_CAMERAS:
        table = np.stack([gaussian_sum(*bumps) for bumps in PHONE_CAMERAS[name]], axis=-1)
    elif name in TABLED_CAMERAS:
        table = TABLED_CAMERAS[name]
    else:
        measured = _colour().MSDS_CAMERA_SENSITIVITIES[name]
        table = _on_grid(np.asarray(measured.wavelengths), np.asarray(measured.values))
    clipped: NDArray[np.float64] = np.clip(table, 0.0, None) / table.max()
    return clipped


@cache
def chart_reflectances() -> NDArray[np.float64]:
    """The 24 measured painted-chart reflectances of colour-science, (24, 31): what phones are trained on."""
    chart = _colour().SDS_COLOURCHECKERS["ISO 17321-1"]
    return np.stack([_on_grid(np.asarray(sd.wavelengths), np.asarray(sd.values)) for sd in chart.values()])


@cache
def viewing_weights(illuminant_name: str) -> NDArray[np.float64]:
    """Weights W, (31, 3), so that reflectance @ W is CIE XYZ with Y = 1 for a perfect diffuser.

    Source: CIE 015:2018, tristimulus values of object colours (summation form, 10 nm).
    """
    weighted = illuminant(illuminant_name)[:, None] * matching_functions()
    normalised: NDArray[np.float64] = weighted / weighted[:, 1].sum()
    return normalised


@cache
def sensing_weights(camera: str, illuminant_name: str) -> NDArray[np.float64]:
    """Weights, (31, 3), so that reflectance @ W is camera RGB balanced to (1, 1, 1) for white."""
    weighted = illuminant(illuminant_name)[:, None] * camera_sensitivities(camera)
    normalised: NDArray[np.float64] = weighted / weighted.sum(axis=0)
    return normalised


@cache
def raw_white(camera: str, illuminant_name: str) -> NDArray[np.float64]:
    """Unbalanced camera RGB of white, green = 1, (3,): how strongly each channel is amplified later."""
    response = illuminant(illuminant_name) @ camera_sensitivities(camera)
    normalised: NDArray[np.float64] = response / response[1]
    return normalised
