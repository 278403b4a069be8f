"""ICC profiles of three-primary and grey pictures, read without a colour engine.

Profiles that need more than three curves and a matrix (tables, inks) are only recognised here; see
`colour_conversion` for them. Source: ICC.1:2022 (profile version 4.4), the clause beside each step;
version 2 text descriptions after ICC.1:2001-04, 6.5.17.
"""

import struct
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dyecast_shared.encodings import display_p3_encoding, srgb_encoding
from dyecast_shared.errors import ProfileUnusable
from dyecast_shared.photo import ColourEncoding

PCS_WHITE = np.array([0.9642, 1.0, 0.8249])
"""D50 as the profile connection space states it, ICC.1:2022, 7.2.16."""

WHITE_TOLERANCE = 0.03
"""How far header illuminant and the sum of the primaries may lie from D50, in XYZ with Y = 1. Rounded and
display-measured profiles stay within 0.01; one built for D65 without adaptation is 0.26 off in Z."""

SAME_MATRIX = 0.002
SAME_CURVE = 0.003
"""Greatest difference from the standard's own values at which a profile carries the standard's name:
less than half of an 8-bit code near white, and covers profiles with rounded or tabulated curves."""

_TAG_COUNT_MAX = 200

_NAME_LENGTH_MAX = 60

_LUT_TAGS = (b"A2B0", b"A2B1", b"A2B2", b"D2B0", b"D2B1", b"D2B2", b"D2B3")

_NAME_CHARACTERS = frozenset(" -_.,:()+/")


@dataclass(frozen=True, slots=True, eq=False)
class IccProfile:
    """A profile whose header and tag table hold together.

    Attributes
    ----------
    name
        Its description in plain characters, or ``"unnamed profile"``.
    colour_space
        ICC signature of the device space, e.g. ``"RGB "``, ``"GRAY"``, ``"CMYK"``.
    device_class
        ICC signature of the class, e.g. ``"mntr"``, ``"prtr"``.
    needs_conversion
        True when curves and a matrix do not say what its colours are.
    tags
        Tag signature to the tag's bytes.
    """

    name: str
    colour_space: str
    device_class: str
    needs_conversion: bool
    tags: dict[bytes, bytes]


def parse_profile(profile_bytes: bytes) -> IccProfile:
    """Check header and tag table (ICC.1:2022, 7.2 and 7.3). Raises ProfileUnusable when they are damaged."""
    if len(profile_bytes) < 132 or profile_bytes[36:40] != b"acsp":
        raise ProfileUnusable("The colour profile is damaged: it has no valid header.")
    if np.abs(_xyz_numbers(profile_bytes[68:80]) - PCS_WHITE).max() > WHITE_TOLERANCE:
        raise ProfileUnusable("The colour profile is damaged: its illuminant is not D50.")
    tags = _tag_table(profile_bytes)
    colour_space = profile_bytes[16:20].decode("latin-1")
    by_tables = profile_bytes[20:24] != b"XYZ " or any(tag in tags for tag in _LUT_TAGS)
    return IccProfile(
        name=_description(tags.get(b"desc", b"")),
        colour_space=colour_space,
        device_class=profile_bytes[12:16].decode("latin-1"),
        needs_conversion=colour_space not in ("RGB ", "GRAY") or (colour_space == "RGB " and by_tables),
        tags=tags,
    )


def encoding_from_icc(profile_bytes: bytes, *, bits: int = 8) -> ColourEncoding:
    """Return what code values of a matrix or grey profile mean.

    `bits` is the depth of the code values, 8 or 16. A grey profile gives three equal curves and
    the sRGB primaries, which leave grey at D50 white. Raises ProfileUnusable for a damaged profile and for
    one that `needs_conversion`.
    """
    profile = parse_profile(profile_bytes)
    if profile.needs_conversion:
        raise ProfileUnusable(f"The colour profile {profile.name} holds more than curves and a matrix.")
    if profile.colour_space == "GRAY":
        tables = np.repeat(_curve(profile, b"kTRC", 2**bits)[np.newaxis], 3, axis=0)
        return ColourEncoding(profile.name, False, tables, srgb_encoding().to_xyz_d50)
    tables = np.stack([_curve(profile, tag, 2**bits) for tag in (b"rTRC", b"gTRC", b"bTRC")])
    matrix = np.column_stack([_primary(profile, tag) for tag in (b"rXYZ", b"gXYZ", b"bXYZ")])
    if np.abs(matrix.sum(axis=1) - PCS_WHITE).max() > WHITE_TOLERANCE:
        raise ProfileUnusable(
            f"The primaries of the colour profile {profile.name} do not add up to D50 white."
        )
    if abs(np.linalg.det(matrix)) < 1e-3:
        raise ProfileUnusable(f"The primaries of the colour profile {profile.name} are not independent.")
    return ColourEncoding(_standard_name(tables, matrix) or profile.name, False, tables, matrix)


