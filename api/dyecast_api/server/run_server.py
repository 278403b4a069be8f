"""Running the server: database, files, workers and the application in one process, until it is stopped."""

import signal
import sys
from types import FrameType

import segno
import uvicorn

from dyecast_api.server.addresses import served_address
from dyecast_api.server.app import create_app
from dyecast_api.server.first_start import first_passphrase
from dyecast_api.server.housekeeping import Housekeeping
from dyecast_api.server.request_log import set_up_logging
from dyecast_api.server.settings import ServerSettings
from dyecast_api.store.data_lock import data_in_use
from dyecast_api.store.database import open_database
from dyecast_api.terminal import print_result
from dyecast_api.work.file_store import open_file_store
from dyecast_api.work.worker_process import WorkPlace
from dyecast_api.work.workforce import Workforce

HEADER_SECONDS = 30
"""How long a kept-open connection may be silent, s."""


def run_server(settings: ServerSettings) -> None:
    """Open the shop, start workers, serve until stopped; raises StoreTrouble when that cannot be done."""
    set_up_logging()
    with data_in_use(settings.data, settings.database):
        _run(settings)


def _run(settings: ServerSettings) -> None:
    engine, files = open_database(settings.database), open_file_store(settings.files_place)
    greet(settings, first_passphrase(engine))
    place = WorkPlace(settings.database, settings.files_place, settings.broker_url, folder=str(settings.data))
    workforce = Workforce(engine, place, settings.workers)
    app = create_app(
        settings,
        engine,
        files,
        tell=workforce.tell,
        workers_alive=lambda: len(workforce.process_ids()),
    )
    housekeeping = Housekeeping(engine, files)
    web = uvicorn.Server(uvicorn_settings(app, settings))
    let_a_stop_be_an_ordinary_end(web)
    try:
        workforce.start()
        housekeeping.start()
        web.run()
    finally:
        housekeeping.stop()
        workforce.stop()
        engine.dispose()


def let_a_stop_be_an_ordinary_end(web: uvicorn.Server) -> None:
    """Note a stop that comes before uvicorn listens for it, or that uvicorn repeats after its calm end."""

    def note(_number: int, _frame: FrameType | None) -> None:
        web.should_exit = True

    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, note)


def uvicorn_settings(app: object, settings: ServerSettings) -> uvicorn.Config:
    """Return how uvicorn is to serve: no banner, our own log, a proxy believed only when told to."""
    return uvicorn.Config(
        app,  # type: ignore[arg-type]
        host=settings.host,
        port=settings.port,
        log_config=None,
        access_log=False,
        server_header=False,
        timeout_keep_alive=HEADER_SECONDS,
        proxy_headers=settings.behind_proxy,
        forwarded_allow_ips="*" if settings.behind_proxy else None,
    )


def greet(settings: ServerSettings, passphrase: str | None) -> None:
    """Print the address with its QR code and, on the first start, the passphrase."""
    address = served_address(settings)
    print_result(f"The shop's server: {address}")
    if sys.stdout.isatty():
        segno.make(address, error="m").terminal(compact=True)
    if passphrase is not None:
        print_result(f"The owner's passphrase, shown this once: {passphrase}")
    print_result(
        "Open the address, sign in with the passphrase, and pair phones from there. Stop with Ctrl-C."
    )
