"""What dyecast tells the shell: the same three answers as `diff`, and the usual ones for being stopped."""

from collections.abc import Iterable
from typing import Final

ALL_GOOD: Final = 0
"""Every piece was judged, and is good."""

NOT_GOOD: Final = 1
"""Every photo was judged; at least one piece is under-pressed or over-pressed."""

TROUBLE: Final = 2
"""Something could not be judged, read or written, or the command was not understood."""

STOPPED_BY_CTRL_C: Final = 130
READER_GONE: Final = 141
ENDED_BY_TERMINATE: Final = 143
"""128 plus the number of the signal (SIGINT 2, SIGPIPE 13, SIGTERM 15): what a shell reports for a stopped
command."""

STATUS_OF_VERDICT: Final = {
    "good": ALL_GOOD,
    "under-pressed": NOT_GOOD,
    "over-pressed": NOT_GOOD,
    "retake": TROUBLE,
}
"""By the values of `dyecast_inspect.inspection.Verdict`."""


def worst_status(verdicts: Iterable[str]) -> int:
    """Return the exit status of several photos: the worst of theirs, 0 for none."""
    return max((STATUS_OF_VERDICT[verdict] for verdict in verdicts), default=ALL_GOOD)
