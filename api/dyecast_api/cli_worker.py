"""The command `dyecast worker`: inspecting what waits, on the server's computer or on another one."""

from typing import Annotated

import typer

from dyecast_api.command_settings import command_settings
from dyecast_api.terminal import print_result
from dyecast_api.told_to_stop import ToldToStop


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
        workforce, told = Workforce(engine, place, count), ToldToStop().listen()
        try:
            workforce.start()
            print_result(f"{count} at work. Stop with Ctrl-C.")
            status = told.wait()
        finally:
            workforce.stop()
            engine.dispose()
    raise SystemExit(status)
