"""From light on the sensor to the phone's picture: blur, noise, white balance, colours, tone, sharpening."""

from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from scenes.colorimetry import (
    D65_CHROMATICITY,
    SRGB_PRIMARIES,
    bradford,
    chromaticity_to_xyz,
    rgb_to_xyz_matrix,
)
from scenes.dyes import reflectance, with_black
from scenes.observers import (
    chart_reflectances,
    illuminant,
    matching_functions,
    raw_white,
    sensing_weights,
    viewing_weights,
)
from scenes.profiles import PRIMARIES
from scenes.scene import Phone
from scenes.spectra import sublimation_dyes
from scenes.surfaces import Picture

SHOT_NOISE = 0.006
"""Standard deviation at white for `noise` 1, share of white: about 28 000 electrons."""

READ_NOISE = 0.0012
"""Standard deviation in the dark for `noise` 1, share of white."""

DENOISING_PX = 0.7
"""Every phone smooths its noise; standard deviation of the smoothing, px."""

CALIBRATION_LIGHTS = ("A", "D50", "D65")
"""Lights a phone has colour matrices for; the nearest is used. Common practice, no published source."""

WHITE_WEIGHT = 300.0
"""Weight of white in the matrix fit, so that a balanced white stays white."""

CURVE_STEPS = 65536


def _chromaticity(name: str) -> NDArray[np.float64]:
    xyz = illuminant(name) @ matching_functions()
    return np.asarray(xyz[:2] / xyz.sum())


def _calibration_light(name: str) -> str:
    """Return the calibration light whose chromaticity is nearest."""
    here = _chromaticity(name)
    return min(CALIBRATION_LIGHTS, key=lambda light: float(np.hypot(*(here - _chromaticity(light)))))


@cache
def colour_matrix(sensor: str, illuminant_name: str) -> NDArray[np.float64]:
    """(3, 3) balanced camera RGB to linear sRGB, least squares over chart colours and dye mixtures."""
    light = _calibration_light(illuminant_name)
    mixtures = with_black(np.random.default_rng(5).uniform(0.0, 1.2, (60, 3)))
    prints = reflectance(mixtures, sublimation_dyes()).astype(np.float64)
    spectra = np.concatenate([chart_reflectances(), prints])
    to_xyz = viewing_weights(light)
    d65 = chromaticity_to_xyz(D65_CHROMATICITY)
    to_srgb = np.linalg.inv(rgb_to_xyz_matrix(SRGB_PRIMARIES)) @ bradford(to_xyz.sum(axis=0), d65)
    wanted = np.vstack([spectra @ to_xyz @ to_srgb.T, WHITE_WEIGHT * np.ones((1, 3))])
    camera = np.vstack([spectra @ sensing_weights(sensor, light), WHITE_WEIGHT * np.ones((1, 3))])
    return np.asarray(np.linalg.lstsq(camera, wanted, rcond=None)[0].T, dtype=np.float64)


def _smear(light: Picture, phone: Phone) -> Picture:
    """Defocus and motion, on linear light."""
    if phone.blur_px > 0.1:
        soft = cv2.GaussianBlur(light, (0, 0), phone.blur_px, borderType=cv2.BORDER_REPLICATE)
        light = np.asarray(soft, dtype=np.float32)
    if phone.motion_px > 1.0:
        smeared = cv2.filter2D(light, -1, motion_kernel(phone), borderType=cv2.BORDER_REPLICATE)
        light = np.asarray(smeared, dtype=np.float32)
    return light


