"""The command `dyecast worker`: inspecting what waits, on the server's computer or on another one."""

import threading
from typing import Annotated, Final

import typer

from dyecast_api.command_settings import command_settings
from dyecast_api.terminal import print_result

LOOK_UP_SECONDS: Final = 0.5
"""How long the main thread sleeps: a signal that comes just before it falls asleep is heard when it wakes,
and never if it slept for good."""


def worker(
    count: Annotated[int, typer.Option(min=1, max=64, help="Inspections at the same time.")] = 1,
) -> None:
    """Inspect photos that wait, until stopped; each inspection in hand is finished first."""
    from dyecast_api.store.data_lock import data_in_use
    from dyecast_api.store.database import open_database
    from dyecast_api.work.worker_process import WorkPlace
    from dyecast_api.work.workforce import Workforce

    settings = command_settings()
    place = WorkPlace(settings.database, settings.files_place, settings.broker_url, folder=str(settings.data))
    with data_in_use(settings.data, settings.database):
        engine = open_database(settings.database)
        workforce = Workforce(engine, place, count)
        try:
            workforce.start()
            print_result(f"{count} at work. Stop with Ctrl-C.")
            while not threading.Event().wait(LOOK_UP_SECONDS):
                pass
        finally:
            workforce.stop()
            engine.dispose()
