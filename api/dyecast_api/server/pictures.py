"""Pictures from the store as answers that browsers may keep: their content never changes under its name."""

from typing import Final

from fastapi import Request, Response

from dyecast_api.work.file_store import FileStore

CACHE: Final = "private, max-age=31536000, immutable"
"""Kept by the browser alone, for a year; see RFC 9111 and RFC 8246."""

INLINE: Final = ("image/jpeg", "image/png", "image/webp", "image/avif")
"""Types that a browser shows; all others are offered as downloads."""


def picture_answer(
    request: Request, store: FileStore, sha256: str, media_type: str, file_name: str = "picture"
) -> Response:
    """Return a content with its ETag, or 304 when the browser has it; raises FileMissing."""
    tag = f'"{sha256}"'
    headers = {"ETag": tag, "Cache-Control": CACHE}
    if tag in request.headers.get("If-None-Match", ""):
        return Response(status_code=304, headers=headers)
    if media_type not in INLINE:
        headers["Content-Disposition"] = f'attachment; filename="{_plain(file_name)}"'
    return Response(store.read(sha256), media_type=media_type, headers=headers)


def _plain(name: str) -> str:
    """Return a name that a header can carry."""
    return "".join(
        letter if letter.isascii() and (letter.isalnum() or letter in "._-") else "_" for letter in name
    )
