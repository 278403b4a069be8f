"""Being told to stop, and hearing it.

Python runs a signal's handler wherever the main thread happens to be. What it raises inside a finalizer is
swallowed, and a lock that the main thread holds already makes it wait for ever. A command that runs until it
is stopped therefore only notes the signal (`ToldToStop`); the others raise, and raise again when that was
swallowed (`stop_again`).
"""

import signal
import sys
import time
from types import FrameType
from typing import TYPE_CHECKING, Final, Self

from dyecast_api.exit_status import ENDED_BY_TERMINATE, STOPPED_BY_CTRL_C

STATUS: Final = {signal.SIGTERM: ENDED_BY_TERMINATE, signal.SIGINT: STOPPED_BY_CTRL_C}
"""Exit status by the signal that stopped the command."""

if TYPE_CHECKING:
    from sys import UnraisableHookArgs

AGAIN_SECONDS: Final = 0.05
"""After how long a stop that was swallowed comes again: the finalizer is over by then."""

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


def stop_again(swallowed: "UnraisableHookArgs") -> None:
    """Let a stop that Python swallowed come again a little later; set it as `sys.unraisablehook`."""
    stop = swallowed.exc_value
    if not isinstance(stop, KeyboardInterrupt | SystemExit):
        sys.__unraisablehook__(swallowed)
        return
    kind, words = type(stop), stop.args

    def again(_number: int, _frame: FrameType | None) -> None:
        raise kind(*words)

    signal.signal(signal.SIGALRM, again)
    signal.setitimer(signal.ITIMER_REAL, AGAIN_SECONDS)
