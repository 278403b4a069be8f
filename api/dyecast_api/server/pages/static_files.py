"""Styles and scripts: a fixed list under one fingerprint, so that browsers keep them for good."""

import hashlib
from functools import cache
from importlib.resources import files
from typing import Final

from fastapi import APIRouter, Response

from dyecast_shared.request_errors import NotFound

router = APIRouter()

SOURCES: Final = {
    "report.css": ("dyecast_api", "report_files", "text/css; charset=utf-8"),
    "shop.css": ("dyecast_api.server.pages", "static", "text/css; charset=utf-8"),
    "bench.js": ("dyecast_api.server.pages", "static", "text/javascript; charset=utf-8"),
    "waiting_photos.js": ("dyecast_api.server.pages", "static", "text/javascript; charset=utf-8"),
    "upload.js": ("dyecast_api.server.pages", "static", "text/javascript; charset=utf-8"),
    "follow.js": ("dyecast_api.server.pages", "static", "text/javascript; charset=utf-8"),
    "viewfinder.js": ("dyecast_api.server.pages", "static", "text/javascript; charset=utf-8"),
    "glance.js": ("dyecast_api.server.pages", "static", "text/javascript; charset=utf-8"),
    "local_times.js": ("dyecast_api.server.pages", "static", "text/javascript; charset=utf-8"),
    "wipe.js": ("dyecast_api.server.pages", "static", "text/javascript; charset=utf-8"),
    "endless_list.js": ("dyecast_api.server.pages", "static", "text/javascript; charset=utf-8"),
    "pair.js": ("dyecast_api.server.pages", "static", "text/javascript; charset=utf-8"),
}
"""Package, folder and media type of each file that is served."""

CACHE: Final = "public, max-age=31536000, immutable"


@router.get("/static/{fingerprint}/{name}")
def static_file(fingerprint: str, name: str) -> Response:
    """Return a file; scripts import each other by relative names, so all share one fingerprint."""
    if name not in SOURCES or fingerprint != fingerprint_of_all():
        raise NotFound("There is no such file.")
    return Response(content_of(name), media_type=SOURCES[name][2], headers={"Cache-Control": CACHE})


def static_address(name: str) -> str:
    """Return the address of a file."""
    return f"/static/{fingerprint_of_all()}/{name}"


@cache
def content_of(name: str) -> bytes:
    """Return a file's bytes."""
    package, folder, _ = SOURCES[name]
    return (files(package) / folder / name).read_bytes()


@cache
def fingerprint_of_all() -> str:
    """Return a fingerprint that changes when any file does."""
    return hashlib.sha256(b"".join(content_of(name) for name in SOURCES)).hexdigest()[:16]