def motion_kernel(phone: Phone) -> NDArray[np.float32]:
    """A line of `motion_px` through the middle of a square kernel, sum 1."""
    reach = int(np.ceil(phone.motion_px / 2.0)) + 1
    kernel = np.zeros((2 * reach + 1, 2 * reach + 1), dtype=np.float32)
    angle = np.deg2rad(phone.motion_direction_deg)
    for share in np.linspace(-0.5, 0.5, 8 * reach):
        x, y = (
            reach + share * phone.motion_px * np.cos(angle),
            reach + share * phone.motion_px * np.sin(angle),
        )
        left, top = int(x), int(y)
        kernel[top, left] += (left + 1 - x) * (top + 1 - y)
        kernel[top, left + 1] += (x - left) * (top + 1 - y)
        kernel[top + 1, left] += (left + 1 - x) * (y - top)
        kernel[top + 1, left + 1] += (x - left) * (y - top)
    return np.asarray(kernel / kernel.sum(), dtype=np.float32)


def _add_noise(light: Picture, phone: Phone, illuminant_name: str, random: np.random.Generator) -> Picture:
    """Photon and read noise; channels the white balance amplifies are noisier."""
    if not phone.noise:
        return light
    white = raw_white(phone.sensor, illuminant_name)
    gain = (white.max() / white).astype(np.float32)
    variance = np.float32(SHOT_NOISE**2) * np.maximum(light, 0.0) * gain + np.float32(READ_NOISE**2) * gain**2
    grain = random.standard_normal(light.shape, dtype=np.float32)
    grain *= np.float32(phone.noise) * np.sqrt(variance)
    return light + np.asarray(cv2.GaussianBlur(grain, (0, 0), DENOISING_PX), dtype=np.float32)


@cache
def _tone_table(contrast: float) -> NDArray[np.float32]:
    """Encoded value for each of 65536 steps of linear light: sRGB curve, then an S (smoothstep blend)."""
    linear = np.linspace(0.0, 1.0, CURVE_STEPS)
    encoded = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    smoothstep = encoded * encoded * (3.0 - 2.0 * encoded)
    return (encoded + contrast * (smoothstep - encoded)).astype(np.float32)


def develop(
    light: Picture, phone: Phone, illuminant_name: str, random: np.random.Generator
) -> NDArray[np.uint8]:
    """Turn balanced linear camera RGB, 1 = white at illuminance 1, into encoded pixels, (h, w, 3) uint8."""
    exposed: Picture = _smear(light, phone) * np.float32(phone.exposure)
    if phone.flare:
        exposed = exposed + np.float32(phone.flare) * exposed.mean(axis=(0, 1))
    raw = np.clip(_add_noise(exposed, phone, illuminant_name, random), 0.0, 1.0)
    linear = cv2.transform(raw, _to_output(phone, illuminant_name).astype(np.float32))
    steps = (np.clip(linear, 0.0, 1.0) * np.float32(CURVE_STEPS - 1) + np.float32(0.5)).astype(np.uint16)
    encoded = _tone_table(phone.contrast)[steps]
    if phone.sharpening:
        soft = np.asarray(cv2.GaussianBlur(encoded, (0, 0), 1.2), dtype=np.float32)
        encoded = encoded + np.float32(phone.sharpening) * (encoded - soft)
    return (np.clip(encoded, 0.0, 1.0) * np.float32(255.0) + np.float32(0.5)).astype(np.uint8)


def _to_output(phone: Phone, illuminant_name: str) -> NDArray[np.float64]:
    """(3, 3) from balanced camera RGB to linear RGB of the file: balance, colours, saturation, primaries."""
    luminance = rgb_to_xyz_matrix(SRGB_PRIMARIES)[1]
    saturate = phone.saturation * np.eye(3) + (1.0 - phone.saturation) * np.tile(luminance, (3, 1))
    to_file = np.linalg.inv(rgb_to_xyz_matrix(PRIMARIES[phone.colour_profile])) @ rgb_to_xyz_matrix(
        SRGB_PRIMARIES
    )
    balance = np.diag(phone.white_balance_error)
    combined: NDArray[np.float64] = (
        to_file @ saturate @ colour_matrix(phone.sensor, illuminant_name) @ balance
    )
    return combined
