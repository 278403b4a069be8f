"""Who works in a data folder: servers and workers side by side, and whoever replaces the folder alone.

A lock on an open file (flock, as Linux has it) ends with the process that holds it, however it ends.
"""

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from dyecast_shared.errors import DataInUse, StoreUnavailable

LOCK_NAME: Final = "in-use.lock"
"""File in the data folder that is locked; it is empty, and being there says nothing."""


@contextmanager
def data_in_use(folder: Path, database: str) -> Iterator[None]:
    """Work in a data folder beside others; nobody replaces it meanwhile.

    With a `database` (its address) that is none of SQLite nothing is locked: such a folder is not replaced.

    Raises
    ------
    DataInUse
        The folder is being replaced at this moment.
    StoreUnavailable
        The folder cannot be made, or the file in it cannot be written.
    """
    if not database.startswith("sqlite"):
        yield
        return
    try:
        folder.mkdir(parents=True, exist_ok=True)
        descriptor = os.open(folder / LOCK_NAME, os.O_RDWR | os.O_CREAT, 0o600)
    except OSError as problem:
        reason = f"The data folder could not be locked ({problem.strerror})."
        raise StoreUnavailable(reason, file=str(folder)) from problem
    with _locked(descriptor, fcntl.LOCK_SH, folder, "A backup is being put back into the data folder."):
        yield


@contextmanager
def data_alone(folder: Path) -> Iterator[None]:
    """Replace a data folder while nobody works in it; a folder that nobody ever worked in may be missing.

    Raises DataInUse when a server or worker uses it.
    """
    try:
        descriptor = os.open(folder / LOCK_NAME, os.O_RDWR)
    except OSError:
        yield
        return
    with _locked(descriptor, fcntl.LOCK_EX, folder, "A server or worker is using the data folder."):
        yield


@contextmanager
def _locked(descriptor: int, kind: int, folder: Path, otherwise: str) -> Iterator[None]:
    """Hold a lock on an open file, and close the file at the end; raise DataInUse when another is held."""
    try:
        try:
            fcntl.flock(descriptor, kind | fcntl.LOCK_NB)
        except OSError as problem:
            raise DataInUse(otherwise, file=str(folder)) from problem
        yield
    finally:
        os.close(descriptor)
