"""How a command ends when something goes wrong: a sentence on standard error and an exit status."""

import os
import traceback
from typing import Any, Final

import typer
from typer.core import TyperGroup

from dyecast_api.command_words import command_words
from dyecast_api.exit_status import READER_GONE, STOPPED_BY_CTRL_C, TROUBLE
from dyecast_api.printable_text import printable
from dyecast_api.terminal import forget_standard_output, print_trouble
from dyecast_shared.errors import DyecastError

TRACEBACK_VARIABLE: Final = "DYECAST_TRACEBACK"
"""Environment variable that, when not empty, adds the traceback to the message about an unforeseen error."""


class CalmGroup(TyperGroup):
    """A group of commands whose errors reach the user as sentences, never as tracebacks."""

    def invoke(self, ctx: Any) -> Any:  # noqa: ANN401 (typer's context moved between versions)
        """Run a command; turn what it raises into a message and an exit status."""
        try:
            return super().invoke(ctx)
        except KeyboardInterrupt:
            status = STOPPED_BY_CTRL_C
        except BrokenPipeError:
            forget_standard_output()
            status = READER_GONE
        except DyecastError as error:
            print_trouble(printable(f"dyecast: {error} {command_words(error)}".rstrip()))
            status = TROUBLE
        except Exception as error:
            if hasattr(error, "exit_code"):  # how typer itself says "stop here" or "wrong usage"
                raise
            print_trouble(unforeseen_text(error))
            status = TROUBLE
        raise typer.Exit(status)


def unforeseen_text(error: Exception) -> str:
    """Return the message about an error nobody foresaw: a fault in dyecast."""
    told = f"dyecast: Something went wrong inside dyecast ({type(error).__name__}: {error})."
    if os.environ.get(TRACEBACK_VARIABLE):
        return f"{told}\n{''.join(traceback.format_exception(error)).rstrip()}"
    return f"{told} This is a fault in dyecast; {TRACEBACK_VARIABLE}=1 shows where."
