"""Give a decoded picture's code values their meaning: through its profile, or as sRGB, said aloud."""

from dataclasses import dataclass
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray

from dyecast_inspect.colour_conversion import to_wide, wide_encoding
from dyecast_inspect.colour_profile import IccProfile, encoding_from_icc, parse_profile
from dyecast_inspect.decode_picture import CodeValues, Raster
from dyecast_inspect.picture_header import SRGB_CODING_POINTS, PictureHeader
from dyecast_shared.encodings import display_p3_encoding, srgb_encoding
from dyecast_shared.errors import ProfileUnusable
from dyecast_shared.photo import ColourEncoding

EXIF_SRGB = 1
EXIF_UNCALIBRATED = 65535
"""Values of EXIF ColorSpace. Source: EXIF 2.32 (CIPA DC-008-2019), tag 0xA001."""

UNSPECIFIED = 2
P3_PRIMARIES = 12
HDR_TRANSFERS = (16, 18)
"""Coding points: nothing said; SMPTE EG 432-1; PQ and HLG. Source: ITU-T H.273, tables 2 and 3."""


@dataclass(frozen=True, slots=True, eq=False)
class ColouredPixels:
    """(H, W, 3) code values, what they mean, and sentences about how that was settled."""

    codes: CodeValues
    encoding: ColourEncoding
    notes: tuple[str, ...]


def settle_colours(raster: Raster, header: PictureHeader) -> ColouredPixels:
    """Return RGB code values with their encoding.

    A sound profile is obeyed; without one, or with a damaged one, the picture is taken for sRGB and a note
    says so. Grey becomes three equal channels. Raises ProfileUnusable for CMYK without a sound profile,
    because ink amounts alone have no colour.
    """
    grey = ("The picture is grey: it holds no colour to judge.",) if raster.codes.shape[2] == 1 else ()
    profile_bytes = header.icc_profile
    if profile_bytes is None:
        settled = _without_profile(raster, header)
    else:
        try:
            settled = _through_profile(raster, profile_bytes, parse_profile(profile_bytes))
        except ProfileUnusable as failure:
            settled = _despite_profile(raster, header, failure)
    return ColouredPixels(settled.codes, settled.encoding, grey + settled.notes)


def on_white(codes: CodeValues, alpha: NDArray[np.float32] | None) -> CodeValues:
    """Lay (H, W, 3) code values on white by their opacity (H, W), mixing encoded values as viewers do."""
    if alpha is None:
        return codes
    white = np.float32(np.iinfo(codes.dtype).max)
    mixed = white + (codes.astype(np.float32) - white) * alpha[..., np.newaxis]
    return cast(CodeValues, np.rint(mixed).astype(codes.dtype))


def left_out_notes(header: PictureHeader, raster: Raster) -> tuple[str, ...]:
    """Say what of the file was not taken as it is: transparency, further pictures."""
    notes = []
    if raster.alpha is not None:
        notes.append("Transparent parts of the picture were taken for white.")
    if header.frames > 1:
        notes.append("The file holds several pictures; only the first was read.")
    return tuple(notes)


def _through_profile(raster: Raster, profile_bytes: bytes, profile: IccProfile) -> ColouredPixels:
    """Obey a profile: read curves and matrix, or convert. Raises ProfileUnusable when it does not fit."""
    channels = raster.codes.shape[2]
    if (channels == 4) != (profile.colour_space == "CMYK") or (
        channels == 3 and profile.colour_space == "GRAY"
    ):
        raise ProfileUnusable(f"The colour profile {profile.name} is for another kind of pixels.")
    if not profile.needs_conversion:
        encoding = encoding_from_icc(profile_bytes, bits=_bits(raster.codes))
        return ColouredPixels(_three_channels(raster.codes), encoding, ())
    codes = raster.codes if profile.colour_space != "RGB " else _three_channels(raster.codes)
    converted = to_wide(_eight_bits(codes), profile_bytes)
    note = f"Its colours were converted through its profile, {profile.name}."
    return ColouredPixels(converted, wide_encoding(), (note,))


def _without_profile(raster: Raster, header: PictureHeader) -> ColouredPixels:
    """Take a picture without a profile for what it states otherwise, and for sRGB when it states nothing."""
    if raster.codes.shape[2] == 4:
        raise _ink_without_profile(header)
    primaries, transfer = header.coding_points or (UNSPECIFIED, UNSPECIFIED)
    if transfer in HDR_TRANSFERS:
        raise _hdr_without_profile(header)
    if primaries == P3_PRIMARIES:
        encoding = display_p3_encoding(bits=_bits(raster.codes))
        return ColouredPixels(_three_channels(raster.codes), encoding, ())
    if header.coding_points == SRGB_CODING_POINTS:
        return ColouredPixels(_three_channels(raster.codes), srgb_encoding(bits=_bits(raster.codes)), ())
    said = {
        EXIF_SRGB: "The picture carries no colour profile; its EXIF data name sRGB, which was used.",
        EXIF_UNCALIBRATED: "The picture carries no colour profile and its EXIF data say that it is not sRGB; "
        "sRGB was assumed all the same, so its colours may be wrong.",
    }
    note = said.get(header.exif_colour_space or 0, "The picture carries no colour profile; sRGB was assumed.")
    return _as_srgb(raster, note)


def _despite_profile(raster: Raster, header: PictureHeader, failure: ProfileUnusable) -> ColouredPixels:
    """Take a picture with an unusable profile for sRGB and say why."""
    if raster.codes.shape[2] == 4:
        raise _ink_without_profile(header) from failure
    return _as_srgb(raster, f"{failure.message} sRGB was assumed.")


def _as_srgb(raster: Raster, note: str) -> ColouredPixels:
    """Take code values for sRGB, with a note that says so."""
    encoding = srgb_encoding(assumed=True, bits=_bits(raster.codes))
    return ColouredPixels(_three_channels(raster.codes), encoding, (note,))


def _ink_without_profile(header: PictureHeader) -> ProfileUnusable:
    """Build the refusal of a CMYK picture that does not say which inks it means."""
    return ProfileUnusable(
        "The picture is CMYK without a usable colour profile, so its ink amounts have no known colour.",
        advice="Save it as RGB, or with its CMYK profile embedded.",
        file=header.name,
    )


def _hdr_without_profile(header: PictureHeader) -> ProfileUnusable:
    """Build the refusal of a picture whose code values are meant for a high dynamic range display."""
    return ProfileUnusable(
        "The picture is encoded for high dynamic range displays, which dyecast does not measure.",
        advice="Switch the camera to ordinary JPEG or HEIC photos and take it again.",
        file=header.name,
    )


def _bits(codes: NDArray[Any]) -> int:
    """Return the depth of code values, 8 or 16."""
    return 8 * codes.dtype.itemsize


def _eight_bits(codes: CodeValues) -> NDArray[np.uint8]:
    """Round 16-bit code values to 8 bits, white to white."""
    if codes.dtype == np.uint8:
        return codes.astype(np.uint8, copy=False)
    return ((codes.astype(np.uint32) + 128) // 257).astype(np.uint8)


def _three_channels(codes: CodeValues) -> CodeValues:
    """Repeat grey (H, W, 1) as (H, W, 3); colour stays as it is."""
    return cast(CodeValues, np.repeat(codes, 3, axis=2)) if codes.shape[2] == 1 else codes
