"""The one file of a backup: what is in it, and how it is checked.

A zip archive: `manifest.json`, the database `shop.sqlite3`, every kept file as `files/SHA-256`, and the shop
profile if there is one. Everything is named with its SHA-256, so a backup can be checked without trusting it.
"""

import hashlib
import json
import sqlite3
import tempfile
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Final

from dyecast_shared.errors import BackupInvalid, FileUnreadable

FORMAT: Final = "dyecast-backup"
FORMAT_VERSION: Final = 1
"""Grows when a backup can no longer be restored by an older dyecast."""

MANIFEST: Final = "manifest.json"
DATABASE: Final = "shop.sqlite3"
PROFILE: Final = "shop-profile.json"

BLOCK_BYTES: Final = 1024 * 1024


@dataclass(frozen=True, slots=True)
class Manifest:
    """What a backup holds.

    Attributes
    ----------
    made_at, software
        When and by which version, ISO 8601.
    database, profile
        SHA-256 of the database and of the shop profile; the latter may be missing.
    files
        SHA-256 of every file.
    missing
        SHA-256 of files that were not in the store, or damaged there, when the backup was made.
    """

    made_at: str
    software: str
    database: str
    profile: str | None
    files: tuple[str, ...]
    missing: tuple[str, ...] = ()
    format: str = FORMAT
    format_version: int = FORMAT_VERSION

    def to_json(self) -> str:
        """Return the manifest as a backup holds it."""
        return json.dumps(asdict(self), indent=1)


def place_of(sha256: str) -> str:
    """Return a file's name in the archive."""
    return f"files/{sha256}"


@contextmanager
def opened_archive(path: Path) -> Iterator[zipfile.ZipFile]:
    """Open a backup for reading; raise BackupInvalid when it is none or breaks off, FileUnreadable."""
    try:
        with zipfile.ZipFile(path) as archive:
            yield archive
    except OSError as problem:
        raise FileUnreadable(f"The backup cannot be read ({problem.strerror}).", file=path.name) from problem
    except (zipfile.BadZipFile, zlib.error, KeyError, EOFError, NotImplementedError) as problem:
        raise BackupInvalid("The file is no backup of dyecast, or is damaged.", file=path.name) from problem


def checked_manifest(path: Path) -> Manifest:
    """Check every part of a backup and return what it holds.

    Raises BackupInvalid when a part is missing or is not what the manifest says, or the database is damaged.
    """
    with opened_archive(path) as archive:
        manifest = _manifest(archive, path.name)
        parts = {DATABASE: manifest.database, **{place_of(sha256): sha256 for sha256 in manifest.files}}
        if manifest.profile is not None:
            parts[PROFILE] = manifest.profile
        for part, sha256 in parts.items():
            if _sha256_of(archive, part) != sha256:
                raise BackupInvalid(f"Its part {part} is damaged.", file=path.name)
        _check_database(archive, path.name)
    return manifest


def _manifest(archive: zipfile.ZipFile, name: str) -> Manifest:
    """Read the manifest; raise BackupInvalid when it is none, or of a newer version."""
    try:
        record: dict[str, Any] = json.loads(archive.read(MANIFEST))
        version = record["format_version"]
        if record["format"] != FORMAT or not isinstance(version, int):
            raise ValueError(FORMAT)
        if version > FORMAT_VERSION:
            raise BackupInvalid("A newer version of dyecast made this backup.", advice="Update.", file=name)
        return Manifest(**{**record, "files": tuple(record["files"]), "missing": tuple(record["missing"])})
    except (ValueError, TypeError, KeyError) as problem:
        raise BackupInvalid("The file is no backup of dyecast.", file=name) from problem


def _sha256_of(archive: zipfile.ZipFile, part: str) -> str:
    digest = hashlib.sha256()
    with archive.open(part) as stream:
        while block := stream.read(BLOCK_BYTES):
            digest.update(block)
    return digest.hexdigest()


def _check_database(archive: zipfile.ZipFile, name: str) -> None:
    """Let SQLite look through the whole database; raise BackupInvalid when it finds anything amiss."""
    with tempfile.TemporaryDirectory(prefix="dyecast-") as folder:
        extracted = Path(archive.extract(DATABASE, folder))
        try:
            with closing(sqlite3.connect(extracted)) as connection:
                found = connection.execute("PRAGMA integrity_check").fetchone()[0]
                dangling = connection.execute("PRAGMA foreign_key_check").fetchall()
        except sqlite3.DatabaseError as problem:
            raise BackupInvalid("Its database is damaged.", file=name) from problem
    if found != "ok" or dangling:
        raise BackupInvalid("Its database contradicts itself.", file=name)
