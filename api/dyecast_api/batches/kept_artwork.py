"""An artwork file taken into the shop's store when a batch is started from the command line."""

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from sqlalchemy import Connection, select

from dyecast_api import inspect_stages
from dyecast_api.batches.opened_shop import OpenedShop
from dyecast_api.records.artwork_records import (
    ArtworkRecord,
    NewVersion,
    add_artwork,
    add_version,
    list_artworks,
)
from dyecast_api.store.artwork_tables import artwork_versions
from dyecast_api.store.database import writing
from dyecast_api.work.accept_photo import MEDIA_TYPES, checked_header, plain_name
from dyecast_api.work.file_rows import KeptFile, record_file
from dyecast_shared.errors import FileUnreadable


@dataclass(frozen=True, slots=True)
class KeptArtwork:
    """A version of an artwork: its row's number, the file's name, and its SHA-256 in the store."""

    version_id: int
    name: str
    sha256: str


def keep_artwork(shop: OpenedShop, path: Path, now: datetime) -> KeptArtwork:
    """Keep an artwork unless the shop has the very same file; raises BadInput for one that cannot be used.

    A file of a known name with another content becomes the next version of that artwork.
    """
    inspect_stages.load_inspect_stages().read_artwork(path)
    content = file_bytes(path)
    name = plain_name(path.name)
    media_type = MEDIA_TYPES[checked_header(content, name).container]
    kept = KeptFile(shop.store.keep(content), len(content), media_type)
    with writing(shop.engine) as connection:
        record_file(connection, shop.shop_id, kept, now)
        version = _known_version(connection, shop.shop_id, kept.sha256)
        if version is None:
            _add(connection, shop.shop_id, NewVersion(name, kept.sha256), now)
            version = _known_version(connection, shop.shop_id, kept.sha256)
    return KeptArtwork(version or 0, name, kept.sha256)


def newest_version(artwork: ArtworkRecord) -> KeptArtwork:
    """Return the newest version of an artwork that the shop has."""
    newest = artwork.newest
    return KeptArtwork(newest.id, newest.file_name, newest.file_sha256)


def file_bytes(path: Path) -> bytes:
    """Return a file's bytes; raises FileUnreadable."""
    try:
        return path.read_bytes()
    except OSError as problem:
        raise FileUnreadable(f"The file could not be read ({problem.strerror}).", file=path.name) from problem


def _add(connection: Connection, shop_id: int, version: NewVersion, now: datetime) -> None:
    """Add an artwork named after its file, or the next version of the one of that name."""
    name = Path(version.file_name).stem
    known = {artwork.name: artwork.id for artwork in list_artworks(connection, shop_id, retired=True)}
    if name in known:
        add_version(connection, shop_id, known[name], version, now)
    else:
        add_artwork(connection, shop_id, name, version, now)


def _known_version(connection: Connection, shop_id: int, sha256: str) -> int | None:
    """Return the newest version with this very file."""
    wanted = (
        select(artwork_versions.c.id)
        .where(artwork_versions.c.shop_id == shop_id, artwork_versions.c.file_sha256 == sha256)
        .order_by(artwork_versions.c.id.desc())
    )
    return connection.execute(wanted).scalar()
