"""Keep a C library that writes its complaints straight to stderr from reaching the user."""

import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress

STDERR = 2


@contextmanager
def silent_stderr() -> Iterator[None]:
    """Send file descriptor 2 of the whole process nowhere, and bring it back.

    Only for libtiff and OpenCV's libpng, whose error handlers cannot be reached from Python. What other
    threads write to stderr in this moment is lost, so hold it for one decoding at a time. Does nothing where
    there is no stderr.
    """
    try:
        kept = os.dup(STDERR)
    except OSError:
        yield
        return
    try:
        with open(os.devnull, "wb") as nowhere:  # noqa: PTH123  (a device, not a path of ours)
            os.dup2(nowhere.fileno(), STDERR)
        yield
    finally:
        with suppress(OSError):
            os.dup2(kept, STDERR)
        os.close(kept)
