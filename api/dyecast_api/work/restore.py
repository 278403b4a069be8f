"""Put a backup back: checked first, built beside the data folder, and moved into its place as a whole."""

import secrets
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from dyecast_api.profile_place import PROFILE_NAME
from dyecast_api.store.data_folder import DATABASE_NAME, FILES_FOLDER
from dyecast_api.store.data_lock import data_alone
from dyecast_api.store.database import open_database
from dyecast_api.work.backup_archive import (
    DATABASE,
    PROFILE,
    Manifest,
    checked_manifest,
    opened_archive,
    place_of,
)
from dyecast_api.work.file_store import open_file_store
from dyecast_shared.errors import OutputFailed


@dataclass(frozen=True, slots=True)
class Restored:
    """What was restored, and where the folder that stood there before went."""

    manifest: Manifest
    moved_to: Path | None


def restore_backup(
    backup: Path, folder: Path, *, replace: bool, now: datetime, files: str | None = None
) -> Restored:
    """Restore a backup into a data folder that is missing or empty, or with `replace` in place of another.

    A folder that stood there is moved aside, never deleted. `files` names another place for the pictures.

    Raises
    ------
    BackupInvalid, FileUnreadable
        The backup is damaged, none, or of a newer version; nothing was changed.
    OutputFailed
        The folder is not empty and `replace` was not given, or the disk is full; nothing was changed.
    DataInUse
        A server or worker is using the folder; nothing was changed.
    StoreInvalid, StoreUnavailable
        The database in it cannot be opened, or the files cannot be kept; nothing was changed.

    """
    folder = folder.absolute()
    occupied = folder.exists() and (not folder.is_dir() or any(folder.iterdir()))
    if occupied and not replace:
        raise OutputFailed(
            "There is data in this folder already.",
            advice="Name another one with DYECAST_DATA, or give --replace to move it aside.",
            file=str(folder),
        )
    with data_alone(folder):
        return _restored(backup, folder, now, files, occupied=occupied)


def _restored(backup: Path, folder: Path, now: datetime, files: str | None, *, occupied: bool) -> Restored:
    """Restore a backup into a folder that nobody uses."""
    manifest = checked_manifest(backup)
    with _built_beside(folder) as staging:
        _unpack(backup, manifest, staging, files)
        open_database(f"sqlite:///{staging / DATABASE_NAME}").dispose()  # and bring it up to date
        moved_to = _moved_aside(folder, now) if occupied else None
        try:
            staging.rename(folder)  # over an empty folder, or where there is none
        except OSError:
            if moved_to is not None:
                moved_to.rename(folder)
            raise
    return Restored(manifest, moved_to)


@contextmanager
def _built_beside(folder: Path) -> Iterator[Path]:
    """Lend a folder on the same disk; what is still there at the end is taken away."""
    staging = folder.with_name(f".{folder.name}.{secrets.token_hex(6)}.unfinished")
    try:
        staging.mkdir(parents=True)
        yield staging
    except OSError as problem:
        reason = f"The data folder could not be written ({problem.strerror})."
        raise OutputFailed(reason, file=str(folder)) from problem
    finally:
        shutil.rmtree(staging, ignore_errors=True)


def _unpack(backup: Path, manifest: Manifest, staging: Path, files: str | None) -> None:
    """Write database, profile and files."""
    store = open_file_store(files or staging / FILES_FOLDER)
    with opened_archive(backup) as archive:
        (staging / DATABASE_NAME).write_bytes(archive.read(DATABASE))
        if manifest.profile is not None:
            (staging / PROFILE_NAME).write_bytes(archive.read(PROFILE))
        for sha256 in manifest.files:
            store.keep(archive.read(place_of(sha256)))


def _moved_aside(folder: Path, now: datetime) -> Path:
    """Give the folder that stands in the way another name beside it."""
    aside = folder.with_name(f"{folder.name}.before-{now:%Y%m%d-%H%M%S}")
    number = 1
    while aside.exists():
        number += 1
        aside = folder.with_name(f"{folder.name}.before-{now:%Y%m%d-%H%M%S}-{number}")
    folder.rename(aside)
    return aside
