"""Small picture files that tests write."""

import struct
import zlib
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image


def gradient(width: int = 128, height: int = 96) -> NDArray[np.uint8]:
    """Draw a smooth scene, different in every corner, (height, width, 3)."""
    across, down = np.meshgrid(np.linspace(0, 1, width), np.linspace(0, 1, height))
    return np.rint(np.dstack([40 + 180 * across, 60 + 150 * down, 200 - 120 * across * down])).astype(
        np.uint8
    )


def chunk(kind: bytes, content: bytes) -> bytes:
    """Write one PNG chunk."""
    return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))


def with_chunk(path: Path, kind: bytes, content: bytes) -> None:
    """Write the scene as PNG with one more chunk behind its header."""
    Image.fromarray(gradient()).save(path, format="PNG")
    data = path.read_bytes()
    path.write_bytes(data[:33] + chunk(kind, content) + data[33:])


def png_with_header(width: int, height: int) -> bytes:
    """Write a PNG of a hundred bytes that claims any size."""
    header = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + header + chunk(b"IDAT", zlib.compress(b"\0" * 64)) + chunk(b"IEND", b"")
