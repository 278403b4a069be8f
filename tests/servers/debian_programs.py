"""Programs of Debian packages that tests start servers from, and the temporary places these run in."""

import os
import pwd
import shutil
import socket
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

DEMANDED = "DYECAST_TEST_SERVERS"
"""Environment variable: `1` makes a missing program a failure instead of a skipped test."""


def needed_program(name: str, package: str, *places: Path) -> Path:
    """Return where a program lies; skip the test, or fail it if servers are demanded, without it."""
    found = next((place / name for place in places if (place / name).is_file()), None)
    found = found or (Path(there) if (there := shutil.which(name)) else None)
    if found is not None:
        return found
    message = f"there is no {name}; on Debian: apt-get install {package}"
    if os.environ.get(DEMANDED) == "1":
        pytest.fail(message)
    pytest.skip(message)


def user_to_run_as(name: str) -> str | None:
    """Return the unprivileged user that a server runs as when the tests run as root, else None."""
    if os.getuid() != 0:
        return None
    return name if any(entry.pw_name == name for entry in pwd.getpwall()) else "nobody"


@contextmanager
def temporary_place(user: str | None) -> Iterator[Path]:
    """Lend a folder that belongs to the user."""
    folder = Path(tempfile.mkdtemp(prefix="dyecast-server-"))
    try:
        if user is not None:
            shutil.chown(folder, user)
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def free_port() -> int:
    """Return a port of this machine that nobody listens on."""
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        return int(listener.getsockname()[1])
