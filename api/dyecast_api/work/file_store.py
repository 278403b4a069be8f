"""Where pictures and profiles are kept: by their content, whole or not at all."""

import hashlib
import os
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Final, Protocol

from dyecast_api.output_files import replaced_when_complete
from dyecast_shared.errors import FileMissing, OutputFailed, StoreUnavailable

_FINGERPRINT: Final = re.compile(r"[0-9a-f]{64}")


class FileStore(Protocol):
    """Keeps contents under the SHA-256 of their bytes, 64 hexadecimal digits."""

    def keep(self, content: bytes) -> str:
        """Keep a content for good before returning its SHA-256; raise StoreUnavailable when that fails.

        Keeping what is kept already changes nothing, but mends a damaged copy.
        """

    def read(self, sha256: str) -> bytes:
        """Return a content; raise FileMissing when it is not there or is no longer what was kept."""

    def has(self, sha256: str) -> bool:
        """Tell whether a content is there, without reading it."""

    def drop(self, sha256: str) -> None:
        """Take a content away, if it is there."""


@dataclass(frozen=True, slots=True)
class LocalFileStore:
    """A folder with one file a content, spread over 256 folders by the first two digits."""

    folder: Path

    def keep(self, content: bytes) -> str:
        """Write, force to the disk, rename, force the folder to the disk; see `FileStore`."""
        sha256 = fingerprint(content)
        path = self.path_of(sha256)
        if self._is_whole(path, content):
            return sha256
        try:
            _make_durably(path.parent)
            with replaced_when_complete(path) as unfinished:
                unfinished.write_bytes(content)
        except (OutputFailed, OSError) as problem:
            reason = problem.message if isinstance(problem, OutputFailed) else f"({problem.strerror})"
            raise StoreUnavailable(f"The file could not be kept. {reason}") from problem
        return sha256

    def read(self, sha256: str) -> bytes:
        """Return a content whose bytes still have this SHA-256; see `FileStore`."""
        try:
            content = self.path_of(sha256).read_bytes()
        except FileNotFoundError as problem:
            raise FileMissing("A file is missing in the store.", file=sha256) from problem
        except OSError as problem:
            reason = f"The file could not be read ({problem.strerror})."
            raise StoreUnavailable(reason, file=sha256) from problem
        return checked(content, sha256)

    def has(self, sha256: str) -> bool:
        """See `FileStore`."""
        return self.path_of(sha256).is_file()

    def drop(self, sha256: str) -> None:
        """See `FileStore`."""
        self.path_of(sha256).unlink(missing_ok=True)

    def path_of(self, sha256: str) -> Path:
        """Return where a content lies; raise FileMissing for what is no SHA-256."""
        return self.folder / relative_place(sha256)

    def remove_unfinished(self, before: float) -> int:
        """Remove what killed processes left half-written before a moment, s since 1970; return how many."""
        left = [path for path in self.folder.glob("*/.*.unfinished*") if path.stat().st_mtime < before]
        for path in left:
            path.unlink(missing_ok=True)
        return len(left)

    def _is_whole(self, path: Path, content: bytes) -> bool:
        """Tell whether the content lies there already, undamaged and with its name on the disk."""
        try:
            whole = path.stat().st_size == len(content) and path.read_bytes() == content
            if whole:
                _force_to_disk(path.parent)
        except OSError:
            return False
        return whole


def open_file_store(place: str | Path) -> FileStore:
    """Return the store in a folder, or behind an address such as `s3://bucket/prefix`."""
    if isinstance(place, str) and "://" in place:
        from dyecast_api.work.object_store import ObjectFileStore

        return ObjectFileStore.at(place)
    return LocalFileStore(Path(place))


def fingerprint(content: bytes) -> str:
    """Return the SHA-256 of a content as 64 hexadecimal digits."""
    return hashlib.sha256(content).hexdigest()


def relative_place(sha256: str) -> str:
    """Return the name of a content within a store; raise FileMissing for what is no SHA-256."""
    if not _FINGERPRINT.fullmatch(sha256):
        raise FileMissing("This is no name of a file in the store.", file=sha256[:80])
    return f"{sha256[:2]}/{sha256}"


def checked(content: bytes, sha256: str) -> bytes:
    """Return a content that is what its name says; raise FileMissing otherwise."""
    if fingerprint(content) != sha256:
        raise FileMissing("A file in the store is damaged.", file=sha256)
    return content


def _make_durably(folder: Path) -> None:
    """Make a folder and those above it; each new name is forced to the disk."""
    if folder.is_dir():
        return
    _make_durably(folder.parent)
    folder.mkdir(exist_ok=True)
    _force_to_disk(folder.parent)


def _force_to_disk(folder: Path) -> None:
    """Make the names in a folder last through a power cut."""
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
