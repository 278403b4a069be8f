"""A command that runs until it is stopped: signals are noted as they come, and acted upon at a safe place.

Python runs a handler wherever the main thread happens to be. One that raises inside a finalizer is not heard,
and one that takes a lock which the main thread holds waits for ever; so these only note.
"""

import signal
import time
from types import FrameType
from typing import Final, Self

from dyecast_api.exit_status import ENDED_BY_TERMINATE, STOPPED_BY_CTRL_C

STATUS: Final = {signal.SIGTERM: ENDED_BY_TERMINATE, signal.SIGINT: STOPPED_BY_CTRL_C}
"""Exit status by the signal that stopped the command."""

LOOK_SECONDS: Final = 0.2
"""How often the main thread looks whether it was told to stop."""


class ToldToStop:
    """Notes the first signal that tells this process to stop; make it in the main thread."""

    def __init__(self) -> None:
        self.status: int | None = None

    def listen(self) -> Self:
        """Take the place of the handlers of both signals from now on."""
        for number in STATUS:
            signal.signal(number, self._note)
        return self

    def wait(self) -> int:
        """Return the exit status once told to stop."""
        while self.status is None:
            time.sleep(LOOK_SECONDS)
        return self.status

    def _note(self, number: int, _frame: FrameType | None) -> None:
        if self.status is None:
            self.status = STATUS[signal.Signals(number)]
