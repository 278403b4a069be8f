"""The command line `dyecast`: what it offers, and how it starts and ends.

Heavy imports wait inside the commands, so that `dyecast --help` answers at once.
"""

import signal
import sys
from types import FrameType
from typing import Annotated

import typer

from dyecast_api.blas_threads import keep_blas_to_one_thread
from dyecast_api.cli_backup import backup, restore
from dyecast_api.cli_batch import batch_app
from dyecast_api.cli_calibrate import calibrate_app
from dyecast_api.cli_card import card, card_values_app
from dyecast_api.cli_demo import demo
from dyecast_api.cli_inspect import inspect
from dyecast_api.cli_plan import plan
from dyecast_api.cli_press import press_app
from dyecast_api.cli_serve import serve, shop_app
from dyecast_api.cli_worker import worker
from dyecast_api.cli_worth import worth
from dyecast_api.command_errors import CalmGroup
from dyecast_api.exit_status import ENDED_BY_TERMINATE
from dyecast_api.terminal import forget_standard_output, let_every_character_through, print_result
from dyecast_api.told_to_stop import stop_again
from dyecast_api.version import SOFTWARE

app = typer.Typer(
    cls=CalmGroup,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
    help="Judge a sublimation pressing from one phone photo: under-pressed, good or over-pressed.",
    epilog="Exit status: 0 all good; 1 judged and not good; 2 trouble, such as a photo to take again.",
)
app.command()(inspect)
app.command()(card)
app.add_typer(card_values_app, name="card-values")
app.add_typer(calibrate_app, name="calibrate")
app.add_typer(press_app, name="press")
app.command()(plan)
app.add_typer(batch_app, name="batch")
app.command()(worth)
app.command()(demo)
app.command()(serve)
app.add_typer(shop_app, name="shop")
app.command()(worker)
app.command()(backup)
app.command()(restore)


@app.command()
def schema() -> None:
    """Print the JSON Schema of the document that `dyecast inspect --json` writes."""
    from dyecast_api.inspection_document import inspection_schema

    print_result(inspection_schema().rstrip())


def _print_version(wanted: bool) -> None:
    if wanted:
        print_result(SOFTWARE)
        raise typer.Exit


@app.callback()
def dyecast(
    version: Annotated[
        bool,
        typer.Option("--version", callback=_print_version, is_eager=True, help="Print the version and exit."),
    ] = False,
) -> None:
    """Judge a sublimation pressing from one phone photo: under-pressed, good or over-pressed."""


def main() -> None:
    """Run the command line and exit with its status."""
    keep_blas_to_one_thread()
    let_every_character_through()
    signal.signal(signal.SIGTERM, _end)
    sys.unraisablehook = stop_again
    try:
        app(prog_name="dyecast")
    finally:
        try:
            sys.stdout.flush()
        except BrokenPipeError:
            forget_standard_output()


def _end(_number: int, _frame: FrameType | None) -> None:
    """Leave as after Ctrl-C, so that unfinished files are taken away."""
    raise SystemExit(ENDED_BY_TERMINATE)
