"""The command `dyecast worker`: inspecting what waits, on the server's computer or on another one."""

import os
import threading
from typing import Annotated, Final

import typer

from dyecast_api.terminal import print_result

BROKER_VARIABLE: Final = "DYECAST_BROKER_URL"
"""Environment variable with the address of RabbitMQ, `amqp://…`; without it workers look for themselves."""


def worker(
    count: Annotated[int, typer.Option(min=1, max=64, help="Inspections at the same time.")] = 1,
) -> None:
    """Inspect photos that wait, until stopped; each inspection in hand is finished first."""
    from dyecast_api.store.data_folder import database_url
    from dyecast_api.store.database import open_database
    from dyecast_api.work.file_store import files_place
    from dyecast_api.work.worker_process import WorkPlace
    from dyecast_api.work.workforce import Workforce

    engine = open_database(database_url())
    place = WorkPlace(database_url(), files_place(), os.environ.get(BROKER_VARIABLE) or None)
    workforce = Workforce(engine, place, count)
    try:
        workforce.start()
        print_result(f"{count} at work. Stop with Ctrl-C.")
        threading.Event().wait()
    finally:
        workforce.stop()
        engine.dispose()
