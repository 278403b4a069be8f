"""Copy a shop into one file while it works: the database at one instant, and every file it names."""

import sqlite3
import tempfile
import zipfile
from contextlib import closing
from datetime import datetime
from pathlib import Path

from sqlalchemy import make_url

from dyecast_api.output_files import replaced_when_complete
from dyecast_api.profile_place import PROFILE_NAME
from dyecast_api.store.database import engine_for, reading
from dyecast_api.version import SOFTWARE
from dyecast_api.work.backup_archive import DATABASE, MANIFEST, PROFILE, Manifest, checked_manifest, place_of
from dyecast_api.work.file_store import FileStore, fingerprint
from dyecast_api.work.referenced_files import kept_files, named_files
from dyecast_shared.errors import BadInput, FileMissing, StoreInvalid, StoreUnavailable


def write_backup(target: Path, database: str, store: FileStore, folder: Path, now: datetime) -> Manifest:
    """Back a shop up into one file, check that file, and return what it holds.

    The shop may go on working. Files that are missing or damaged in the store are named in the manifest; the
    rest is saved all the same. `folder` is the data folder, for the shop profile.

    Raises
    ------
    BadInput
        The database is not SQLite: its own tools must copy it.
    StoreInvalid, StoreUnavailable
        There is no database, or it cannot be read.
    OutputFailed
        The file cannot be written; nothing half-written is left.

    """
    source = sqlite_file(database)
    with tempfile.TemporaryDirectory(prefix="dyecast-") as scratch:
        snapshot = Path(scratch) / DATABASE
        _copy_database(source, snapshot)
        must, may = _files_of(snapshot)
        _make_plain(snapshot)
        with replaced_when_complete(target) as unfinished:
            with zipfile.ZipFile(unfinished, "w", zipfile.ZIP_STORED) as archive:
                archive.write(snapshot, DATABASE, zipfile.ZIP_DEFLATED)
                kept, missing = _pack_files(archive, store, must, may)
                if missing:  # what retention dropped in the meantime is not missed
                    missing &= _files_of(source)[0]
                profile = _pack_profile(archive, folder / PROFILE_NAME)
                manifest = Manifest(
                    made_at=now.isoformat(timespec="seconds"),
                    software=SOFTWARE,
                    database=fingerprint(snapshot.read_bytes()),
                    profile=profile,
                    files=tuple(kept),
                    missing=tuple(sorted(missing)),
                )
                archive.writestr(MANIFEST, manifest.to_json())
            return checked_manifest(unfinished)


def sqlite_file(database: str) -> Path:
    """Return the database's file; raise BadInput for a database that is none of SQLite."""
    url = make_url(database)
    if url.get_backend_name() != "sqlite" or not url.database:
        raise BadInput(
            "dyecast backs up and restores SQLite only.",
            advice="Use the database's own tools (pg_dump, pg_restore), and copy the file store beside it.",
        )
    return Path(url.database)


def _copy_database(source: Path, target: Path) -> None:
    """Copy the database as it is at one instant, others writing meanwhile."""
    if not source.is_file():
        raise StoreInvalid("There is no shop to back up yet.", file=source.name)
    try:
        with closing(sqlite3.connect(source)) as original, closing(sqlite3.connect(target)) as copy:
            original.backup(copy)
    except sqlite3.OperationalError as problem:
        raise StoreUnavailable(f"The database could not be copied ({problem}).") from problem
    except sqlite3.DatabaseError as problem:
        raise StoreInvalid("The file is no database of dyecast.", file=source.name) from problem


def _make_plain(database: Path) -> None:
    """Let everything stand in the one file, without the log of writes that a shop at work has beside it."""
    with closing(sqlite3.connect(database)) as connection:
        connection.execute("PRAGMA journal_mode=DELETE")


def _pack_profile(archive: zipfile.ZipFile, profile: Path) -> str | None:
    """Write what the shop has taught, if anything; return its SHA-256."""
    if not profile.is_file():
        return None
    taught = profile.read_bytes()
    archive.writestr(PROFILE, taught)
    return fingerprint(taught)


def _pack_files(
    archive: zipfile.ZipFile, store: FileStore, must: set[str], may: set[str]
) -> tuple[list[str], set[str]]:
    """Write the files that must and that may be in the store; return those written, and those missed."""
    kept: list[str] = []
    missing: set[str] = set()
    for sha256 in sorted(must | may):
        try:
            archive.writestr(place_of(sha256), store.read(sha256))
        except FileMissing:
            missing |= {sha256} & must
        else:
            kept.append(sha256)
    return kept, missing


def _files_of(database: Path) -> tuple[set[str], set[str]]:
    """Return the files that must be in the store, and those that something else names."""
    engine = engine_for(f"sqlite:///{database}")
    try:
        with reading(engine) as connection:
            return kept_files(connection), named_files(connection)
    finally:
        engine.dispose()
