"""Keep a C library that writes its complaints straight to stderr from reaching the user."""

import os
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress

STDERR = 2

_STDERR_LOCK = threading.RLock()


@contextmanager
def silent_stderr() -> Iterator[None]:
    """Send file descriptor 2 of the whole process nowhere, and bring it back.

    Only for libtiff and OpenCV's libpng, whose error handlers cannot be reached from Python. What other
    threads write to stderr in this moment is lost, so hold it for one decoding at a time; one thread at a
    time passes. Does nothing where there is no stderr.
    """
    with _STDERR_LOCK:
        yield from _silenced()


def _silenced() -> Iterator[None]:
    """Do it, for one thread."""
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