def _tag_table(profile_bytes: bytes) -> dict[bytes, bytes]:
    """Cut the profile into its tags (7.3); every one has to lie inside the profile."""
    (count,) = struct.unpack_from(">I", profile_bytes, 128)
    if not 0 < count <= _TAG_COUNT_MAX or len(profile_bytes) < 132 + 12 * count:
        raise ProfileUnusable("The colour profile is damaged: its tag table breaks off.")
    tags = {}
    for index in range(count):
        signature, offset, size = struct.unpack_from(">4sII", profile_bytes, 132 + 12 * index)
        if offset + size > len(profile_bytes):
            raise ProfileUnusable("The colour profile is damaged: a tag lies outside of it.")
        tags[signature] = profile_bytes[offset : offset + size]
    return tags


def _xyz_numbers(data: bytes) -> NDArray[np.float64]:
    """Read s15Fixed16 numbers (4.6)."""
    return np.frombuffer(data, dtype=">i4").astype(np.float64) / 65536.0


def _primary(profile: IccProfile, tag: bytes) -> NDArray[np.float64]:
    """Read one primary's XYZ, D50, Y = 1 for white (10.31)."""
    data = profile.tags.get(tag, b"")
    if data[:4] != b"XYZ " or len(data) < 20:
        raise ProfileUnusable(f"The colour profile {profile.name} is damaged: a primary is missing.")
    return _xyz_numbers(data[8:20])


def _curve(profile: IccProfile, tag: bytes, code_values: int) -> NDArray[np.float32]:
    """Tabulate one tone curve: linear light in 0..1 for each code value, float32."""
    data = profile.tags.get(tag, b"")
    codes = np.linspace(0.0, 1.0, code_values)
    if data[:4] == b"curv" and len(data) >= 12:
        linear = _sampled_curve(data, codes)
    elif data[:4] == b"para" and len(data) >= 12:
        linear = _parametric_curve(data, codes)
    else:
        linear = None
    if linear is None or not np.isfinite(linear).all() or linear[-1] < 0.5 or linear[-1] < linear[0] + 0.5:
        raise ProfileUnusable(f"The colour profile {profile.name} is damaged: a tone curve makes no sense.")
    return np.clip(linear, 0.0, 1.0).astype(np.float32)


def _sampled_curve(data: bytes, codes: NDArray[np.float64]) -> NDArray[np.float64] | None:
    """Evaluate a curveType (10.6): identity, one exponent, or samples with straight lines between."""
    (count,) = struct.unpack_from(">I", data, 8)
    if count == 0:
        return codes
    if count > (len(data) - 12) // 2:
        return None
    samples = np.frombuffer(data, dtype=">u2", count=count, offset=12).astype(np.float64)
    if count == 1:
        return np.asarray(codes ** (samples[0] / 256.0))
    return np.interp(codes, np.linspace(0.0, 1.0, count), samples / 65535.0)


def _parametric_curve(data: bytes, codes: NDArray[np.float64]) -> NDArray[np.float64] | None:
    """Evaluate a parametricCurveType (10.18, table 68), function types 0 to 4."""
    (kind,) = struct.unpack_from(">H", data, 8)
    counts = {0: 1, 1: 3, 2: 4, 3: 5, 4: 7}
    if kind not in counts or len(data) < 12 + 4 * counts[kind]:
        return None
    given = [float(each) for each in _xyz_numbers(data[12 : 12 + 4 * counts[kind]])]
    g, a, b, c, d, e, f = given + [0.0] * (7 - len(given))
    if kind == 0:
        a, d = 1.0, 0.0
    elif a == 0.0:
        return None
    elif kind in (1, 2):
        c, d, e, f = 0.0, -b / a, c, c
    power = np.maximum(a * codes + b, 0.0) ** g + e
    return np.asarray(np.where(codes >= d, power, c * codes + f))


def _description(data: bytes) -> str:
    """Read a profile's name: multiLocalizedUnicodeType (10.15) or version 2 textDescriptionType."""
    text = ""
    if data[:4] == b"desc" and len(data) >= 12:
        (length,) = struct.unpack_from(">I", data, 8)
        text = data[12 : 12 + min(length, 4 * _NAME_LENGTH_MAX)].decode("latin-1").split("\0")[0]
    elif data[:4] == b"mluc" and len(data) >= 28:
        length, offset = struct.unpack_from(">II", data, 20)
        text = data[offset : offset + min(length, 4 * _NAME_LENGTH_MAX)].decode("utf-16-be", errors="ignore")
    plain = "".join(each for each in text if each.isalnum() or each in _NAME_CHARACTERS)
    return plain.strip()[:_NAME_LENGTH_MAX] or "unnamed profile"


def _standard_name(tables: NDArray[np.float32], matrix: NDArray[np.float64]) -> str | None:
    """Return "sRGB" or "Display P3" when curves and primaries are theirs, whatever the profile is called."""
    every = (tables.shape[1] - 1) // 255
    for standard in (srgb_encoding(), display_p3_encoding()):
        same_primaries = np.abs(matrix - standard.to_xyz_d50).max() < SAME_MATRIX
        if same_primaries and np.abs(tables[:, ::every] - standard.decode_tables).max() < SAME_CURVE:
            return standard.name
    return None
