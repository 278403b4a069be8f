"""Build small ICC profiles for tests: printers with a simple, known behaviour, and raw profile frames."""

import struct
from itertools import product

import numpy as np
from numpy.typing import NDArray

D50 = (0.9642, 1.0, 0.8249)

DARKEST_LIGHTNESS = 19.0
"""CIELAB L* of the test printer's full ink."""


def fixed(*numbers: float) -> bytes:
    """Write s15Fixed16 numbers (ICC.1:2022, 4.6)."""
    return np.rint(np.array(numbers) * 65536.0).astype(">i4").tobytes()


def xyz_tag(*numbers: float) -> bytes:
    """Write an XYZType tag (10.31)."""
    return b"XYZ \0\0\0\0" + fixed(*numbers)


def name_tag(text: str) -> bytes:
    """Write a version 2 textDescriptionType tag."""
    return struct.pack(">4sII", b"desc", 0, len(text) + 1) + text.encode() + b"\0" * 79


def frame(
    space: bytes, tags: dict[bytes, bytes], *, connection: bytes = b"XYZ ", kind: bytes = b"mntr"
) -> bytes:
    """Put a version 2 header and a tag table (7.2, 7.3) around tags."""
    table, body, start = b"", b"", 132 + 12 * len(tags)
    for signature, content in tags.items():
        padded = content + b"\0" * (-len(content) % 4)
        table += struct.pack(">4sII", signature, start + len(body), len(content))
        body += padded
    header = struct.pack(">I4sI4s4s4s", start + len(body), b"\0" * 4, 0x02400000, kind, space, connection)
    header += struct.pack(">6H4s28x", 2020, 1, 1, 0, 0, 0, b"acsp") + fixed(*D50)
    return header.ljust(128, b"\0") + struct.pack(">I", len(tags)) + table + body


def printer_profile(space: bytes = b"CMYK") -> bytes:
    """Build an output profile, ``b"CMYK"`` or ``b"RGB "``, with tables both ways and a small gamut.

    Ink amounts c, m, y in 0..1 make L* = 100 - 27 (c + m + y), a* = 50 (m - c), b* = 50 (y - (c + m) / 2);
    black ink k takes all three towards (19, 0, 0). An RGB device value is 1 - ink.
    """
    channels = len(space.strip())
    device_nodes = np.array(list(product(np.linspace(0.0, 1.0, 5), repeat=channels)))
    to_lab = lut16(channels, 3, 5, lab_codes(printed_lab(device_nodes, space)))
    lab_axes = (
        np.linspace(0.0, 100.0 * 65535 / 65280, 17),
        *[np.linspace(-128.0, 65535 / 256 - 128, 17)] * 2,
    )
    lab_nodes = np.array(list(product(*lab_axes)))
    to_device = lut16(3, channels, 17, np.rint(device_values(lab_nodes, space) * 65535.0))
    tags = {b"desc": name_tag("Test printer"), b"wtpt": xyz_tag(*D50)}
    tags |= dict.fromkeys((b"A2B0", b"A2B1"), to_lab) | dict.fromkeys((b"B2A0", b"B2A1"), to_device)
    return frame(space, tags, connection=b"Lab ", kind=b"prtr")


def printed_lab(device: NDArray[np.float64], space: bytes) -> NDArray[np.float64]:
    """Return the CIELAB that device values (N, channels) print."""
    ink = 1.0 - device if space == b"RGB " else device
    c, m, y = ink[:, :3].T
    lab = np.column_stack([100.0 - 27.0 * (c + m + y), 50.0 * (m - c), 50.0 * (y - (c + m) / 2.0)])
    k = ink[:, 3:4] if ink.shape[1] == 4 else np.zeros((len(ink), 1))
    return np.asarray(lab * (1.0 - k) + k * np.array([DARKEST_LIGHTNESS, 0.0, 0.0]))


def device_values(lab: NDArray[np.float64], space: bytes) -> NDArray[np.float64]:
    """Return the device values (N, channels) that come closest to CIELAB, without black ink."""
    mixing = np.array([[27.0, 27.0, 27.0], [-50.0, 50.0, 0.0], [-25.0, -25.0, 50.0]])
    wanted = np.column_stack([100.0 - lab[:, 0], lab[:, 1], lab[:, 2]])
    ink = np.clip(np.linalg.solve(mixing, wanted.T).T, 0.0, 1.0)
    if space == b"RGB ":
        return np.asarray(1.0 - ink)
    return np.column_stack([ink, np.zeros(len(ink))])


def lab_codes(lab: NDArray[np.float64]) -> NDArray[np.float64]:
    """Encode CIELAB in 16 bits as version 2 does (ICC.1:2001-04, 6.3.4.2)."""
    return np.rint(
        np.column_stack([lab[:, 0] * 652.8, (lab[:, 1] + 128.0) * 256.0, (lab[:, 2] + 128.0) * 256.0])
    )


def lut16(inputs: int, outputs: int, grid: int, codes: NDArray[np.float64]) -> bytes:
    """Write a lut16Type tag (10.10) with straight input and output curves."""
    head = struct.pack(">4sI4B", b"mft2", 0, inputs, outputs, grid, 0)
    head += fixed(1, 0, 0, 0, 1, 0, 0, 0, 1) + struct.pack(">HH", 2, 2)
    straight = np.array([0, 65535], dtype=">u2").tobytes()
    return head + straight * inputs + np.clip(codes, 0, 65535).astype(">u2").tobytes() + straight * outputs
