"""Writing to the terminal: results to standard output, everything else to standard error.

Colour appears only on a terminal, never when NO_COLOR is set, and never alone: the words say the same.
"""

import contextlib
import os
import sys
from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Final, TextIO

if TYPE_CHECKING:
    from rich.progress import Progress, TaskID

BOLD: Final = "1"
RESET: Final = "\x1b[0m"

WORD_COLOURS: Final = {
    "under-pressed": "34",
    "good": "32",
    "over-pressed": "33",
    "retake": "35",
}
"""ANSI colour of each verdict: blue, green, yellow, magenta."""


def print_result(text: str) -> None:
    """Write a result and a line end to standard output at once; BrokenPipeError when nobody reads on."""
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


def print_trouble(text: str) -> None:
    """Write a message and a line end to standard error."""
    sys.stderr.write(text + "\n")
    sys.stderr.flush()


def may_colour(stream: TextIO, environment: Mapping[str, str] = os.environ) -> bool:
    """Tell whether `stream` is a terminal that may be coloured (see no-color.org: NO_COLOR, not empty)."""
    return stream.isatty() and not environment.get("NO_COLOR") and environment.get("TERM") != "dumb"


def in_verdict_colour(text: str, verdict: str) -> str:
    """Return text for standard output, bold and in the verdict's colour where that is allowed."""
    if not may_colour(sys.stdout):
        return text
    return f"\x1b[{BOLD};{WORD_COLOURS[verdict]}m{text}{RESET}"


def let_every_character_through() -> None:
    """Make both streams write what their encoding lacks as an escape instead of failing."""
    for stream in (sys.stdout, sys.stderr):
        with contextlib.suppress(AttributeError, ValueError):
            stream.reconfigure(errors="backslashreplace")  # type: ignore[union-attr]  # a test may put in another stream


def forget_standard_output() -> None:
    """Send standard output nowhere from now on, after its reader went away, so that exiting stays quiet."""
    with contextlib.suppress(OSError, ValueError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, sys.stdout.fileno())
        os.close(nowhere)


class PhotoProgress:
    """A progress line on standard error, shown only on a terminal and gone when the work is done."""

    def __init__(self, photos: int, *, quiet: bool = False) -> None:
        self._bar: Progress | None = None
        self._task: TaskID | None = None
        if sys.stderr.isatty() and not quiet and os.environ.get("TERM") != "dumb":
            self._bar, self._task = _progress_bar(photos)

    def __enter__(self) -> "PhotoProgress":
        if self._bar is not None:
            self._bar.start()
        return self

    def __exit__(self, *_: object) -> None:
        if self._bar is not None:
            self._bar.stop()

    def say(self, stage: str) -> None:
        """Show what is being done now."""
        if self._bar is not None and self._task is not None:
            self._bar.update(self._task, description=stage)

    def photo_done(self) -> None:
        """Count one photo more."""
        if self._bar is not None and self._task is not None:
            self._bar.advance(self._task)

    @contextlib.contextmanager
    def aside(self) -> Iterator[None]:
        """Take the line away while results are written, so that the two do not mix on one terminal."""
        if self._bar is None:
            yield
            return
        self._bar.stop()
        yield
        self._bar.start()


def _progress_bar(photos: int) -> "tuple[Progress, TaskID]":
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, SpinnerColumn, TextColumn

    counting = (BarColumn(bar_width=24), MofNCompleteColumn()) if photos > 1 else ()
    bar = Progress(
        SpinnerColumn("line"),
        *counting,
        TextColumn("{task.description}", markup=False),
        console=Console(stderr=True),
        transient=True,
        redirect_stdout=False,
        redirect_stderr=False,
    )
    return bar, bar.add_task("Reading", total=photos)
