"""Writing a file whole or not at all."""

import contextlib
from pathlib import Path
from uuid import uuid4

from dyecast_shared.errors import OutputFailed


def write_atomically(path: Path, content: bytes) -> None:
    """Write `content` to `path` by way of a new file in the same folder, renamed when complete.

    A file that stood there before stays as it was until the rename.

    Raises
    ------
    OutputFailed
        The folder is missing, may not be written to, or the disk is full; nothing is left behind.
    """
    part = path.with_name(f".{uuid4().hex}.part")
    try:
        with part.open("xb") as stream:
            stream.write(content)
        part.replace(path)
    except OSError as problem:
        reason = problem.strerror or "unknown reason"
        raise OutputFailed(f"The file could not be written ({reason}).", file=path.name) from problem
    finally:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)
