"""Writing results whole or not at all.

A file is written under another name in the same folder, forced to the disk, and only then given its own
name. Whatever goes wrong before that (a full disk, a folder that may not be written to, Ctrl-C), the file
that stood there before stays as it was and nothing half-written is left behind.
"""

import contextlib
import os
import secrets
from collections.abc import Iterator, Mapping
from pathlib import Path

from dyecast_shared.errors import OutputFailed


@contextlib.contextmanager
def made_folder(folder: Path) -> Iterator[Path]:
    """Make a folder and those above it, unless they are there; take the new ones away if the block fails.

    Only folders made here, and only while they are empty, are taken away.

    Raises OutputFailed when a folder cannot be made, e.g. because a file stands in the way.
    """
    missing = [above for above in (folder, *folder.parents) if not above.exists()]
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as problem:
        raise _output_failed("The folder could not be made", folder, problem) from problem
    try:
        yield folder
    except BaseException:
        with contextlib.suppress(OSError):
            for made in missing:
                made.rmdir()
        raise


def write_file(path: Path, content: bytes) -> None:
    """Write `content` to `path`, whole or not at all; raise OutputFailed when it cannot be written."""
    write_together({path: content})


def write_together(contents: Mapping[Path, bytes]) -> None:
    """Write several files; none gets its own name before all of them are complete.

    Raises OutputFailed when one of them cannot be written.
    """
    with contextlib.ExitStack() as unfinished:
        for path, content in contents.items():
            unfinished.enter_context(replaced_when_complete(path)).write_bytes(content)


@contextlib.contextmanager
def replaced_when_complete(path: Path) -> Iterator[Path]:
    """Lend a name in the same folder to write to; give the file its own name when the block ends well.

    The lent name has the suffix of `path`, so that a writer that goes by the suffix writes the right kind.

    Raises
    ------
    OutputFailed
        The folder is missing or may not be written to, `path` is no ordinary file, or the disk is full.

    """
    _check_replaceable(path)
    unfinished = path.with_name(f".{path.stem[:60]}.{secrets.token_hex(6)}.unfinished{path.suffix}")
    try:
        yield unfinished
        _force_to_disk(unfinished)
        unfinished.replace(path)
        _force_folder_to_disk(path.parent)
    except OSError as problem:
        raise _output_failed("The file could not be written", path, problem) from problem
    finally:
        with contextlib.suppress(OSError):
            unfinished.unlink()


def _check_replaceable(path: Path) -> None:
    """Refuse devices, pipes and folders, which a rename would fail on or destroy."""
    if path.exists() and not path.is_file():
        raise OutputFailed(
            "This is not an ordinary file, so it was not written to.",
            advice="Choose another name.",
            file=str(path),
        )


def _force_to_disk(file: Path) -> None:
    """Wait until the file's content is on the disk; OSError when it does not fit."""
    descriptor = os.open(file, os.O_RDWR)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def _force_folder_to_disk(folder: Path) -> None:
    """Make the new name last through a power cut, where the file system can do that."""
    with contextlib.suppress(OSError):
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)


def _output_failed(what: str, path: Path, problem: OSError) -> OutputFailed:
    return OutputFailed(f"{what} ({problem.strerror or 'unknown reason'}).", file=str(path))
