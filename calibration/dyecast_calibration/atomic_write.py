"""Writing a file whole or not at all."""

import contextlib
import os
import tempfile
from pathlib import Path

from dyecast_shared.errors import OutputFailed


def write_atomically(path: Path, content: bytes) -> None:
    """Write `content` to `path` by way of a temporary file in the same folder, renamed when complete.

    A file that stood there before stays as it was until the rename.

    Raises
    ------
    OutputFailed
        The folder is missing, may not be written to, or the disk is full; nothing is left behind.
    """
    temporary: Path | None = None
    try:
        descriptor, name = tempfile.mkstemp(prefix=f".{path.name}.", suffix=".part", dir=path.parent)
        temporary = Path(name)
        with os.fdopen(descriptor, "wb") as stream:
            stream.write(content)
        temporary.chmod(0o666 & ~_process_umask())
        temporary.replace(path)
    except OSError as problem:
        _discard(temporary)
        reason = problem.strerror or "unknown reason"
        raise OutputFailed(f"The file could not be written ({reason}).", file=path.name) from problem
    except BaseException:
        _discard(temporary)
        raise


def _process_umask() -> int:
    """Return the permissions new files are denied; reading it means setting it for a moment."""
    mask = os.umask(0o022)
    os.umask(mask)
    return mask


def _discard(temporary: Path | None) -> None:
    if temporary is not None:
        with contextlib.suppress(OSError):
            temporary.unlink()
