"""Walk the chunks of a PNG file without decoding it. Source: PNG specification, third edition, 5.3."""

import zlib
from collections.abc import Iterator

PNG_SIGNATURE = b"\x89PNG\r\n\x1a\n"

PIXEL_CHUNKS = (b"IHDR", b"PLTE", b"IDAT", b"IEND")

SMALL_CHUNK_BYTES = 65536
"""Orientation and colour statements are far smaller; a larger chunk of their kind is ignored."""


def chunk_spans(data: bytes) -> Iterator[tuple[bytes, int, int]]:
    """Yield (type, start, end) of each whole chunk; the span includes length, type and checksum."""
    position = len(PNG_SIGNATURE)
    while position + 12 <= len(data):
        end = position + 12 + int.from_bytes(data[position : position + 4], "big")
        if end > len(data):
            return
        yield data[position + 4 : position + 8], position, end
        position = end


def small_chunk(data: bytes, kind: bytes) -> bytes | None:
    """Return the content of the first chunk of a kind, e.g. ``b"eXIf"``, or None."""
    for found, start, end in chunk_spans(data):
        if found == kind and end - start <= SMALL_CHUNK_BYTES:
            return data[start + 8 : end - 4]
    return None


def pixels_intact(data: bytes) -> bool:
    """Tell whether every chunk that the pixels need matches its checksum (5.4: CRC over type and content)."""
    return all(
        zlib.crc32(memoryview(data)[start + 4 : end - 4]) == int.from_bytes(data[end - 4 : end], "big")
        for kind, start, end in chunk_spans(data)
        if kind in PIXEL_CHUNKS
    )


def only_pixels(data: bytes) -> bytes:
    """Return the PNG reduced to what its pixels need: header, palette, pixel data, end."""
    kept = [data[start:end] for kind, start, end in chunk_spans(data) if kind in PIXEL_CHUNKS]
    return PNG_SIGNATURE + b"".join(kept)
